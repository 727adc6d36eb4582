"""A pressure mat in the window: its file is laid on by the same work as from the command line, and shown."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from mathutils import Matrix, Vector
from tests.blender.test_panels import draw
from tests.blender.test_picking import view_on

# A body's shape that no turn or mirror of it has: three heaps of different strength, kPa, cells 12 mm apart.
ROW, COLUMN = np.mgrid[0:16, 0:20].astype(float)


def _heap(row, column, kpa, wide):
    return kpa * np.exp(-((ROW - row) ** 2 + (COLUMN - column) ** 2) / wide)


GRID = _heap(7, 5, 40, 6) + _heap(7, 14, 36, 6) + _heap(11, 9, 12, 10)


@pytest.fixture
def with_mat(part, tmp_path):
    """Return the part with a mat's file beside it."""
    rows = "\n".join(";".join(f"{each:.1f}".replace(".", ",") for each in row) for row in GRID)
    (tmp_path / "mat.csv").write_text(f"Unit;kPa\n\n{rows}\n")
    part.mat_file = str(tmp_path / "mat.csv")
    return part


def test_a_mat_is_laid_on_by_its_button_and_shown(with_mat, inside):
    state, attributes = inside("blender.state"), inside("blender.attributes")
    with_mat.mat_pitch_mm = (12.0, 0.0)
    assert bpy.ops.padwright.lay_mat() == {"FINISHED"}
    said = state.done(with_mat, "mats").lines
    assert said.startswith("The mat has 16 rows of 20 cells, 12 mm apart (192 x 240 mm); it sums to")
    shown = attributes.read(with_mat.body.data, attributes.MAT)
    assert 0.8 * GRID.max() < shown.max() <= GRID.max() + 0.1  # between its cells it is a little lower
    assert bpy.ops.padwright.show_values(values="mat") == {"FINISHED"}
    assert with_mat.view.title == "Pressure Mat"


def test_what_the_panel_says_of_a_mat_comes_back_from_a_job(with_mat, inside):
    scene, load = inside("blender.scene"), inside("blender.scene_load")
    with_mat.mat_pitch_mm, with_mat.mat_unit, with_mat.mat_seen, with_mat.mat_pose = (12.0, 10.0), "mmHg", "below", 2
    with_mat.mat_frames, with_mat.mat_frame, with_mat.mat_for_load = "one", 3, False
    job = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False)
    found = job.mat
    assert (found.unit, found.pitch_mm, found.flipped, found.pose) == ("mmHg", (12.0, 10.0), True, 2)
    assert (found.frames, found.frame, found.use_for_load, found.file) == ("one", 3, False, "mat.csv")
    with_mat.mat_file, with_mat.mat_seen, with_mat.mat_pose, with_mat.mat_for_load = "", "found", 0, True
    load.load_into_scene(with_mat, job, scene.work_folder())
    assert with_mat.mat_file.endswith("mat.csv")
    assert (with_mat.mat_seen, with_mat.mat_pose, with_mat.mat_frame, with_mat.mat_for_load) == ("below", 2, 3, False)
    assert tuple(with_mat.mat_pitch_mm) == (12.0, 10.0)


def test_a_zone_takes_pressures_of_the_mat(with_mat, inside):
    scene = inside("blender.scene")
    with_mat.mat_pitch_mm = (12.0, 12.0)
    zone = with_mat.zones.add()
    zone.name, zone.source, zone.from_kpa = "pressed", "pressure_grid", 20.0
    with_mat.zones.move(len(with_mat.zones) - 1, 0)
    tables = scene.read_scene(bpy.context, scene.work_folder()).zones[0]
    assert (tables.source, tables.from_kpa, tables.to_kpa, tables.file) == ("pressure_grid", 20.0, None, None)


def test_without_a_file_the_panel_asks_for_it_and_nothing_hangs_on_it(part, inside):
    state = inside("blender.state")
    assert not state.is_wanted(part, "mats")
    assert state.missing(part, "mats") == "Choose the mat's file first"
    scene = inside("blender.scene")
    assert scene.read_scene(bpy.context, scene.work_folder(), with_zones=False).mat.file is None
    assert "Without a mat you need nothing here." in " ".join(draw("mat"))
    part.mat_file = "mat.csv"
    assert "Without a mat you need nothing here." not in " ".join(draw("mat"))


@pytest.fixture
def on_clay(with_mat):
    """Return the part with its scans at their true size and the mat's pitch, as one begins to pick."""
    with_mat.mat_pitch_mm = (12.0, 10.0)
    bpy.ops.padwright.prepare_scans()
    return with_mat


def test_the_mat_s_picture_has_a_square_a_cell_as_large_as_the_mat_beside_the_scan(on_clay, inside):
    assert bpy.ops.padwright.show_mat_picture() == {"FINISHED"}
    picture = on_clay.mat_picture
    assert len(picture.data.polygons) == 2 * GRID.size
    rows, columns = GRID.shape
    size = 1000.0 * np.array(picture.dimensions)
    assert size[:2] == pytest.approx([columns * 10.0, rows * 12.0], rel=1e-5)
    axes = np.array(inside("blender.view.viewports").right_and_up(bpy.context))
    right = [
        np.array([obj.matrix_world @ Vector(corner) for corner in obj.bound_box]) @ axes[0]
        for obj in (picture, on_clay.impression)
    ]
    assert right[0].min() > right[1].max()
    # The darkest square is the cell that bears hardest; its material is what plain shading shows.
    shade = np.zeros(len(picture.data.polygons), dtype=np.int32)
    picture.data.polygons.foreach_get("material_index", shade)
    assert np.argmax(shade[::2]) == np.argmax(GRID) and shade.max() == len(picture.data.materials) - 1
    assert bpy.ops.padwright.show_mat_picture() == {"FINISHED"}  # made anew, not twice
    assert sum(obj.name.endswith(" Mat") for obj in bpy.context.scene.objects) == 1
    assert bpy.ops.padwright.hide_mat_picture() == {"FINISHED"} and on_clay.mat_picture is None


@pytest.mark.parametrize("cell", [(0, 0), (7, 5), (15, 19)])
def test_a_click_on_the_picture_tells_row_and_column_however_it_was_moved_or_scaled(on_clay, inside, cell):
    bpy.ops.padwright.show_mat_picture()
    picture, scan_places = on_clay.mat_picture, inside("blender.scans.scan_places")
    picture.matrix_world = Matrix.Translation((0.1, 0.3, -0.2)) @ Matrix.Scale(3.0, 4) @ picture.matrix_world
    bpy.context.view_layer.update()
    view = view_on(inside, picture, is_flat=True, turn=(0.3, 0.2, 0.1))
    in_job = inside("blender.mats.mat_in_job")
    middle = picture.matrix_world @ Vector(in_job.on_picture(cell))
    pixel = view.pixels(np.array(middle)[None])[0][0]
    place = scan_places.place_under(bpy.context, "mat_picture", view, tuple(pixel))
    assert in_job.cell_at(place.numbers) == pytest.approx(cell, abs=0.051)  # told to a tenth


def clicks(part, inside, cells):
    """Return the session that cells and places were clicked for in turn, and what it asked for each time."""
    pick_session, in_job = inside("blender.scans.pick_session"), inside("blender.mats.mat_in_job")
    operators = inside("blender.mats.operators_mat_places")
    session = operators.PADWRIGHT_OT_pick_mat_places.session(None, bpy.context)
    vertices = part.impression.data.vertices
    asked = []
    for number, cell in enumerate(cells):
        at = vertices[100 * number].co
        for scan, numbers in (("mat_picture", in_job.on_picture(cell)), ("impression", list(at))):
            asked.append(session.line().split("   |")[0])
            session.take(pick_session.PickedPlace(scan, [float(each) for each in numbers], False))
    return session, asked


def in_job_place(inside, cell):
    return inside("blender.mats.mat_in_job").on_picture(cell)


def test_places_are_asked_for_in_turn_and_drawn_on_picture_and_scan(on_clay, inside):
    bpy.ops.padwright.show_mat_picture()
    pick_session = inside("blender.scans.pick_session")
    session, asked = clicks(on_clay, inside, [(7, 5), (7, 14)])
    assert asked == [
        "Place 1: click a cell in the mat's picture", "Place 1: click where that cell lay on the impression scan",
        "Place 2: click a cell in the mat's picture", "Place 2: click where that cell lay on the impression scan",
    ]  # fmt: skip
    assert session.is_on_two and session.wanted.scan == "mat_picture" and not session.wanted.snaps
    assert "Enter: keep 2 places" in session.line() and "Ctrl" not in session.line()
    pick_session.current[:] = [session]
    try:
        items = inside("blender.view.overlay_items").gather(bpy.context)
    finally:
        pick_session.stop()
    matrix = on_clay.mat_picture.matrix_world
    wanted = [matrix @ Vector((5, -7, 0)), on_clay.impression.matrix_world @ on_clay.impression.data.vertices[0].co]
    wanted += [matrix @ Vector((14, -7, 0)), on_clay.impression.matrix_world @ on_clay.impression.data.vertices[100].co]
    assert all(any((Vector(mark.at) - at).length < 1e-5 for mark in items.marks) for at in wanted)
    session.hover = pick_session.PickedPlace("mat_picture", in_job_place(inside, (3.0, 8.2)), False)
    pick_session.current[:] = [session]
    try:
        said = [label.text for label in inside("blender.view.overlay_items").gather(bpy.context).labels]
    finally:
        pick_session.stop()
    assert "Cell 3: row 3, column 8.2" in said  # what a click would take
    third, _ = clicks(on_clay, inside, [(1, 1), (2, 2), (3, 9)])
    assert third.wanted is None and len(third.finished) == 3  # no fourth is asked for


@pytest.mark.parametrize("key", ["ESC", "RET"])
@pytest.mark.parametrize("is_shown", [False, True])
def test_stopped_before_a_place_is_whole_the_picture_is_there_and_lies_as_before(on_clay, inside, key, is_shown):
    picture = inside("blender.mats.mat_picture")
    if is_shown:
        bpy.ops.padwright.show_mat_picture()
        on_clay.mat_picture.matrix_world = Matrix.Translation((0.1, 0.2, 0.3)) @ on_clay.mat_picture.matrix_world
    bpy.context.view_layer.update()
    before = {obj.name: [list(row) for row in obj.matrix_world] for obj in bpy.context.scene.objects}
    operators, pick_session = inside("blender.mats.operators_mat_places"), inside("blender.scans.pick_session")
    said = []

    class Picking(operators.OnPicture):
        def report(self, kind, text):
            said.append(text)

    quiet = SimpleNamespace(screen=None, cursor_modal_restore=lambda: None)
    context = SimpleNamespace(
        scene=bpy.context.scene, view_layer=bpy.context.view_layer, window=quiet,
        workspace=SimpleNamespace(status_text_set=lambda text: None),
    )  # fmt: skip
    one = Picking()
    one._lay = on_clay.mat_picture.matrix_world.copy() if is_shown else None
    picture.show(bpy.context, on_clay)
    one._session, _ = clicks(on_clay, inside, [])
    one._session.take(pick_session.PickedPlace("mat_picture", in_job_place(inside, (7.0, 5.0)), False))
    one._scene, one._looks = context.scene.name, pick_session.Looks(context)
    pick_session.current[:] = [one._session]
    one._looks.both(bpy.context, on_clay.impression, on_clay.mat_picture)
    assert one.modal(context, SimpleNamespace(type=key, value="PRESS")) == {"CANCELLED"}
    assert pick_session.current == [] and not on_clay.mat_places
    assert said[-1].endswith("the scene is as it was")
    bpy.context.view_layer.update()
    after = {obj.name: [list(row) for row in obj.matrix_world] for obj in bpy.context.scene.objects}
    assert after.keys() == before.keys()
    assert all(np.allclose(after[name], before[name], atol=1e-6) for name in before)


def test_kept_places_go_into_the_job_and_lay_the_mat_and_come_back(on_clay, inside):
    scene, load, state = inside("blender.scene"), inside("blender.scene_load"), inside("blender.state")
    on_clay.mat_laid, on_clay.mat_pose = "outline", 2
    corners = np.array(on_clay.impression.bound_box)
    middle, size = corners.mean(axis=0), np.ptp(corners, axis=0)
    cells = [(2.0, 3.0), (13.0, 16.0)]
    points = []
    for share in (-0.2, 0.2):  # two places of the clay, some way apart
        near = on_clay.impression.closest_point_on_mesh(Vector(middle + share * size * [1.0, 1.0, 0.0]))[1]
        points.append(list(near))
    for cell, point in zip(cells, points, strict=True):
        assert bpy.ops.padwright.pick_mat_places("EXEC_DEFAULT", True, cell=cell, point=point) == {"FINISHED"}
    assert (on_clay.mat_laid, on_clay.mat_pose) == ("auto", 0)  # two places say how it lies
    assert state.missing(on_clay, "mats") == ""
    assert bpy.ops.padwright.lay_mat() == {"FINISHED"}
    job = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False)
    assert [place.cell for place in job.mat.places] == cells and job.mat.places_on == "impression"
    made = inside("blender.stage_memory").memory().known(job, scene.work_folder(), "mats")
    assert made.mat.laid == "places"
    placed = inside("core.stages.alignment.placed_scans")
    in_part = placed.body_points(made.of(placed.PlacedScans), points, "impression")
    # Two places fix turn, shift and one scale, so each lies just where it was clicked: to a thousandth of a cell.
    assert np.allclose(made.mat.cells.row_column(in_part).T, cells, atol=1e-3)
    assert state.stale(on_clay, "mats") == ""
    on_clay.mat_places[0].cell = (3.0, 3.0)
    assert state.stale(on_clay, "mats") == "Settings of the pressure mat changed since"
    on_clay.mat_places.clear()
    load.load_into_scene(on_clay, job, scene.work_folder())
    assert [tuple(each.cell) for each in on_clay.mat_places] == cells
    assert np.allclose([each.point for each in on_clay.mat_places], points, rtol=1e-6)


def test_places_are_typed_too_by_cell_or_by_ruler_and_no_more_than_three(with_mat, inside):
    scene, state = inside("blender.scene"), inside("blender.state")
    for number in range(3):
        assert bpy.ops.padwright.add_mat_place() == {"FINISHED"}
        place = with_mat.mat_places[number]
        place.by, place.at_mm, place.cell = ("ruler", "cell", "cell")[number], (12.5, 30.0), (number, 2.5)
        assert f"Place {number + 1} of the mat has no point" in state.missing(with_mat, "mats")
        assert bpy.ops.padwright.pick_mat_point(point=(0.01 * number, 0.0, 0.0)) == {"FINISHED"}
    assert state.missing(with_mat, "mats") == ""
    assert not bpy.ops.padwright.add_mat_place.poll() and not bpy.ops.padwright.pick_mat_places.poll()
    places = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False).mat.places
    assert [(each.cell, each.at_mm) for each in places] == [
        (None, (12.5, 30.0)),
        ((1.0, 2.5), None),
        ((2.0, 2.5), None),
    ]
    shown = draw("mat")
    assert "[mat_places]" in shown and "<padwright.pick_mat_point>" in shown and "[mat_places_on]" not in shown
    assert "[mat_pose]" not in shown and "[mat_accuracy]" in shown
    assert bpy.ops.padwright.remove_mat_place() == {"FINISHED"} and len(with_mat.mat_places) == 2
    with pytest.raises(RuntimeError, match="place is not given"):
        bpy.ops.padwright.pick_mat_places()


def test_a_cell_that_the_mat_does_not_have_is_told_in_the_panel_s_words(on_clay):
    for cell, point in (((2.0, 30.0), (0.0, 0.0, 0.0)), ((2.0, 3.0), (0.05, 0.0, 0.0))):
        bpy.ops.padwright.pick_mat_places(cell=cell, point=point)
    with pytest.raises(RuntimeError, match=r"Place 1 .*\[2, 30\].*columns from 0 to 19") as raised:
        bpy.ops.padwright.lay_mat()
    assert "mat.places" not in str(raised.value)


def test_without_a_readable_file_there_is_no_picture_and_what_is_wrong_is_said(with_mat, tmp_path):
    (tmp_path / "mat.csv").write_text("no numbers here\n")
    with pytest.raises(RuntimeError, match="holds no grid of numbers"):
        bpy.ops.padwright.show_mat_picture()
    assert with_mat.mat_picture is None


@pytest.fixture
def with_foil(part, tmp_path):
    """Return the part with a foil scanned flat, 240 x 192 mm, 50 pixels in an inch."""
    file = np.kron(np.clip(235.0 - 5.0 * GRID, 20.0, 235.0), np.ones((24, 24))).astype(np.uint8)
    picture = bpy.data.images.new("foil", file.shape[1], file.shape[0])
    shown = np.repeat(file[::-1, :, None] / 255.0, 4, axis=2).astype(np.float32)
    shown[..., 3] = 1.0
    picture.pixels.foreach_set(shown.ravel())
    picture.filepath_raw, picture.file_format = str(tmp_path / "foil.png"), "PNG"
    picture.save()
    bpy.data.images.remove(picture)
    part.mat_file = str(tmp_path / "foil.png")
    part.mat_dpi = 50.0
    return part


def test_a_foil_is_laid_on_by_the_same_button_and_comes_back_from_a_job(with_foil, inside):
    state, scene, load = inside("blender.state"), inside("blender.scene"), inside("blender.scene_load")
    said = " ".join(draw("mat"))
    assert "[mat_dpi] [mat_sheet_mm] [mat_dark_bears]" in said and "mat_pitch_mm" not in said and "mat_unit" not in said
    assert bpy.ops.padwright.lay_mat() == {"FINISHED"}
    assert "its numbers have no unit" in state.done(with_foil, "mats").lines
    with_foil.mat_pitch_mm, with_foil.mat_unit, with_foil.mat_frames = (10.0, 10.0), "kPa", "one"  # of tables
    with_foil.mat_dark_bears = False
    job = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False)
    found = job.mat
    assert (found.dpi, found.sheet_mm, found.dark_bears, found.file) == (50.0, None, False, "foil.png")
    assert (found.pitch_mm, found.unit, found.frames, found.frame) == (None, None, "mean", None)
    with_foil.mat_dpi, with_foil.mat_dark_bears = 0.0, True
    load.load_into_scene(with_foil, job, scene.work_folder())
    assert (with_foil.mat_dpi, with_foil.mat_dark_bears) == (50.0, False)
    place = with_foil.mat_places.add()
    place.by, place.pixel, place.point, place.has_point = "pixel", (120.0, 90.0), (1.0, 2.0, 3.0), True
    job = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False)
    assert [(each.pixel, each.cell, each.at_mm) for each in job.mat.places] == [((120.0, 90.0), None, None)]
    load.load_into_scene(with_foil, job, scene.work_folder())
    assert (with_foil.mat_places[0].by, tuple(with_foil.mat_places[0].pixel)) == ("pixel", (120.0, 90.0))
    with_foil.mat_places.clear()
    with_foil.mat_sheet_mm = (210.0, 297.0)
    found = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False).mat
    assert (found.dpi, found.sheet_mm) == (None, (210.0, 297.0))
    assert "mat_dpi" not in (said := " ".join(draw("mat"))) and "[mat_sheet_mm]" in said


def test_what_is_said_of_pictures_is_left_out_of_the_job_of_a_table(with_mat, inside):
    scene = inside("blender.scene")
    with_mat.mat_dpi, with_mat.mat_sheet_mm, with_mat.mat_dark_bears = 300.0, (210.0, 297.0), False
    found = scene.read_scene(bpy.context, scene.work_folder(), with_zones=False).mat
    assert (found.dpi, found.sheet_mm, found.dark_bears) == (None, None, True)
