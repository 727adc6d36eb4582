"""How the print of one revision came out is told in the report of the next."""

from __future__ import annotations

import json
import shutil
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from padwright.cli.main import main
from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.job.write import write_job
from padwright.core.run.compared_revisions import side_by_side
from padwright.core.run.pipeline import run_job
from padwright.core.run.printed_before import read_printed, shape_hash
from padwright.core.run.revisions import read_previous, read_revision
from padwright.core.stages.packing.bundle import run_document
from padwright.core.stages.report.side_by_side import side_by_side_section
from support.flat_pads import flat_tables
from support.printed import printed_scan
from support.writers import write_stl_binary

NAME = "FLAT-1.compare.json"


def tables(folder: Path, revision: str, **more: object) -> dict:
    part = {"name": "Flat pad", "number": "FLAT-1", "family": "seat_pad", "revision": revision, **more}
    made = flat_tables(folder, (80.0, 60.0, 10.0), (0.0, 0.0, 0.0), part=part)
    return {**made, "zones": [{"name": "rest", "level": 2.0, "source": "rest"}]}


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a first revision's job, run and compared with a print that is 2 % too small along x and y."""
    folder = tmp_path_factory.mktemp("printed")
    first = tables(folder, "1")
    job = folder / "job.toml"
    job.write_text(write_job(job_from_tables(first, folder=folder)), "utf-8")
    assert main(["run", str(job)]) == 0
    mesh = read_revision(folder / "out", "FLAT-1", "out").mesh
    scan = printed_scan(mesh, shrinkage_pct=(2.0, 2.0, 0.0), noise_mm=0.05, step=3.0, is_turned=False)
    write_stl_binary(scan.mesh, folder / "print.stl")
    on_bed = 0.98 * float(np.ptp(mesh.vertices[:, 1]))  # it is printed with its length along y of the bed
    asked = ["--unit", "mm", "--extent", f"x={on_bed:.2f}"]
    assert main(["compare", str(job), "--printed", str(folder / "print.stl"), *asked]) == 0
    return folder


def test_the_report_of_the_next_revision_says_how_the_last_was_printed(printed: Path) -> None:
    found = json.loads((printed / "out.compare" / NAME).read_text("utf-8"))
    (asked,) = (each for each in found["corrections"] if each["key"] == "printer.shrinkage_pct")
    assert asked["value"][:2] == pytest.approx([2.0, 2.0], abs=0.5)
    second = {**tables(printed, "2", previous="out"), "printer": {"shrinkage_pct": [1.5, 0.0, 0.0]}, "output": {}}
    made = drain(run_job(job_from_tables(second, folder=printed), printed))
    shown = unescape(made.files["FLAT-1.report.html"].decode())
    shown = shown[shown.index("How revision 1 was printed") :].partition("</section>")[0]
    assert all(f">{words}<" in shown for row in found["told"] for words in row)
    assert ">size along x of the bed<" in shown and " % smaller (" in shown
    value = "[" + ", ".join(str(each) for each in asked["value"]) + "]"
    row = shown[shown.index(">printer.shrinkage_pct<") :].partition("</tr>")[0]
    assert f">{value}<" in row and ">[1.5, 0.0, 0.0]<" in row


@pytest.mark.parametrize("how", ["changed", "earlier"])
def test_a_comparison_that_tells_nothing_is_told_of_and_stops_no_run(printed: Path, tmp_path: Path, how: str) -> None:
    for name in ("out", "out.compare"):
        shutil.copytree(printed / name, tmp_path / name)
    path = tmp_path / "out.compare" / NAME
    found = json.loads(path.read_text("utf-8"))
    if how == "changed":
        path.write_bytes(path.read_bytes().replace(b'"told"', b'"tolt"'))
    else:
        kept = {name: value for name, value in found.items() if name not in ("told", "files", "seal")}
        path.write_bytes(run_document(kept, {}))
    before = read_previous(job_from_tables(tables(printed, "2", previous="out"), folder=printed), tmp_path)
    assert before is not None
    beside = side_by_side(before, before)
    (note,) = (each for each in beside.notes if NAME in each)
    assert {"changed": "the file was changed", "earlier": "an earlier Padwright made it"}[how] in note
    body = side_by_side_section(beside, "").body
    assert note in unescape(body) and "was printed<" not in body


def test_a_comparison_of_another_revision_is_none_of_the_last(printed: Path, tmp_path: Path) -> None:
    assert read_printed(printed / "out", "FLAT-1", "1") is not None
    assert read_printed(printed / "out", "FLAT-1", "1b") is None
    assert read_printed(tmp_path / "out", "FLAT-1", "1") is None


def test_a_print_of_files_made_anew_under_the_same_revision_is_told_apart_by_their_shape(
    printed: Path, tmp_path: Path
) -> None:
    found = read_printed(printed / "out", "FLAT-1", "1")
    assert found is not None and found.told and not found.note
    for name in ("out", "out.compare", "base.stl"):
        if (printed / name).is_dir():
            shutil.copytree(printed / name, tmp_path / name)
    # The same part run again, at another time: the same shape, so it is still the print that was compared.
    again = tmp_path / "job.toml"
    again.write_text((printed / "job.toml").read_text("utf-8"), "utf-8")
    for path in printed.iterdir():
        if path.is_file() and path.name != "job.toml":
            shutil.copy(path, tmp_path / path.name)
    before = shape_hash(tmp_path / "out", "FLAT-1")
    assert before and main(["run", str(again), "--set", 'part.note="again"']) == 0
    assert shape_hash(tmp_path / "out", "FLAT-1") == before
    same = read_printed(tmp_path / "out", "FLAT-1", "1")
    assert same is not None and same.told == found.told
    # Another shape under the same name: what was compared is no print of these files.
    assert main(["run", str(again), "--set", "pad.rim_radius_mm=3.5"]) == 0
    assert shape_hash(tmp_path / "out", "FLAT-1") != before
    other = read_printed(tmp_path / "out", "FLAT-1", "1")
    assert other is not None and not other.told and not other.corrections
    assert "the part has another shape" in other.note and "Compare again" in other.note
