"""`check`: what it says of a job is what a run does with it, and it ends as the run would."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from padwright.cli import main as cli
from padwright.core.job.cards import load_family
from padwright.core.job.load_tables import Case
from padwright.core.job.read import parse_job, read_job
from padwright.core.run import outlook as outlook_module
from padwright.core.run.outlook import outlook, why_not
from padwright.core.run.pipeline import PACKING, STAGES
from padwright.core.stages.load.job_loads import is_loaded, keyed_cases
from padwright.core.stages.scans.file_head import HEAD_BYTES
from support.painted import obj_files, rings, textured
from support.scan_files import binary_stl, glb
from support.scanned import grid

DEMO = Path(__file__).resolve().parents[2] / "shared" / "demo"
JOB = """\
schema = 1
[part]
name = "Seat pad"
number = "PAD-1"
family = "seat_pad"
[base]
scan = "base.stl"
unit = "mm"
[impression]
scan = "impression.glb"
[load]
body_mass_kg = 75
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text(JOB)
    (tmp_path / "base.stl").write_bytes(binary_stl())
    (tmp_path / "impression.glb").write_bytes(glb())
    return tmp_path / "job.toml"


def said(capsys, *argv: object) -> tuple[int, str, list[str]]:
    """Return the exit code, the text as one line without the breaks, and the errors."""
    code = cli.main(["check", *map(str, argv)])
    told = capsys.readouterr()
    assert len(told.out.splitlines()) <= 25 and all(len(line) <= 110 for line in told.out.splitlines())
    return code, " ".join(told.out.split()), told.err.splitlines()


def test_a_fine_job_is_told_in_one_screen_and_nothing_is_written(job, capsys):
    before = sorted(path.name for path in job.parent.iterdir())
    code, text, errors = said(capsys, job)
    assert (code, errors) == (0, [])
    for words in (
        "Seat pad (PAD-1, Seat pad)",
        "Base scan: base.stl, STL BINARY, 0.3 kB, 4 faces; read in mm, as the job says; its own size is trusted",
        "Impression scan: impression.glb, GLB, ",
        "4 vertices, 4 faces; read in m, as its format states; corrected as the base scan",
        'It will not: tune: target.goal is "levels".',
        "PAD-1.project.3mf, PAD-1.settings.json, PAD-1.run.json, PAD-1.sheet.html, PAD-1.report.html, "
        "PAD-1.places.svg, PAD-1.<region>.stl for each region",
        "No fault was found",
    ):
        assert words in text
    assert sorted(path.name for path in job.parent.iterdir()) == before


def test_the_demo_is_fine_and_its_counts_are_those_of_its_scans(capsys):
    code, text, errors = said(capsys, DEMO / "job.toml", "--out", "/tmp")
    assert (code, errors) == (0, [])
    assert "24136 vertices, 47473 faces; read in m, as the job says; corrected by 2 check lengths" in text


def test_a_variant_is_told(job, capsys):
    _, text, _ = said(capsys, job, "--set", "target.goal=even", "--set", "output.stl=false")
    assert 'tune (target.goal is "even")' in text and "<region>" not in text
    assert "Set on the command line, beside the job file: target.goal" in text


@pytest.mark.parametrize(
    ("spoil", "code", "says"),
    [
        (lambda f: (f / "base.stl").unlink(), 2, ['base.scan: the file "base.stl" is not there']),
        (lambda f: edit(f, "unit =", "unti ="), 2, ["job.toml:8: base.unti: there is no such key"]),
        (lambda f: cut(f / "base.stl", 30), 3, ["states 4 triangles but ends within triangle 4"]),
        (lambda f: edit(f, 'unit = "mm"\n', ""), 2, ["job.toml:6: base.unit: The unit of the base scan is not stated"]),
        (
            lambda f: (cut(f / "base.stl", 30), cut(f / "impression.glb", 1)),
            3,
            ["states 4 triangles but ends", "The GLB file states"],
        ),
        (
            lambda f: (edit(f, "body_mass_kg = 75", '[target]\ngoal = "even"'), cut(f / "base.stl", 30)),
            2,
            ["load.body_mass_kg: This key is missing; tuning needs it", "states 4 triangles but ends"],
        ),
        (
            lambda f: edit(f, "body_mass_kg = 75", 'body_mass_kg = 75\nshare = 0\n[target]\ngoal = "even"'),
            2,
            ["load.share: It is 0, so there is no load to tune to."],
        ),
        (lambda f: (f / "out").write_text("a file"), 2, ["is a file, not a folder"]),
        (lambda f: other_part(f), 2, ["holds part PAD-9; this job makes part PAD-1"]),
        (
            lambda f: edit(f, '[impression]\nscan = "impression.glb"', '[pad]\nenvelope = "base.stl"'),
            2,
            ["body.press_direction: Without an impression the press direction cannot be found"],
        ),
    ],
)
def test_what_a_run_would_stop_at_is_told_with_the_exit_code_of_the_run(spoil, code, says, job, capsys):
    spoil(job.parent)
    found, _, errors = said(capsys, job)
    assert found == code and len(errors) == len(says)
    assert all(words in error for words, error in zip(says, errors, strict=True))
    assert cli.main(["run", str(job)]) == code
    assert capsys.readouterr().err.splitlines()[0] == errors[0]  # a run meets the first of them first


def test_a_load_that_is_missing_is_not_one_that_was_given(job, capsys):
    """A family whose parts carry no weight has a share of 0: more weight is no load then."""
    assert "check the load" not in said(capsys, job)[1].split("It will not:")[1]
    unweighed = said(capsys, job, "--set", "load.share=0")[1]
    assert "no load is given; give load.force_n, or a load.share above 0" in unweighed
    edit(job.parent, "body_mass_kg = 75", "")
    assert "no load is given; give load.body_mass_kg" in said(capsys, job)[1]


def edit(folder: Path, old: str, new: str) -> None:
    text = (folder / "job.toml").read_text()
    assert old in text
    (folder / "job.toml").write_text(text.replace(old, new, 1))


def cut(path: Path, count: int) -> None:
    path.write_bytes(path.read_bytes()[:-count])


def other_part(folder: Path) -> None:
    (folder / "out").mkdir()
    (folder / "out" / "PAD-9.run.json").write_text(json.dumps({"part": {"number": "PAD-9"}}))


def test_the_last_run_of_the_same_part_is_said_to_be_replaced(job, capsys):
    (job.parent / "out").mkdir()
    (job.parent / "out" / "PAD-1.run.json").write_text(json.dumps({"part": {"number": "PAD-1"}}))
    assert "those of the last run there are replaced" in said(capsys, job)[1]


def test_no_more_than_the_heads_of_large_scans_is_read(job, monkeypatch):
    with (job.parent / "base.stl").open("wb") as file:
        file.write(b"scan".ljust(80) + (2_000_000).to_bytes(4, "little"))
        file.truncate(84 + 50 * 2_000_000)
    asked: list[int] = []
    real = outlook_module.read_scan_head

    def no_whole_scan(*_: object, **named: object) -> bytes:
        raise AssertionError("a scan was read")

    monkeypatch.setattr("padwright.core.stages.stage.read_named", no_whole_scan)
    monkeypatch.setattr(outlook_module, "read_scan_head", lambda *each: asked.append(1) or real(*each))
    found = outlook(read_job(job), job.parent, job.parent / "out")
    assert "100.0 MB, 2000000 faces" in " ".join(found.lines) and len(asked) == 2 and HEAD_BYTES <= 1 << 20


def test_every_step_of_a_run_is_told_as_done_or_not(job, capsys):
    text = said(capsys, job)[1]
    walls = [step.title for stage in STAGES if stage.name in ("folds", "shape") for step in stage.steps]
    unasked = [*walls, "lay the mat", "press the body into clay"]
    titles = [step.title for stage in STAGES for step in stage.steps if step.title not in unasked]
    assert all(title in text for title in [*titles, PACKING]) and not any(title in text for title in unasked)
    (job.parent / "mat.csv").write_text("0,1,2\n1,3,2\n0,1,1\n")
    assert "lay the mat" in said(capsys, job, "--set", "mat.file=mat.csv")[1]
    text = said(capsys, job, "--set", "fill.kind=folds")[1]
    assert all(title in text for title in [*titles, *walls])
    shutil.copy(job.parent / "base.stl", job.parent / "solid.stl")
    edit(job.parent, '[impression]\nscan = "impression.glb"', '[pad]\nenvelope = "solid.stl"')
    code, text, _ = said(capsys, job, "--set", "body.press_direction=[0, 0, -1]", "--set", "load.body_mass_kg=1")
    assert code == 0 and "It will not: align: there is no impression scan; read the impression: there is" in text


def test_why_not_follows_the_list_of_stages():
    job = parse_job(JOB.encode(), "job.toml", None)
    wanted = {step.title: step.is_wanted(job) for stage in STAGES for step in stage.steps}
    reasons = {step.title: why_not(step, job) for stage in STAGES for step in stage.steps}
    assert {title for title, reason in reasons.items() if reason} == {
        title for title, is_wanted in wanted.items() if not is_wanted
    }


@pytest.mark.parametrize("press", ["inward", (0.0, 0.0, -1.0)])
@pytest.mark.parametrize(
    "load",
    [
        {},
        {"body_mass_kg": 75.0},
        {"force_n": 0.0, "body_mass_kg": None},
        {"force_n": 90.0, "body_mass_kg": None},
        {"squeeze_n": 40.0},
        {"grip_pressure_kpa": 0.0},
        {"cases": (Case(name="forward", force_n=50.0),), "grip_pressure_kpa": 0.0},
        {"cases": (Case(name="forward"),), "grip_pressure_kpa": 0.0},
    ],
)
def test_a_load_is_seen_before_there_is_a_part(press, load):
    """The same as when the part is there and its loads are made."""
    job = parse_job(JOB.encode(), "job.toml", None)
    job = replace(
        job,
        body=replace(job.body, press_direction=press),
        load=replace(job.load, **{"body_mass_kg": None, **load}),
    )
    pad = SimpleNamespace(press_direction=None if press == "inward" else press)
    part = SimpleNamespace(job=job, pad=pad, family=load_family("seat_pad"))
    assert is_loaded(job) == bool(keyed_cases(part))


def test_a_scans_picture_that_is_not_there_is_told_where_a_zone_asks_for_colors(tmp_path, capsys):
    steps = np.arange(0.0, 61.0, 20.0)
    files = obj_files(textured(grid(steps, steps, lambda x, y: 0 * x), rings(), 4))
    (tmp_path / "clay.obj").write_bytes(files["clay.obj"])
    (tmp_path / "clay.mtl").write_bytes(files["clay.mtl"])
    (tmp_path / "base.stl").write_bytes(binary_stl())
    job = (
        'schema = 1\n[part]\nname = "P"\nnumber = "P-1"\nfamily = "seat_pad"\n[base]\nscan = "base.stl"\nunit = "mm"\n'
        '[impression]\nscan = "clay.obj"\nunit = "mm"\n'
        '[[zones]]\nname = "a"\nlevel = 1\nsource = "color_marks"\ncolor = "red"\n'
        '[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"\n'
    )
    (tmp_path / "job.toml").write_text(job)
    assert cli.main(["check", str(tmp_path / "job.toml")]) != 0
    assert 'beside the scan "clay.png" is not there' in capsys.readouterr().err
    (tmp_path / "CLAY.png").write_bytes(files["clay.png"])
    cli.main(["check", str(tmp_path / "job.toml")])
    assert "beside the scan" not in capsys.readouterr().err
