"""A run from memory against a whole run, and a selection of the part's regions against the whole part."""

from __future__ import annotations

import json
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import lib3mf
import numpy as np
import pytest
import trimesh
from tests.support.cases import make_case
from tests.support.remembered import largest_leap, run_by
from tests.support.writers import write_job

from padwright.core.base.progress import Progress, drain
from padwright.core.job.read import read_job
from padwright.core.run.memory import StageMemory
from padwright.core.run.pipeline import PACKING, run_job
from padwright.core.run.stages import STAGES
from padwright.core.stages.packing.bundle import listed_files
from support.documents import sidecar_faults


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    case = make_case("seat", triangles=12_000, noise_mm=0.1, pose="small", turntable=False)
    return write_job(case, tmp_path_factory.mktemp("seat"), has_pages=True).parent


@pytest.fixture(scope="module")
def whole(folder: Path) -> Path:
    """The whole part as the command line writes it."""
    seen: list[Progress] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1700000000")
        assert run_by(run_job, str(folder / "job.toml"), "--out", str(folder / "whole"), seen=seen) == 0
    assert largest_leap(seen) < 0.5  # of folded walls: test_run_cutaway.py, test_run_folds.py
    return folder / "whole"


@pytest.fixture
def date(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")


@pytest.fixture(scope="module")
def first_run(folder: Path) -> SimpleNamespace:
    """A memory that knew nothing, and what it made."""
    memory = StageMemory()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1700000000")
        result = drain(memory.run(read_job(folder / "job.toml"), folder))
    return SimpleNamespace(memory=memory, worked_out=memory.worked_out, files=result.files)


@pytest.fixture
def memory(first_run: SimpleNamespace) -> StageMemory:
    return first_run.memory


def ids_of(out: Path) -> list[str]:
    document = json.loads(next(out.glob("*.run.json")).read_text("utf-8"))
    return [region["id"] for region in document["regions"]]


def test_a_remembered_part_is_only_packed_and_gives_the_same_bytes(folder, whole, memory, date):
    job = read_job(folder / "job.toml")
    steps: list[Progress] = []
    result = drain(memory.run(job, folder), steps.append)
    assert memory.worked_out == []
    assert result.files == {name: (whole / name).read_bytes() for name in result.files}
    assert {path.name for path in whole.iterdir()} == {*result.files, f"{job.part.number}.run.json"}
    fractions = [step.fraction for step in steps]
    assert fractions == sorted(fractions) and fractions[-1] == 1.0
    assert len(steps) >= len(result.part.regions.regions) + 4  # it can be stopped between files


def test_packing_that_was_stopped_can_be_done_again(folder, whole, memory, date):
    job = read_job(folder / "job.toml")
    for number in range(1, 5):
        steps = memory.run(job, folder)
        for _ in range(number):
            next(steps)
        steps.close()
    result = drain(memory.run(job, folder))
    assert result.files == {name: (whole / name).read_bytes() for name in result.files}


def test_evidence_from_memory_differs_in_seconds_only(folder, whole, memory, date):
    found = drain(memory.run(read_job(folder / "job.toml"), folder)).evidence
    told = json.loads(next(whole.glob("*.run.json")).read_text("utf-8"))
    stages, written = found.pop("stages"), told.pop("stages")
    assert [each["name"] for each in stages] == [each["name"] for each in written]
    del told["evidence_sha256"], told["files"], told["seal"]
    assert json.loads(json.dumps(found)) == told


def test_a_run_tells_the_steps_of_the_list_of_stages(whole, folder):
    told = json.loads(next(whole.glob("*.run.json")).read_text("utf-8"))
    job = read_job(folder / "job.toml")
    titles = [step.title for stage in STAGES for step in stage.steps if step.is_wanted(job)]
    assert [each["name"] for each in told["stages"]] == [*titles, PACKING]


def test_a_scan_read_under_another_name_is_packed_under_its_name_of_now(folder, memory, date):
    shutil.copy(folder / "base.ply", folder / "renamed.ply")
    job = read_job(folder / "job.toml")
    renamed = replace(job, base=replace(job.base, scan="renamed.ply"))
    result = drain(memory.run(renamed, folder))
    assert memory.worked_out == []
    sidecar = json.loads(result.files[f"{job.part.number}.settings.json"])
    assert [each["file"] for each in sidecar["provenance"]["inputs"]] == ["renamed.ply", "impression.ply"]


def test_what_was_not_remembered_is_worked_out(first_run, whole):
    # A job of settings without a scan of the body or a mat has nothing to do for these.
    resting = ("body", "mats", "folds", "shape")
    assert first_run.worked_out == [stage.name for stage in STAGES if stage.name not in resting]
    assert first_run.files == {name: (whole / name).read_bytes() for name in first_run.files}


@pytest.fixture(scope="module")
def selection(folder: Path, whole: Path, first_run: SimpleNamespace) -> tuple[Path, list[str]]:
    """The first of the part's regions, into the folder of the whole part."""
    chosen = ids_of(whole)[:1]
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1700000000")
        assert run_by(first_run.memory.run, str(folder / "job.toml"), "--out", str(whole), "--only", *chosen) == 0
    return whole, chosen


def test_a_selection_lies_beside_the_whole_part_under_names_of_its_own(selection, folder):
    out, chosen = selection
    number = read_job(folder / "job.toml").part.number
    names = {path.name for path in out.glob(f"{number}.selection.*")}
    ending = {f"{number}.selection.{each}" for each in ("project.3mf", "settings.json", "sheet.html", "json")}
    assert names == ending | {f"{number}.selection.{each}.stl" for each in chosen}
    whole = listed_files((out / f"{number}.run.json").read_bytes())
    assert whole is not None and not whole.keys() & names
    assert listed_files((out / f"{number}.selection.json").read_bytes()).keys() == names - {f"{number}.selection.json"}


def test_a_selected_region_has_the_shape_and_place_it_has_in_the_part(selection, folder):
    out, chosen = selection
    number = read_job(folder / "job.toml").part.number
    for each in chosen:
        alone, in_part = (trimesh.load(out / f"{name}.{each}.stl") for name in (f"{number}.selection", number))
        assert np.array_equal(alone.triangles, in_part.triangles)
    model = lib3mf.Wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(out / f"{number}.selection.project.3mf"))
    assert reader.GetWarningCount() == 0 and model.GetMeshObjects().Count() == len(chosen)
    assert model.GetOutbox().MinCoordinate[2] == pytest.approx(0.0, abs=1e-4)  # it lies on the bed by itself


def test_a_selection_says_so_wherever_one_looks(selection, folder, capsys):
    out, chosen = selection
    number = read_job(folder / "job.toml").part.number
    left = [each for each in ids_of(out) if each not in chosen]
    sidecar = json.loads((out / f"{number}.selection.settings.json").read_text("utf-8"))
    assert sidecar_faults(sidecar) == []
    assert sidecar["x_selection"]["of"] == number and sidecar["x_selection"]["left_out"] == left
    assert [region["id"] for region in sidecar["regions"]] == chosen
    assert sidecar["part"]["name"].endswith("(selection)") and left[0] in sidecar["part"]["description"]
    assert set(sidecar["predicted"]) == {"mass_g", "print_time_min", "filament_m"}
    whole = json.loads((out / f"{number}.settings.json").read_text("utf-8"))
    assert sidecar["part"]["uuid"] != whole["part"]["uuid"]
    assert sidecar["predicted"]["mass_g"]["value"] < whole["predicted"]["mass_g"]["value"]
    with zipfile.ZipFile(out / f"{number}.selection.project.3mf") as package:
        assert f"of the {len(chosen) + len(left)} regions of {number}" in package.read("3D/3dmodel.model").decode()
    document = json.loads((out / f"{number}.selection.json").read_text("utf-8"))
    assert document["selection"]["regions"] == chosen and "pad" not in document and "load" not in document


def test_a_region_that_there_is_not_is_refused_with_those_there_are(folder, whole, memory, capsys, tmp_path):
    assert run_by(memory.run, str(folder / "job.toml"), "--out", str(tmp_path / "out"), "--only", "nose") == 2
    told = capsys.readouterr().err
    assert 'There is no region "nose"' in told and all(each in told for each in ids_of(whole))
    assert not (tmp_path / "out").exists()


def test_a_selection_of_a_mirrored_part_is_mirrored_with_the_part(folder, memory, date):
    job = read_job(folder / "job.toml")
    mirrored = replace(job, part=replace(job.part, mirror=True))
    whole = drain(memory.run(mirrored, folder)).files
    first = next(iter(name for name in whole if name.endswith(".stl")))
    region = first.removeprefix(f"{job.part.number}.").removesuffix(".stl")
    alone = drain(memory.run(mirrored, folder, [region])).files[f"{job.part.number}.selection.{region}.stl"]
    assert alone[80:] == whole[first][80:]  # the head of a binary STL holds its name
