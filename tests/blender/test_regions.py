"""Regions in the scene: in place, named, colored by level, listed with what is printed."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


@pytest.fixture
def cut(part):
    for stage in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, stage)()
    return part


def core_regions(inside):
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    job = scene.read_scene(bpy.context, scene.work_folder())
    return memory.known(job, scene.work_folder(), "regions")


def test_rows_name_the_objects_and_say_what_is_printed(cut, inside):
    known = core_regions(inside)
    assert [row.name for row in cut.found.regions] == [each.name for each in known.regions.regions]
    folder = inside("blender.scene").work_folder()
    load = next(stage for stage in inside("core.run.stages").STAGES if stage.name == "load")
    known = known.having("folds", None, ())
    chosen = (
        inside("core.base.progress").drain(inside("core.run.pipeline").do_stage(load, known, folder, steps=1)).firmness
    )
    for row, region in zip(cut.found.regions, known.regions.regions, strict=True):
        assert row.obj.name == f"{cut.number} {region.name}"
        assert row.volume_cm3 == pytest.approx(region.volume_cm3, rel=1e-6)
        assert (row.level, row.level_name) == (region.firmness_level, known.family.level_name(region.firmness_level))
        assert row.settings == chosen.chosen[region.zone].settings.in_words()
        assert row.kpa.startswith(f"{chosen.curves[region.id].modulus_kpa.value:.0f} (")


def test_the_load_check_puts_tuned_settings_into_the_rows(cut, inside):
    before = [row.settings for row in cut.found.regions]
    cut.goal = "even"
    bpy.ops.padwright.check_load()
    after = [row.settings for row in cut.found.regions]
    assert after != before
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    job = scene.read_scene(bpy.context, scene.work_folder())
    firmness = memory.known(job, scene.work_folder(), "load").firmness
    assert set(after) == {each.settings.in_words() for each in firmness.chosen.values()}
    known = core_regions(inside)
    for row, region in zip(cut.found.regions, known.regions.regions, strict=True):
        reached = firmness.chosen[region.zone].reached_kpa
        assert row.wished_level == region.firmness_level
        # The modeller keeps single floats: 24 bits.
        assert row.level == pytest.approx(known.family.printed_level(region.firmness_level, reached), rel=2**-23)
        assert row.obj.data.materials[0].name == f"Padwright {known.family.id} {row.level:g}"
    assert any(row.level != row.wished_level for row in cut.found.regions)


def test_blend_steps_are_regions_with_colors_between_those_of_their_neighbors(part):
    part.blend_steps, part.blend_width_mm = 2, 16.0
    for stage in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, stage)()
    color = {}
    for row in part.found.regions:
        color[round(row.level, 3)] = np.array(row.obj.active_material.diffuse_color[:3])
        assert tuple(row.obj.color) == tuple(row.obj.active_material.diffuse_color)
    levels = sorted(color)
    assert len(levels) == 4 and levels[0] == 2.0 and levels[-1] == 4.0
    luminance = [color[level] @ [0.2126, 0.7152, 0.0722] for level in levels]
    assert luminance == sorted(luminance, reverse=True)  # firmer is darker
    words = {row.level_name for row in part.found.regions if row.level not in (2.0, 4.0)}
    assert words == {"soft to medium", "medium to firm"}


def test_a_row_selects_its_object_alone(cut):
    for index in (1, 0):
        assert bpy.ops.padwright.select_region(index=index) == {"FINISHED"}
        assert bpy.context.selected_objects == [cut.found.regions[index].obj]
        assert bpy.context.view_layer.objects.active == cut.found.regions[index].obj
        assert cut.found.region_index == index


def test_a_region_whose_object_is_gone_says_so(cut):
    bpy.data.objects.remove(cut.found.regions[0].obj)
    with pytest.raises(RuntimeError, match=r"is gone\. Cut the regions again"):
        bpy.ops.padwright.select_region(index=0)
    bpy.ops.padwright.cut_regions()
    assert bpy.ops.padwright.select_region(index=0) == {"FINISHED"}


def test_pad_and_regions_take_turns_and_colors_of_values_go(cut):
    objects = [row.obj for row in cut.found.regions]
    assert cut.pad.hide_get() and not any(obj.hide_get() for obj in objects)
    bpy.ops.padwright.show_regions(what="pad")
    assert not cut.pad.hide_get() and all(obj.hide_get() for obj in objects)
    bpy.ops.padwright.show_values(values="thickness")
    bpy.ops.padwright.show_regions(what="regions")
    assert cut.pad.hide_get() and not any(obj.hide_get() for obj in objects)
    assert not cut.view.is_colored
    bpy.ops.padwright.show_values(values="thickness")
    cut.overlap_mm, cut.contact = 0.3, "overlapping"
    bpy.ops.padwright.cut_regions()
    assert not cut.view.is_colored and cut.pad.hide_get()


def test_cutting_is_taken_back_with_its_rows(part):
    for stage in ("build_pad", "plan_zones"):
        getattr(bpy.ops.padwright, stage)()
    bpy.ops.ed.undo_push(message="base")
    bpy.ops.padwright.cut_regions("EXEC_DEFAULT", True)
    names = [row.name for row in part.found.regions]
    bpy.ops.ed.undo()
    part = bpy.context.scene.padwright
    assert len(part.found.regions) == 0 and not part.pad.hide_get()
    bpy.ops.ed.redo()
    part = bpy.context.scene.padwright
    assert [row.name for row in part.found.regions] == names
    assert all(row.obj is not None for row in part.found.regions)
