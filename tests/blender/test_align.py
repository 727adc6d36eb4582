"""What the panels tell of the scans' size and of how they lie on each other."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from tests.blender.test_panels import draw


@pytest.fixture
def result(part, inside):
    """Return what the core found for the scene, after a stage was done."""

    def found(stage):
        memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
        job = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False)
        return memory.known(job, scene.work_folder(), stage)

    return found


def test_alignment_says_how_well_and_how_sure(part, inside, result):
    bpy.ops.padwright.align_scans()
    found = result("alignment").alignment
    facts = inside("core.stages.alignment.evidence").alignment_facts(found)
    assert part.stages["alignment"].facts.split("\n") == list(facts)
    shown = " ".join(draw("alignment"))
    for words in (
        f"agree to {found.rms_mm:.2f} mm over",
        f"{100 * found.overlap:.0f} %",
        f"below {found.p95_mm:.2f} mm",
        "How sure: ",
    ):
        assert words in shown
    assert "<padwright.show_values>" in draw("alignment")


def test_scale_says_its_error_and_that_the_original_stays(part, result):
    before = np.array([vertex.co for vertex in part.base.data.vertices])
    bpy.ops.padwright.prepare_scans()
    fit = result("scans").base.fit
    shown = " ".join(draw("scans"))
    assert f"standard error {fit.standard_error:.5f}" in shown
    assert "The original scan is kept" in shown
    assert np.array_equal([vertex.co for vertex in part.base.data.vertices], before)


def test_taking_scaling_back_gives_the_old_size(part):
    bpy.ops.ed.undo_push(message="base")
    size = tuple(part.base.scale)
    bpy.ops.padwright.prepare_scans("EXEC_DEFAULT", True)
    assert tuple(bpy.context.scene.padwright.base.scale) != size
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert tuple(part.base.scale) == size
    assert not any(length.is_fitted for length in part.lengths) and part.stages.get("scans") is None


def test_a_length_that_does_not_fit_is_named(part, case):
    for length in case.lengths:
        for shift in range(2):
            bpy.ops.padwright.pick_length(
                scan="base",
                start=length.base_from,
                end=length.base_to,
                measured_mm=length.measured_mm,
                length_name=f"{length.name} {shift}",
            )
    wrong = part.lengths[-1]
    wrong.measured_mm += 6.0  # read off by a good bit
    bpy.ops.padwright.prepare_scans()
    assert [length.name for length in part.lengths if length.is_outlier] == [wrong.name]
    assert f"{wrong.name} does not fit the others" in part.stages["scans"].facts
    wrong.measured_mm -= 6.0
    bpy.ops.padwright.prepare_scans()
    assert not any(length.is_outlier for length in part.lengths)


def test_misses_belong_to_the_pairs_that_were_complete(part, case):
    bpy.ops.padwright.prepare_scans()
    first, second = case.lengths[:2]
    for on_base, on_impression in (
        (first.base_from, first.impression_from),
        (first.base_to, first.impression_to),
        (second.base_to, second.impression_to),
    ):
        bpy.ops.padwright.pick_pairs(base_point=on_base, impression_point=on_impression)
    bpy.ops.padwright.align_scans()
    assert all(pair.is_fitted and pair.miss_mm < 1.0 for pair in part.pairs)
    bpy.context.scene.cursor.location = part.base.matrix_world @ part.base.data.vertices[0].co
    part.pair_index = 1
    bpy.ops.padwright.set_pair_point(scan="base")
    assert [pair.is_fitted for pair in part.pairs] == [True, False, True]


def test_the_viewport_s_panel_draws(part):
    from types import SimpleNamespace

    from tests.blender.test_panels import Layout

    def drawn():
        texts = []
        bpy.types.PADWRIGHT_PT_view.draw(SimpleNamespace(layout=Layout(texts)), bpy.context)
        return texts

    assert "[shows_lengths]" in drawn() and "<padwright.clear_colors>" not in drawn()
    bpy.ops.padwright.align_scans()
    bpy.ops.padwright.show_values(values="distance")
    assert "<padwright.clear_colors>" in drawn() and "<padwright.clear_colors>" in draw("alignment")
    bpy.ops.padwright.clear_colors()
    assert "<padwright.clear_colors>" not in drawn()


def test_a_scale_that_the_scans_contradict_is_always_in_sight(part, inside, monkeypatch):
    scale, writers = inside("core.stages.alignment.implied_scale"), inside("blender.stage_work").WRITERS
    write = writers["alignment"]

    def contradicted(context, result):
        from dataclasses import replace

        implied = scale.ImpliedScale(1.006, 0.0005, "pairs")
        length = float(np.ptp(result.base.mesh.bounds, axis=0).max())
        notes = (implied.note(length), *result.alignment.notes)
        found = replace(result.alignment, scale_implied=(implied,), notes=notes)
        placed = replace(result.of(inside("core.stages.alignment.placed_scans").PlacedScans), alignment=found)
        return write(context, result.having("alignment", placed, ()))

    bpy.ops.padwright.align_scans()
    assert "contradicts" not in " ".join(draw("alignment"))
    monkeypatch.setitem(writers, "alignment", contradicted)
    bpy.ops.padwright.align_scans()
    assert not part.stages["alignment"].is_open
    shown = " ".join(draw("alignment"))
    assert "0.60 % larger" in shown and shown.count("its scale contradicts the base's") == 1
    part.stages["alignment"].is_open = True
    assert " ".join(draw("alignment")).count("its scale contradicts the base's") == 1
