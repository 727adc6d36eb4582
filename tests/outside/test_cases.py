"""The test data itself: the truth agrees with the meshes, another library reads the files, the demo is what it says."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path

import numpy as np
import pytest
import trimesh
from tests.support.cases import KINDS, Case, make_case, moved
from tests.support.truth import height_truth
from tests.support.writers import write_job, write_scan

from padwright.core.base.mesh import TriMesh

ROOT = Path(__file__).resolve().parents[2]
NAMES = ["seat", "insole", "liner", "nose_pad", "grip", "round_grip"]
CLEAN = {"noise_mm": 0.0, "holes": False, "debris": False, "turntable": False, "pose": "none"}


def enclosed(mesh: TriMesh) -> float:
    """Volume of an open scan closed by fans over its borders, by the other library."""
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    points, faces = [solid.vertices], [solid.faces]
    edge = mesh.boundary_edges
    loops = trimesh.graph.connected_components(edge, nodes=np.unique(edge))
    for count, loop in enumerate(loops):
        of_loop = edge[np.isin(edge[:, 0], loop)]
        faces.append(np.column_stack([of_loop[:, ::-1], np.full(len(of_loop), len(mesh.vertices) + count)]))
        points.append(mesh.vertices[loop].mean(axis=0)[None])
    return float(trimesh.Trimesh(np.concatenate(points), np.concatenate(faces), process=False).volume)


@pytest.mark.parametrize("kind", NAMES)
def test_pad_volume_is_the_difference_of_the_two_closed_scans(kind):
    case = make_case(kind, **CLEAN)
    # Both scans end in the same border, so what the border's fan adds cancels; flat triangles over curved clay and its
    # sharp toe leave 0.13 % at most (measured), which falls with the size of the triangles.
    between = enclosed(case.impression) - enclosed(case.base)
    assert between == pytest.approx(case.truth.volume_mm3, rel=0.003)


def test_height_truth_does_not_depend_on_its_grid():
    from demo_shapes import seat_part

    part = seat_part()
    fine, coarse = height_truth(part, 0.0, step=0.3), height_truth(part, 0.0, step=0.6)
    assert coarse.volume_mm3 == pytest.approx(fine.volume_mm3, rel=2e-4)
    assert coarse.contact_area_mm2 == pytest.approx(fine.contact_area_mm2, rel=2e-3)


@pytest.mark.parametrize("kind", NAMES)
def test_impression_shows_some_of_the_base(kind):
    assert 0.2 < make_case(kind).truth.overlap_share < 0.46


@pytest.mark.parametrize("kind", NAMES)
def test_the_true_motions_agree_with_each_other(kind):
    case = make_case(kind, seed=4, unit="cm", base_scale_error=1.02, impression_scale_error=0.97)
    assert np.linalg.det(case.impression_to_base[:3, :3]) == pytest.approx(1.0, abs=1e-12)
    for length in case.lengths:
        for role, factor in (("base", case.base_factor), ("impression", case.impression_factor)):
            start, end = getattr(length, f"{role}_from"), getattr(length, f"{role}_to")
            assert np.linalg.norm(end - start) * 10.0 * factor == pytest.approx(length.measured_mm, rel=1e-12)
        in_base = moved(case.impression_to_base, length.impression_from * 10.0 * case.impression_factor)
        np.testing.assert_allclose(in_base[0], length.base_from * 10.0 * case.base_factor, atol=1e-9)


def test_the_same_seed_makes_the_same_case_and_another_another():
    first, again, other = (make_case("grip", seed=seed, triangles=4000) for seed in (1, 1, 2))
    np.testing.assert_array_equal(first.impression.vertices, again.impression.vertices)
    assert not np.allclose(first.impression_to_base, other.impression_to_base)


@pytest.fixture(scope="module")
def small() -> Case:
    return make_case("insole", triangles=2000, unit="cm")


@pytest.mark.parametrize("file_format", ["stl", "stl ascii", "obj", "ply", "ply big", "ply ascii", "off"])
def test_another_library_reads_what_the_writers_write(small, file_format, tmp_path):
    path = write_scan(small.base, tmp_path, "base", file_format)
    read = trimesh.load(path, process=False, force="mesh")
    np.testing.assert_allclose(read.triangles, small.base.triangles, atol=1e-5)


def test_job_has_both_scans_and_its_truth(small, tmp_path):
    job = tomllib.loads(write_job(small, tmp_path, file_format="obj").read_text("utf-8"))
    assert {job["base"]["scan"], job["impression"]["scan"]} <= {path.name for path in tmp_path.iterdir()}


def demo_script():
    spec = importlib.util.spec_from_file_location("make_demo_scans", ROOT / "scripts" / "make_demo_scans.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(("role", "most_bytes"), [("base", 1_500_000), ("impression", 1_500_000)])
def test_shipped_demo_scans_lie_on_their_formulas(role, most_bytes):
    script = demo_script()
    path = ROOT / "shared" / "demo" / f"{role}.ply"
    assert path.stat().st_size < most_bytes
    pose, part = script.pose_of(role), script.seat_part(script.CLAY_MM)
    mesh = trimesh.load(path, process=False)
    true = moved(np.linalg.inv(pose), mesh.vertices * script.MM_PER_UNIT / script.SCALE_ERROR)
    height = part.impression if role == "impression" else part.base
    x, y, z = true.T
    # Away from walls and edges, where the noise along the normal is the noise in height.
    reach = 0.5
    slope = np.hypot(height(x + reach, y) - height(x - reach, y), height(x, y + reach) - height(x, y - reach))
    flat = (slope < 0.15) & (np.abs(x) < 140.0) & (np.abs(y) < 85.0) & (np.abs(z - height(x, y)) < 1.5)
    assert flat.sum() > 3000
    assert np.std((z - height(x, y))[flat]) == pytest.approx(script.NOISE_MM, rel=0.05)


def test_shipped_demo_jobs_are_the_ones_the_script_makes():
    script = demo_script()
    made = script.job_of(script.seat_part(script.CLAY_MM))
    for name, job in (("job.toml", made), ("folds.toml", script.folded(made))):
        assert tomllib.loads((ROOT / "shared" / "demo" / name).read_text("utf-8")) == tomllib.loads(job)
    assert set(NAMES) <= set(KINDS)
