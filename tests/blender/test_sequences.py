"""Buttons pressed at random, paint, deletions, changed settings; then all taken back: the scene is as it was."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
import pytest

from support.scene_state import differences, everything

SEQUENCES = 100
STEPS = 10
STAGES = ("prepare_scans", "align_scans", "read_impression", "build_pad", "plan_zones", "cut_regions", "check_load")
# They write files and leave the scene alone (tests of their own); each takes seconds.
FILES = ("export_part", "export_selection", "save_job")
SETTINGS = {  # none that asks for tuning, which takes seconds
    "fit_gap_mm": (0.5, 0.7),
    "blend_steps": (0, 1),
    "writes_stl": (False, True),
}


@pytest.fixture(autouse=True)
def all_is_remembered(inside, monkeypatch):
    """Keep the result of every stage: what is tested is the scene, and aligning anew takes a second."""
    monkeypatch.setattr(inside("core.run.memory"), "_MOST_KEPT", 10_000)


@pytest.fixture(scope="module")
def chances() -> list[tuple[str, Any]]:
    """Return all that can happen: each operator there is, and what the artist does by other means."""
    names = [name for name in dir(bpy.ops.padwright) if name not in FILES]
    own = [("paint", paint), ("delete", delete), ("change", change), ("move", move)]
    # Stages count twice: most of what can be taken back is theirs.
    return [(name, None) for name in [*names, *STAGES]] + 2 * own


def ended(name: str) -> list[str]:
    bpy.ops.ed.undo_push(message=name)
    return [name]


def paint(part: Any, chance: np.random.Generator) -> list[str]:
    if part.pad is None or not part.zones or bpy.context.mode != "OBJECT":
        return []
    name = part.zones[int(chance.integers(len(part.zones)))].name
    group = part.pad.vertex_groups.get(name) or part.pad.vertex_groups.new(name=name)
    painted = chance.integers(len(part.pad.data.vertices), size=200).tolist()
    group.add(painted, float(chance.uniform(0.1, 1.0)), "REPLACE")
    return ended("paint")


def delete(part: Any, chance: np.random.Generator) -> list[str]:
    names = sorted(obj.name for obj in bpy.context.scene.objects)
    if not names or bpy.context.mode != "OBJECT":
        return []
    obj = bpy.data.objects[names[int(chance.integers(len(names)))]]
    with bpy.context.temp_override(selected_objects=[obj], active_object=obj, object=obj):
        done = bpy.ops.object.delete("EXEC_DEFAULT", True, confirm=False)
    return ["delete"] if done == {"FINISHED"} else []


def change(part: Any, chance: np.random.Generator) -> list[str]:
    name = list(SETTINGS)[int(chance.integers(len(SETTINGS)))]
    setattr(part, name, SETTINGS[name][int(chance.integers(2))])
    return ended(name)


def move(part: Any, chance: np.random.Generator) -> list[str]:
    if part.base is None:
        return []
    part.base.location = chance.uniform(-1, 1, 3)
    return ended("move")


def values_for(kind: Any, chance: np.random.Generator, files: dict[str, str]) -> dict[str, Any]:
    """Return a value for each of an operator's own choices."""
    values: dict[str, Any] = {}
    for prop in kind.properties:
        if prop.identifier == "filepath":
            values["filepath"] = files["job" if "toml" in getattr(kind.properties.get("filter_glob"), "default", "")
                                       else "scan"]  # fmt: skip
        elif prop.type == "ENUM" and not prop.is_enum_flag and prop.identifier != "filter_glob" and prop.enum_items:
            values[prop.identifier] = prop.enum_items[int(chance.integers(len(prop.enum_items)))].identifier
    return values


def back_to_object_mode() -> list[str]:
    """Press Tab: in Edit Mode the modeller's own undo knows the curve or mesh alone, nothing of the scene."""
    if not bpy.context.mode.startswith("EDIT"):
        return []
    done = bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode="OBJECT")
    return ["object mode"] if done == {"FINISHED"} else []


def press(what: tuple[str, Any], chance: np.random.Generator, files: dict[str, str]) -> list[str]:
    """Do one thing and return its name when it can be taken back."""
    name, own = what
    if own is not None:
        return own(bpy.context.scene.padwright, chance)
    operator = getattr(bpy.ops.padwright, name)
    kind = operator.get_rna_type()
    is_undoable = "UNDO" in getattr(bpy.types, kind.identifier).bl_options
    try:
        done = operator("EXEC_DEFAULT", True, **values_for(kind, chance, files))
    except RuntimeError as error:  # something is missing and was said; nothing may have changed
        assert "Traceback" not in str(error), error
        return []
    return [name] if done == {"FINISHED"} and is_undoable else []


@pytest.mark.parametrize("seed", range(SEQUENCES))
def test_undo_brings_back_the_scene_after_any_sequence_and_redo_what_was_done(part, chances, job_file, seed):
    chance = np.random.default_rng(seed)
    files = {"job": str(job_file), "scan": str(job_file.parent / "impression.ply")}
    for name in STAGES[: int(chance.integers(len(STAGES) + 1))]:  # begin somewhere on the way
        getattr(bpy.ops.padwright, name)()
    bpy.ops.ed.undo_push(message="begin")
    before = everything()
    pressed = []
    for _ in range(STEPS):
        pressed += press(chances[int(chance.integers(len(chances)))], chance, files)
        pressed += back_to_object_mode()
    after = everything()
    for _ in pressed:
        bpy.ops.ed.undo()
    assert differences(everything(), before) == [], pressed
    for _ in pressed:
        bpy.ops.ed.redo()
    assert differences(everything(), after) == [], pressed
