"""A pressure mat in the window: its file is laid on by the same work as from the command line, and shown."""

from __future__ import annotations

import bpy
import numpy as np
import pytest
from tests.blender.test_panels import draw

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
