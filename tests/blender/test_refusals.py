"""Why a stage was refused stays in its panel with what to do, until its inputs change or it succeeds."""

from __future__ import annotations

import bpy
import pytest
from tests.blender.test_panels import draw


@pytest.fixture
def refused(part, inside, monkeypatch):
    """The scans cannot be aligned by themselves."""
    work, errors = inside("core.stages.alignment.work"), inside("core.base.errors")

    def align(*_, **__):
        raise errors.SolveError("Two poses fit alike.", hint="Pick three or more point pairs.")
        yield

    monkeypatch.setattr(work, "align_scans", align)
    monkeypatch.setattr(inside("blender.stage_memory"), "_memory", None)
    return part


def pressed(name):
    with pytest.raises(RuntimeError):
        getattr(bpy.ops.padwright, name)()


def test_it_is_said_with_what_to_do_and_next_names_that_not_the_button_alone(refused, inside):
    bpy.ops.padwright.prepare_scans()
    next_step = inside("blender.panels_part").next_step
    assert "poses" not in " ".join(draw("alignment"))
    pressed("align_scans")
    for _ in range(2):  # it does not fade
        shown = " ".join(draw("alignment"))
        assert "Two poses fit alike." in shown and "Pick three or more point pairs." in shown
    assert next_step(refused) == "Align Scans was refused. Next: Pick three or more point pairs."


def test_a_later_button_says_which_stage_was_refused(refused):
    pressed("build_pad")
    assert "The alignment first. Two poses fit alike." in " ".join(draw("pad"))
    assert "Two poses fit alike." in " ".join(draw("alignment"))
    assert "Two poses" not in " ".join(draw("scans") + draw("zones"))


def test_it_goes_when_what_it_rests_on_changes_and_comes_with_it(refused):
    pressed("align_scans")
    refused.lengths[0].measured_mm += 1.0
    assert "Two poses" not in " ".join(draw("alignment"))
    refused.lengths[0].measured_mm -= 1.0
    refused.fit_gap_mm += 0.1  # a later stage's
    assert "Two poses" in " ".join(draw("alignment"))


def test_it_goes_when_the_stage_succeeds(refused, inside, monkeypatch):
    pressed("build_pad")
    monkeypatch.undo()
    bpy.ops.padwright.align_scans()
    assert "Two poses" not in " ".join(draw("alignment") + draw("pad"))


def test_it_is_that_of_one_scene_and_one_file(refused, inside, tmp_path):
    pressed("align_scans")
    refusals = inside("blender.refusals")
    assert refusals.of(refused, "alignment") is not None
    other = bpy.data.scenes.new("Other")
    assert refusals.of(other.padwright, "alignment") is None
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "a.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "a.blend"))
    assert refusals.of(bpy.context.scene.padwright, "alignment") is None


def test_a_wrong_painting_or_view_is_no_refusal_of_a_stage(part, inside):
    bpy.ops.padwright.align_scans()
    with pytest.raises(RuntimeError):
        bpy.ops.padwright.show_values(values="pressure")
    assert inside("blender.refusals").of(part, "alignment") is None


@pytest.fixture
def exported(part, tmp_path):
    for name in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, name)()
    part.folder = str(tmp_path / "out")
    bpy.ops.padwright.export_part()
    return part


def icons(name):
    from tests.blender.test_panels import Layout, _bound

    found = []

    class Icons(Layout):
        def row(self, **_):
            return Icons(self.texts)

        column = split = box = row

        def label(self, text="", icon="NONE"):
            super().label(text, icon)
            found.append(icon)

    kind = getattr(bpy.types, f"PADWRIGHT_PT_{name}")
    kind.draw(_bound(kind, Icons([])), bpy.context)
    return found


def test_old_files_are_not_ticked_after_a_refused_export_or_a_change(exported, inside):
    refusals = inside("blender.refusals")
    assert "CHECKMARK" in icons("export") and refusals.of(exported, "export") is None
    exported.fit_gap_mm += 0.1
    assert "CHECKMARK" not in icons("export")
    assert "From before" in " ".join(draw("export"))
    exported.fit_gap_mm -= 0.1
    assert "CHECKMARK" in icons("export")
    exported.pad.data.vertices[0].co.x += 0.001
    exported.pad.data.update()
    pressed("export_part")
    assert "CHECKMARK" not in icons("export") and refusals.of(exported, "export") is not None
    assert "changed by hand" in " ".join(draw("export"))
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.export_part()
    assert "CHECKMARK" in icons("export") and refusals.of(exported, "export") is None
