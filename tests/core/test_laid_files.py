"""The files of a part as who prints it opens them: on the bed, right side down, regions still fitting each other."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from tests.support.documents import read_model
from tests.support.flat_pads import flat_job

from padwright.core.base.progress import drain
from padwright.core.run.memory import StageMemory

SIZE, AT = (90.0, 70.0, 12.0), (300.0, -700.0, 150.0)  # scanned far from the file's origin


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Mapping[str, bytes]]:
    """Run a pad that was scanned far from its file's origin: whole, in part, and mirrored."""
    folder: Path = tmp_path_factory.mktemp("laid")
    memory = StageMemory()
    job = flat_job(folder, SIZE, AT)
    found = {"whole": drain(memory.run(job, folder)).files}
    found["selection"] = drain(memory.run(job, folder, ["middle"])).files
    found["mirrored"] = drain(memory.run(replace(job, part=replace(job.part, mirror=True)), folder)).files
    return found


def stls(files: Mapping[str, bytes]) -> dict[str, trimesh.Trimesh]:
    return {
        name.split(".")[-2]: trimesh.load_mesh(io.BytesIO(data), file_type="stl")
        for name, data in files.items()
        if name.endswith(".stl")
    }


def document(files: Mapping[str, bytes]) -> dict[str, object]:
    return dict(json.loads(next(data for name, data in files.items() if name.endswith("settings.json"))))


@pytest.mark.parametrize("run", ["whole", "mirrored"])
def test_stls_lie_on_the_bed_base_side_down_and_share_their_inner_faces(runs, run):
    found = stls(runs[run])
    low = np.min([mesh.bounds[0] for mesh in found.values()], axis=0)
    high = np.max([mesh.bounds[1] for mesh in found.values()], axis=0)
    assert low == pytest.approx([0.0, 0.0, 0.0], abs=1e-4)
    assert high[2] == pytest.approx(SIZE[2] - 0.4, abs=0.05)  # the pad's height, less the fit gap: it lies flat
    assert all(mesh.bounds[0][2] == pytest.approx(0.0, abs=1e-4) for mesh in found.values())
    points = [{tuple(point) for point in mesh.vertices} for mesh in found.values()]
    assert len(points) == 2 and len(points[0] & points[1]) > 20  # bit for bit


def test_settings_say_in_which_frame_each_file_is_and_how_to_get_there(runs):
    told = document(runs["whole"])
    package, *others = told["files"]
    assert told["schema_version"] == "1.5.0"
    assert package["mesh_frame"] == "part" and package["opens"].startswith("on the bed, base side down, every region")
    shapes, _, _ = read_model(runs["whole"]["FLAT-1.project.3mf"])
    for each in others:
        assert each["mesh_frame"] == "bed" and each["opens"].startswith("on the bed, base side down, in its place")
        assert each["part_to_mesh"] == told["coordinate_frame"]["to_bed"]
        motion = np.array(each["part_to_mesh"]).reshape(4, 4)
        corners = next(shape["corners"] for shape in shapes if shape["id"] == each["region_id"]).reshape(-1, 3)
        laid = corners @ motion[:3, :3].T + motion[:3, 3]
        bounds = stls(runs["whole"])[each["region_id"]].bounds
        assert bounds == pytest.approx(np.array([laid.min(axis=0), laid.max(axis=0)]), abs=1e-4)


def test_a_region_packed_alone_still_fits_the_others(runs):
    alone, whole = stls(runs["selection"])["middle"], stls(runs["whole"])["middle"]
    assert np.array_equal(alone.triangles, whole.triangles)
    entry = document(runs["selection"])["files"][1]
    assert entry["part_to_mesh"] == document(runs["whole"])["files"][1]["part_to_mesh"]
    assert "where it lies in the whole part" in entry["opens"]
