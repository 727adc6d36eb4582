"""What stands in the scene: which stage is done, what is missing before the next, and the objects that show results."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple
from zlib import crc32

import bpy

from ..core.base.notes import Weight, heaviest_first, weight_of
from ..core.base.text import counted
from ..core.run import stages
from ..core.run.stages import stage_of
from . import job_places, reporting
from .body import lacking, lying
from .mats import mat_in_job
from .pad import drawn
from .read_places import FOLDED, read_by_stages, resting_stages


class Written(NamedTuple):
    """Files that were exported: of which scene's part, with which inputs, and what was said of them."""

    scene: int
    number: str
    inputs: str
    said: str


running: list[tuple[float, str]] = []  # share done and what is being done, of the long work in the window
written: list[Written] = []  # of the part that was exported last
at_work: list[str] = []  # the stage it is for, or "export"
_settings_of_now: list[dict[str, str]] = []
COLLECTION = "Padwright"
_OF_ZONES = ("zones", "regions", "folds", "load", "shape")  # stages that need the pad and its zones
STAGES = tuple(stage.name for stage in stages.STAGES)
UNFOLDED = ("regions",)  # one whose result nobody looks at there: the part is one solid
TITLES = {stage.name: stage.title for stage in stages.STAGES}


@contextmanager
def nothing_changes() -> Iterator[None]:
    """Work out the settings once for all that is asked of them in here: for drawing, which only reads."""
    _settings_of_now.append({})
    try:
        yield
    finally:
        _settings_of_now.pop()


def all_settings(part: Any, last: str = STAGES[-1]) -> dict[str, str]:
    """Return for each stage up to the last a text that changes when a setting of it, or of one before it, changes."""
    if not _settings_of_now:
        return _read_settings(part, last)
    known = _settings_of_now[-1]
    if last not in known:
        known.update(_read_settings(part, last))
    return known


def _read_settings(part: Any, last: str) -> dict[str, str]:
    properties, lists = read_by_stages(resting_stages(part))
    found: dict[str, str] = {}
    text = ""
    for name in STAGES[: STAGES.index(last) + 1]:
        said = [_compared(getattr(part, each)) for each in properties[name]]
        for rows, columns in lists[name]:
            said += [[_compared(getattr(row, column)) for column in columns] for row in getattr(part, rows)]
        if name == stage_of("alignment.pose"):
            said.append(taken_pose(part, found["scans"]))
        if name == stage_of("body.pairs"):
            said += lying.settings(part)
        if name == stage_of("impression.load_centers"):
            said += [
                [center.name, center.is_used, _compared(center.near), is_unmarked(center)]
                for center in part.centers
                if center.is_said or is_unmarked(center)
            ]
        text += repr([*said, *drawn.settings(part, name, is_drawing=bool(_settings_of_now))])
        found[name] = text
    return found


def print_of_scans(settings: str) -> str:
    """Return a short text that changes when the settings of the scans do: poses are numbered for these alone."""
    return f"{crc32(settings.encode()):08x}"


def taken_pose(part: Any, scan_settings: str) -> int:
    """Return the number of the pose that was taken for scans with these settings, or 0; picked pairs go before it."""
    is_by_pairs = any(pair.has_base and pair.has_impression for pair in part.pairs)
    return part.pose if part.pose and not is_by_pairs and part.pose_scans == print_of_scans(scan_settings) else 0


def _compared(value: Any) -> Any:
    return tuple(value) if not isinstance(value, (str, bool, int, float, type(None))) else value


def note_written(part: Any, said: str) -> None:
    """Note that the part's files were written with the settings of now."""
    written[:] = [Written(part.id_data.session_uid, part.number, _inputs_of_files(part), said)]


def files_of(part: Any) -> tuple[str, bool]:
    """Return what was said of the part's files, or nothing, and whether they are still those of its settings."""
    for each in written:
        if (each.scene, each.number) == (part.id_data.session_uid, part.number):
            return each.said, each.inputs == _inputs_of_files(part)
    return "", False


def _inputs_of_files(part: Any) -> str:
    """Return a text that changes when a setting changes that files rest on: also those that packing alone reads."""
    packed = [name for name, path in job_places.PLACES.items() if stage_of(".".join(path)) is None]
    return all_settings(part)[STAGES[-1]] + repr([*(_compared(getattr(part, name)) for name in packed), part.kept])


def row_at(rows: Any, index: int) -> Any | None:
    """Return the row of a list that is the active one, or None."""
    return rows[index] if 0 <= index < len(rows) else None


def remove_row(part: Any, rows: str, active: str) -> None:
    """Remove the active row of one of the part's lists; the next one, or the last, is active then."""
    index = getattr(part, active)
    getattr(part, rows).remove(index)
    setattr(part, active, max(0, min(index, len(getattr(part, rows)) - 1)))


def done(part: Any, stage: str) -> Any | None:
    """Return what a stage left, or None when it was not done."""
    return part.stages.get(stage)


def mark(part: Any, stage: str, lines: list[str]) -> None:
    """Note that a stage is done with the settings of now, and what it found: in one line, then its notes."""
    found = part.stages.get(stage) or part.stages.add()
    found.name = stage
    found.settings = all_settings(part, stage)[stage]
    notes = heaviest_first(lines[1:])
    found.acting = sum(weight_of(note) is Weight.ACT for note in notes)
    found.lines = "\n".join(reporting.in_window(line) for line in (lines[0], *notes))


def keep_facts(part: Any, stage: str, facts: Iterable[str]) -> None:
    """Keep more that a stage found, a line each, which its panel always shows; `mark` follows."""
    found = part.stages.get(stage) or part.stages.add()
    found.name, found.facts = stage, "\n".join(facts)


def forget(part: Any, stage: str) -> None:
    """Note that a stage and those after it are not done."""
    gone = STAGES[STAGES.index(stage) :]
    for name in gone:
        index = part.stages.find(name)
        if index >= 0:
            part.stages.remove(index)
    if "regions" in gone:
        part.found.regions.clear()
    if "load" in gone:
        part.found.cases.clear()
        part.found.tuning.clear()
        part.found.takes.clear()


def stale(part: Any, stage: str, settings: dict[str, str] | None = None) -> str:
    """Return what is stale about a stage that is done, or nothing; who asks for several gives `all_settings`."""
    found = part.stages.get(stage)
    if found is None:
        return ""
    settings = settings or all_settings(part, stage)
    if found.settings == settings[stage]:
        return ""
    for name in STAGES[: STAGES.index(stage) + 1]:
        here = part.stages.get(name)
        if here is not None and here.settings != settings[name]:
            return f"Settings of {TITLES[name]} changed since"
    return ""


def is_wanted(part: Any, stage: str) -> bool:
    """Say if a stage is one that a part of this kind of fill goes through in the window."""
    if stage == "mats":
        return bool(part.mat_file.strip())
    if stage in ("alignment", "body"):
        return part.shows_body == (stage == "body")
    return stage not in (UNFOLDED if part.fill_kind == "folds" else FOLDED)


def missing_base(part: Any) -> str:
    """Return in words that there is no part or no base scan yet, or nothing."""
    if not part.is_started:
        return "Start a part first"
    return "" if part.base is not None else "Choose or import the base scan first"


def missing_scans(part: Any) -> str:
    """Return in words that one of the two scans is not there, or nothing."""
    return "" if part.base is not None and part.impression is not None else "Choose or import both scans first"


def missing(part: Any, stage: str) -> str:
    """Return in words what a stage still needs, or nothing."""
    if missing_base(part):
        return missing_base(part)
    for obj in (part.base, part.impression):
        if obj is not None and obj.type != "MESH":
            return f'"{obj.name}" is no mesh: choose another object as a scan'
        if obj is not None and unusable(obj):
            return f"{unusable(obj)}, or choose another"
    if wrong := drawn.missing(part, stage) or lacking.for_body(part, stage):
        return wrong
    if stage == "mats" and not is_wanted(part, stage):
        return "Choose the mat's file first"
    if not is_wanted(part, stage):
        is_folded = part.fill_kind == "folds"
        return "Of folded walls it is one solid: no regions" if is_folded else 'Choose folded walls under "Fill" first'
    if stage in ("scans", "reading", "mats", "pad") and part.impression is None and part.envelope is None:
        return "Choose or import the impression scan first, or an envelope of your own"
    if stage == "scans":
        return _missing_of_lengths(part)
    if stage == "mats":
        return mat_in_job.missing(part)
    if stage in ("alignment", "body"):
        if part.impression is None:
            return "Choose or import the impression scan first"
        incomplete = sum(pair.has_base != pair.has_impression for pair in part.pairs)
        return f"{counted(incomplete, 'point pair')} with one point only: set the other" if incomplete else ""
    if stage == "zones" and part.pad is None:
        return "Build the pad first"
    if stage in (*_OF_ZONES, "export") and _missing_of_zones(part):
        return _missing_of_zones(part)
    if stage in ("pad", *_OF_ZONES) and part.pad is not None and not is_gone(part.pad):
        if unusable(part.pad):
            return unusable(part.pad)
    if stage in ("regions", *FOLDED) and part.stages.get("zones") is None:
        return "Plan the zones first"
    if stage in _OF_ZONES and part.pad is not None and is_gone(part.pad):
        return "Build the pad first"
    if stage == "load":
        return _missing_of_load(part)
    if stage == "shape" and part.stages.get("load") is None:
        return "Check the load first"
    return _missing_cut(part) if stage == "export" else ""


def _missing_cut(part: Any) -> str:
    """Return in words that what is packed, or bears the load, was not made yet, or nothing."""
    if part.fill_kind == "folds":
        return "" if part.stages.get("zones") is not None else "Plan the zones first"
    return "" if part.stages.get("regions") is not None else "Cut the regions first"


def _missing_of_zones(part: Any) -> str:
    names = [zone.name for zone in part.zones]
    if not names:
        return "Add a zone first"
    if "" in names:
        return f"Zone {names.index('') + 1} has no name: give it one"
    twice = next((name for name in names if names.count(name) > 1), "")
    return f'Two zones are named "{twice}": rename one' if twice else ""


def is_gone(obj: bpy.types.Object) -> bool:
    """Say if an object was deleted from the scene; what the part points at is kept in the file none the less."""
    return obj.name not in bpy.context.view_layer.objects and obj.name not in bpy.context.scene.objects


def is_unmarked(center: Any) -> bool:
    """Say if the artist has deleted the mark of a load center that was used: it counts as switched off."""
    return bool(center.number and center.is_used and not center.why and (center.mark is None or is_gone(center.mark)))


def unusable(obj: bpy.types.Object) -> str:
    """Return in words why an object of the part cannot be worked on, or nothing."""
    if obj.name not in bpy.context.view_layer.objects:  # panels ask this often: one look where all is well
        if is_gone(obj):
            return f'"{obj.name}" was deleted: undo that'
        return f'"{obj.name}" is in a collection that is excluded: include it'
    if obj.library is not None or (obj.data is not None and obj.data.library is not None):
        return f'"{obj.name}" is linked from another file: make it local first'
    return ""


def hide(obj: bpy.types.Object | None, is_hidden: bool) -> None:
    """Hide or show an object, where the view layer has it."""
    if obj is None:
        return
    layer = bpy.context.view_layer
    if obj.name not in layer.objects:  # what was linked just now is not in it until it is brought up to date
        layer.update()
    if obj.name in layer.objects:
        obj.hide_set(is_hidden)


def select_only(context: bpy.types.Context, obj: bpy.types.Object) -> None:
    """Show an object, select it alone, and make it the active one."""
    for each in context.selected_objects:
        each.select_set(False)
    obj.hide_set(False)
    obj.select_set(True)
    context.view_layer.objects.active = obj


def _missing_of_load(part: Any) -> str:
    if _missing_cut(part):
        return _missing_cut(part)
    is_wrapped, loads = part.press == "inward", json.loads(part.kept).get("load", {}) if part.kept else {}
    if is_wrapped and part.grip_pressure_kpa <= 0 and "squeeze_n" not in loads:
        return "Give the mean grip pressure first"
    if not is_wrapped and part.body_mass_kg <= 0 and "force_n" not in loads:
        return "Give the body's mass first"
    if part.goal == "relieve" and not any(zone.is_relieved for zone in part.zones):
        return "Mark the zones to relieve first"
    return ""


def _missing_of_lengths(part: Any) -> str:
    for number, length in enumerate(part.lengths, 1):
        if length.measured_mm <= 0:
            return f"Check length {number} has no length by hand"
        if tuple(length.start) == tuple(length.end):
            return f"Check length {number} needs two different points on the scan"
    return ""


def rest_level(part: Any) -> float | None:
    """Return the level of the zone that takes the rest, or None."""
    return next((zone.level for zone in part.zones if zone.source == "rest"), None)


def collection(scene: bpy.types.Scene, name: str = COLLECTION) -> bpy.types.Collection:
    """Return one of the part's collections in the scene, made when it is not there."""
    parent = scene.collection if name == COLLECTION else collection(scene)
    found = next(_called(parent, name), None)
    if found is not None:
        return found
    made = bpy.data.collections.new(name)
    parent.children.link(made)
    return made


def _called(parent: bpy.types.Collection, name: str) -> Iterator[bpy.types.Collection]:
    """Give the collections of a name, whatever number the modeller has put behind it."""
    return (each for each in parent.children_recursive if each.name.split(".")[0] == name)


def objects_in(scene: bpy.types.Scene, name: str) -> list[bpy.types.Object]:
    """Return the objects in the scene's collections of a name."""
    return [obj for each in _called(scene.collection, name) for obj in each.objects]


def made(part: Any) -> list[bpy.types.Object]:
    """Return the objects that show what was made of the part, beside its regions: one may lie over another."""
    found = (part.pad, part.solid, part.walls, part.inside, part.compare.obj)
    return [obj for obj in found if obj is not None]


def remove_object(obj: bpy.types.Object) -> None:
    """Remove an object and its mesh."""
    mesh = obj.data
    bpy.data.objects.remove(obj)
    if mesh is not None and mesh.users == 0:
        bpy.data.meshes.remove(mesh)


def show_scans(part: Any, *, base: bool, impression: bool) -> None:
    """Show scans as surfaces, or put them out of sight where they would cover a result.

    One with modifiers becomes a box: the modeller does not work out those of what is hidden.
    """
    for obj, is_shown in ((part.base, base), (part.impression, impression)):
        if obj is not None:
            is_box = not is_shown and bool(obj.modifiers)
            obj.display_type = "BOUNDS" if is_box else "TEXTURED"
            hide(obj, not is_shown and not is_box)
