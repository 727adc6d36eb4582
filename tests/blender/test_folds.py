"""A part of folded walls in the window: walls' lines, the printed shape, colors, and what is seen inside it."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


@pytest.fixture
def folded(part):
    """Return the part with its zones planned, to be of folded walls."""
    part.fill_kind = "folds"
    part.body_mass_kg, part.share = 74.0, 0.6
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    return part


@pytest.fixture
def shaped(folded):
    """Return the part with its shape made, by that button alone."""
    assert bpy.ops.padwright.check_load() == {"FINISHED"}
    assert bpy.ops.padwright.make_shape() == {"FINISHED"}
    return folded


def known(inside, stage):
    memory, scene = inside("blender.stage_memory").memory(), inside("blender.scene")
    return memory.known(scene.read_scene(bpy.context, scene.work_folder()), scene.work_folder(), stage)


def read(inside, obj):
    bridge = inside("blender.bridge")
    return bridge.read_mesh(obj).scaled(bridge.mm_per_scene_unit(bpy.context.scene))


def test_without_folded_walls_their_buttons_say_what_to_choose(part, inside) -> None:
    state = inside("blender.state")
    assert not bpy.ops.padwright.lay_out_walls.poll()
    assert not bpy.ops.padwright.make_shape.poll()
    assert not bpy.ops.padwright.show_inside.poll()
    assert state.missing(part, "folds") == state.missing(part, "shape") == 'Choose folded walls under "Fill" first'
    assert not bpy.types.PADWRIGHT_PT_shape.poll(bpy.context)
    assert bpy.types.PADWRIGHT_PT_regions.poll(bpy.context)


def test_the_next_step_leaves_out_what_the_kind_of_fill_does_not_need(folded, inside) -> None:
    next_step, state = inside("blender.panels_part").next_step, inside("blender.state")
    assert next_step(folded) == "Next: Lay Out Walls"
    assert not bpy.ops.padwright.cut_regions.poll()
    assert not bpy.types.PADWRIGHT_PT_regions.poll(bpy.context)
    assert state.missing(folded, "shape") == "Check the load first"
    bpy.ops.padwright.lay_out_walls()
    assert next_step(folded) == "Next: Check Load"
    folded.fill_kind = "settings"
    assert next_step(folded) == "Next: Cut Regions"


def test_the_lines_of_the_walls_lie_over_the_pad(folded, inside) -> None:
    bpy.ops.padwright.lay_out_walls()
    layout = known(inside, "folds").of(inside("core.stages.folds.layout").FoldLayout)
    lines = folded.walls
    assert len(lines.data.vertices) == sum(len(wall.points) for wall in layout.walls)
    assert len(lines.data.edges) == len(lines.data.vertices) - len(layout.walls)
    place = inside("blender.bridge").mesh_places(lines) * inside("blender.bridge").mm_per_scene_unit(bpy.context.scene)
    pad = read(inside, folded.pad)
    nearest = inside("core.geometry.query").NearestSurface(pad).find(place)
    # Half a millimeter above the body side; a cell's height is that of its middle, and rims are steep.
    assert np.median(nearest.distance) < 1.0
    assert lines.visible_get()
    assert f"{len(layout.walls)} walls" in folded.stages["folds"].lines


def test_the_lines_are_of_the_walls_that_had_to_be_laid_out_anew_under_the_load(folded, inside) -> None:
    bpy.ops.padwright.lay_out_walls()
    folded.body_mass_kg = 88.0
    folded.walls.hide_set(True)
    assert bpy.ops.padwright.check_load() == {"FINISHED"}
    assert not folded.walls.visible_get()  # what was in sight stays so
    part = known(inside, "load")
    first = part.of(inside("core.stages.folds.layout").FoldLayout)
    walls = part.firmness.folded.layout.walls
    assert part.firmness.folded.layout is not first
    drawn = np.concatenate([wall.points for wall in walls])

    def told() -> np.ndarray:
        mm = inside("blender.bridge").mm_per_scene_unit(bpy.context.scene)
        places = inside("blender.bridge").mesh_places(folded.walls) * mm
        return inside("core.geometry.frames").moved(first.to_plane, places)[:, :2]

    np.testing.assert_allclose(told(), drawn, atol=1e-3)
    bpy.ops.padwright.lay_out_walls()  # it would lay out the first ones
    np.testing.assert_allclose(told(), drawn, atol=1e-3)
    # The words are of the walls that are drawn, not of the first ones, which differ.
    words = [
        f"{len(each.walls)} walls of {each.width_mm:g} mm, {each.pitch_mm:g} mm from one to the next"
        for each in (first, part.firmness.folded.layout)
    ]
    assert words[0] != words[1]
    assert folded.stages["folds"].lines.startswith(words[1])
    assert folded.walls.visible_get()


def test_the_shape_is_the_solid_of_the_core_and_no_region_is_left_in_sight(shaped, inside) -> None:
    part = known(inside, "shape")
    solid = part.of(inside("core.stages.shape.work").FoldedPart).solid
    mesh = read(inside, shaped.solid)
    assert len(mesh.faces) == len(solid.mesh.faces)
    assert mesh.volume == pytest.approx(solid.mesh.volume, rel=1e-5)  # the modeller keeps single floats
    assert shaped.solid.visible_get()
    assert not shaped.pad.visible_get()
    assert not shaped.found.regions
    assert shaped.stages["shape"].lines.startswith(f"The shape has {solid.volume_cm3:.0f} cm3")
    assert shaped.stages.get("regions") is None


def test_wished_and_reached_stiffness_are_colors_on_one_scale(shaped, inside) -> None:
    attributes = inside("blender.attributes")
    walls = known(inside, "load").firmness.folded
    seen, tops = {}, set()
    for what, name in (("wished", attributes.WISHED), ("reached", attributes.REACHED)):
        assert bpy.ops.padwright.show_values(values=what) == {"FINISHED"}
        seen[what] = attributes.read(shaped.pad.data, name)
        assert shaped.pad.visible_get()
        assert not shaped.solid.visible_get()
        assert shaped.view.unit == "kPa"
        assert (shaped.view.low, shaped.view.title) == (0.0, f"{what.title()} Stiffness")
        top = shaped.view.high
        tops.add(top)
    # To a round number about twice the firmest wish: beyond that all is dark alike.
    assert len(tops) == 1
    assert 1.4 * seen["wished"].max() < tops.pop() <= 2.0 * seen["wished"].max()
    raster = walls.field.reached_kpa
    assert raster[raster > 0].min() <= seen["reached"].min() * 1.001
    assert seen["reached"].max() <= raster.max() * 1.001
    assert np.ptp(seen["wished"]) > 5.0  # bones and rest ask for their own
    bpy.ops.padwright.clear_colors()
    assert shaped.solid.visible_get()
    assert not shaped.pad.visible_get()


def test_a_cutaway_is_a_closed_copy_and_the_shape_stays_as_it_is(shaped, inside) -> None:
    bridge = inside("blender.bridge")
    before = bridge.mesh_places(shaped.solid).tobytes()
    assert bpy.ops.padwright.show_inside(what="cutaway") == {"FINISHED"}
    whole, half = read(inside, shaped.solid), read(inside, shaped.inside)
    first = half.volume
    assert 0.2 < first / whole.volume < 0.8
    plane = inside("core.run.cutaway").part_cut(known(inside, "shape"))
    assert ((half.vertices - plane.point) @ plane.normal).max() == pytest.approx(0.0, abs=0.02)
    assert not shaped.solid.visible_get()
    assert shaped.inside.visible_get()
    face = np.zeros(len(shaped.inside.data.polygons), dtype=np.int32)
    shaped.inside.data.polygons.foreach_get("material_index", face)
    area = half.face_areas[face == 1].sum()
    cut = inside("core.geometry.cross_sections").cross_section(whole, plane.point, plane.normal)
    assert area == pytest.approx(cut.area, rel=1e-3)
    shaped.view.cut_share = 100.0
    assert read(inside, shaped.inside).volume == pytest.approx(whole.volume, rel=1e-6)
    shaped.view.cut_share, shaped.view.is_cut_across = 30.0, True
    across = read(inside, shaped.inside)
    along = np.cross(np.array(shaped.view.up), np.array(shaped.view.cut_normal))
    place, there = across.vertices @ along, whole.vertices @ along
    assert place.max() == pytest.approx(there.min() + 0.3 * np.ptp(there), abs=0.02)
    bpy.ops.padwright.show_inside(what="whole")
    assert shaped.solid.visible_get()
    assert not shaped.inside.visible_get()
    assert bridge.mesh_places(shaped.solid).tobytes() == before
    assert not inside("blender.regions.hand_edits").is_edited(shaped.solid)


def test_layers_are_shown_filled_where_plastic_lies(shaped, inside) -> None:
    bpy.ops.padwright.show_inside(what="layer")
    whole, up = read(inside, shaped.solid), np.array(shaped.view.up)
    heights = whole.vertices @ up
    count = round(np.ptp(heights) / shaped.view.layer_mm)
    total = 0.0
    shares = np.linspace(0.0, 100.0, 41)
    for share in shares:
        shaped.view.layer_share = share
        number = int(shaped.view.layer_said.split(" of ")[0])
        assert shaped.view.layer_said.split(",")[0].endswith(f"of {count}")
        flat = read(inside, shaped.inside)
        at = flat.vertices @ up - heights.min()
        assert at == pytest.approx(np.full(len(at), (number - 0.5) * shaped.view.layer_mm), abs=0.01)
        total += flat.area * (0.5 if share in (0.0, 100.0) else 1.0)
    assert number == count
    # Areas over the height add up to the volume; 40 steps follow its course to a few percent.
    assert total * np.ptp(heights) / 40 == pytest.approx(whole.volume, rel=0.05)


def test_making_it_anew_shows_the_whole_shape_again(shaped) -> None:
    bpy.ops.padwright.show_inside(what="cutaway")
    shaped.most_slope_deg = 43.0
    assert bpy.ops.padwright.make_shape() == {"FINISHED"}
    assert shaped.view.inside == "whole"
    assert shaped.solid.visible_get()
    assert not shaped.inside.visible_get()
    assert len([obj for obj in bpy.data.objects if obj.name.startswith(f"{shaped.number} Shape")]) == 1


def test_what_another_fill_has_made_is_out_of_sight(shaped) -> None:
    bpy.ops.padwright.show_inside(what="layer")
    shaped.fill_kind = "settings"
    bpy.ops.padwright.cut_regions()
    regions = [row.obj for row in shaped.found.regions]
    folded = [shaped.solid, shaped.inside]
    assert all(obj.visible_get() for obj in regions)
    assert not any(obj.visible_get() for obj in folded)
    shaped.fill_kind = "folds"
    bpy.ops.padwright.lay_out_walls()
    assert not any(obj.visible_get() for obj in (*regions, *folded))
    assert shaped.pad.visible_get()
    bpy.ops.padwright.make_shape()
    assert shaped.solid.visible_get()
    assert not any(obj.visible_get() for obj in (*regions, shaped.pad, shaped.walls))


def test_a_shape_changed_by_hand_is_not_exported_in_silence(shaped, tmp_path) -> None:
    shaped.folder = str(tmp_path / "out")
    shaped.solid.data.vertices[0].co.x += 0.01
    with pytest.raises(RuntimeError, match=r"changed by hand.*\n?.*Make Shape"):
        bpy.ops.padwright.export_part()


def test_export_writes_one_solid_and_its_picture(folded, tmp_path) -> None:
    folded.folder = str(tmp_path / "out")
    assert bpy.ops.padwright.export_part() == {"FINISHED"}
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert f"{folded.number}.cutaway.png" in names
    assert sum(name.endswith(".stl") for name in names) == 1


def test_a_job_loaded_again_has_the_choices(folded, tmp_path) -> None:
    folded.fill_layout, folded.wall_beads, folded.most_slope_deg = "rings", 2, 40.0
    folded.skin_layers, folded.least_core_mm, folded.voids = 7, 5.5, "sealed"
    folded.rows_run, folded.run_vector = "given", (0.6, 0.8, 0.0)
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "job.toml"))
    text = (tmp_path / "job.toml").read_text()
    assert 'kind = "folds"' in text
    assert "pitch_mm" not in text.split("[fill]")[1].split("[")[0]  # left to Padwright
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.padwright.load_job(filepath=str(tmp_path / "job.toml"))
    part = bpy.context.scene.padwright
    found = (part.fill_kind, part.fill_layout, part.wall_beads, part.most_slope_deg, part.wall_pitch_mm)
    assert found == ("folds", "rings", 2, 40.0, 0.0)
    assert (part.skin_layers, part.least_core_mm, part.voids, part.rows_run) == (7, 5.5, "sealed", "given")
    assert part.run_vector[:] == pytest.approx((0.6, 0.8, 0.0))
    bpy.ops.padwright.save_job(filepath=str(tmp_path / "again.toml"))
    assert "direction = [0.6, 0.8, 0" in (tmp_path / "again.toml").read_text()


def test_rows_run_where_it_was_pointed_out_on_the_pad(folded, inside):
    bpy.ops.padwright.lay_out_walls()
    rows = inside("core.stages.folds.layout").FoldLayout
    plain = known(inside, "folds").of(rows).to_plane
    pad = read(inside, folded.pad)
    middle, size = pad.bounds.mean(axis=0), np.ptp(pad.bounds, axis=0)
    # Along the plain run turned by 30 degrees, in the part frame.
    turn = np.radians(30.0)
    way = plain[:3, :3].T @ np.array([-np.sin(turn), np.cos(turn), 0.0])
    bpy.ops.ed.undo_push(message="base")
    ends = (middle - 0.2 * size.max() * way, middle + 0.2 * size.max() * way)
    assert bpy.ops.padwright.pick_run("EXEC_DEFAULT", True, start=ends[0], end=ends[1]) == {"FINISHED"}
    assert folded.rows_run == "given"
    assert inside("blender.state").stale(folded, "folds")
    items = inside("blender.view.overlay_items").gather(bpy.context)
    (label,) = [each for each in items.labels if each.text == "Rows run this way"]
    mm = inside("blender.bridge").mm_per_scene_unit(bpy.context.scene)
    arrow = next(line for line in items.lines if line.end is label.at or np.allclose(line.end, label.at))
    seen = np.array(folded.pad.matrix_world.to_3x3()).T @ (arrow.end - arrow.start) * mm
    assert seen / np.linalg.norm(seen) @ way == pytest.approx(1.0, abs=1e-3)
    bpy.ops.padwright.lay_out_walls()
    turned = known(inside, "folds").of(rows).to_plane
    assert turned[1, :3] @ way == pytest.approx(1.0, abs=1e-4)  # y of the walls' plane is how rows run
    # Walls lean to x of that plane, and so to the right of the arrow, which the picture shows too.
    (lean,) = [each for each in items.labels if each.text == "walls lean"]
    side = np.array(folded.pad.matrix_world.to_3x3()).T @ (lean.at - (arrow.start + arrow.end) / 2) * mm
    assert side / np.linalg.norm(side) @ turned[0, :3] == pytest.approx(1.0, abs=0.02)
    bpy.ops.ed.undo()
    assert bpy.context.scene.padwright.rows_run == "across"


def test_a_direction_needs_two_places_apart(folded):
    with pytest.raises(RuntimeError, match=r"0\.5 mm apart"):
        bpy.ops.padwright.pick_run(start=(0, 0, 0), end=(0.5, 0, 0))
    folded.fill_kind = "settings"
    assert not bpy.ops.padwright.pick_run.poll()
