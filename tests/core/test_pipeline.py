"""The whole job on scans whose truth is known: from files to files, and back by an independent reader."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from types import SimpleNamespace

import lib3mf
import numpy as np
import pytest
from tests.support.cases import make_case, moved
from tests.support.remembered import run_by
from tests.support.writers import write_job

from padwright.core.job.read import read_job
from padwright.core.run.memory import StageMemory

TRIANGLES = 30_000


def run(kind: str, folder: Path, *, file_format: str, **case_options) -> SimpleNamespace:
    case = make_case(kind, triangles=TRIANGLES, **case_options)
    job = write_job(case, folder, file_format=file_format)
    memory = StageMemory()
    code = run_by(memory.run, str(job), "--out", str(folder / "out"))
    out = folder / "out"
    document = next(out.glob("*.run.json")) if code == 0 else None
    evidence = json.loads(document.read_text("utf-8")) if document else {}
    return SimpleNamespace(case=case, job=job, memory=memory, code=code, out=out, evidence=evidence)


@pytest.fixture(scope="module")
def seat(tmp_path_factory) -> SimpleNamespace:
    """A seat in meters, 2 % too large, any way round, with holes, debris and a piece of turntable."""
    return run("seat", tmp_path_factory.mktemp("seat"), file_format="ply", unit="m", base_scale_error=1.02)


@pytest.fixture(scope="module")
def grip(tmp_path_factory) -> SimpleNamespace:
    """A wrap-around part with finger grooves, binary STL."""
    return run("grip", tmp_path_factory.mktemp("grip"), file_format="stl", unit="mm", base_scale_error=0.99)


def test_scale_agrees_with_the_truth(seat):
    scale = seat.evidence["scale"]
    assert scale["base"]["factor"] == pytest.approx(seat.case.base_factor, rel=0.003)
    assert scale["impression"]["factor"] == pytest.approx(seat.case.impression_factor, rel=0.003)
    assert scale["base"]["standard_error"] > 0


@pytest.mark.parametrize("name", ["seat", "grip"])
def test_alignment_agrees_with_the_truth_over_the_clay(name, request):
    made = request.getfixturevalue(name)
    found = np.array(made.evidence["alignment"]["impression_to_base"])
    error = found @ np.linalg.inv(made.case.impression_to_base)
    points = made.case.points_in_base
    assert np.linalg.norm(moved(error, points) - points, axis=1).max() < 0.3
    assert np.linalg.det(found[:3, :3]) == pytest.approx(1.0, abs=1e-9)


def test_load_centers_and_spacing_agree_with_the_truth(seat):
    found = seat.evidence["impression"]
    for place, thickness in zip(seat.case.load_centers_in_base, seat.case.truth.load_thickness, strict=True):
        apart = [np.linalg.norm(np.array(center["position_mm"]) - place) for center in found["load_centres"]]
        nearest = found["load_centres"][int(np.argmin(apart))]
        assert min(apart) < 3.0
        assert nearest["thickness_mm"] == pytest.approx(thickness, abs=0.5)
    assert found["spacing_mm"] == pytest.approx(seat.case.truth.spacing_mm, abs=2.0)
    assert found["contact_area_cm2"] == pytest.approx(seat.case.truth.contact_area_mm2 / 100.0, rel=0.1)


@pytest.mark.parametrize("name", ["seat", "grip"])
def test_pad_volume_agrees_with_the_truth(name, request):
    made = request.getfixturevalue(name)
    gap = read_job(made.job).pad.fit_gap_mm
    expected = (made.case.truth.volume_mm3 - gap * made.case.truth.footprint_area_mm2) / 1000.0
    assert made.evidence["pad"]["closed"]
    assert made.evidence["pad"]["volume_cm3"] == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("name", ["seat", "grip"])
def test_regions_add_up_to_the_pad(name, request):
    made = request.getfixturevalue(name)
    regions = made.evidence["regions"]
    # Coordinates in files are whole steps of 1e-4 mm; over the surface that may shift the sum by some 1e-7 of it.
    assert sum(region["volume_cm3"] for region in regions) == pytest.approx(
        made.evidence["pad"]["volume_cm3"], rel=1e-6
    )
    assert all(region["closed"] for region in regions)
    assert {region["firmness_level"] for region in regions} == {2.0, 4.0}


@pytest.mark.parametrize("name", ["seat", "grip"])
def test_an_independent_strict_reader_accepts_the_3mf(name, request):
    made = request.getfixturevalue(name)
    model = lib3mf.Wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(next(made.out.glob("*.project.3mf"))))
    assert reader.GetWarningCount() == 0
    meshes = model.GetMeshObjects()
    names = set()
    while meshes.MoveNext():
        mesh = meshes.GetCurrentMeshObject()
        assert mesh.IsManifoldAndOriented()
        names.add(mesh.GetName())
    assert names == {region["name"] for region in made.evidence["regions"]}


def test_sidecar_lies_inside_and_outside_byte_for_byte(seat):
    outside = next(seat.out.glob("*.settings.json")).read_bytes()
    with zipfile.ZipFile(next(seat.out.glob("*.project.3mf"))) as package:
        assert package.read("3D/Other/settings.json") == outside
    cautions = {caution["code"] for caution in json.loads(outside)["cautions"]}
    assert {"SKIN_CONTACT", "NUMBNESS", "LICENSED_HELP"} <= cautions


def test_every_stage_tells_its_seconds(seat):
    names = [stage["name"] for stage in seat.evidence["stages"]]
    assert names[:4] == ["read, clean and scale", "align", "read the impression", "build the pad"]
    assert all(stage["seconds"] > 0 for stage in seat.evidence["stages"])


def test_mirrored_and_overlapping_part_is_written_on_request(seat, tmp_path):
    text = seat.job.read_text("utf-8").replace("[part]", "[part]\nmirror = true", 1)
    job = seat.job.with_name("mirrored.toml")
    job.write_text(text + '\n[regions]\ncontact = "overlapping"\noverlap_mm = 0.4\n', "utf-8")
    assert run_by(seat.memory.run, str(job), "--out", str(tmp_path / "out")) == 0
    evidence = json.loads(next((tmp_path / "out").glob("*.run.json")).read_text("utf-8"))
    assert evidence["part"]["mirrored"]
    assert all(region["closed"] for region in evidence["regions"])
    total = sum(region["volume_cm3"] for region in evidence["regions"])
    # Each region reaches 0.4 mm into the next, so the sum exceeds the pad by 0.4 mm times the shared area.
    shared = total - evidence["pad"]["volume_cm3"]
    assert 0.001 < shared / evidence["pad"]["volume_cm3"] < 0.02


def test_round_handle_is_refused_with_advice(tmp_path, capsys):
    made = run("round_grip", tmp_path, file_format="stl", unit="mm")
    assert made.code == 4
    assert "pairs" in capsys.readouterr().err
    assert not made.out.exists()
