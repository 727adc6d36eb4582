"""What goes wrong between the stages must end in one clear sentence and the right exit code."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from tests.support.cases import make_case, moved
from tests.support.writers import write_job

from padwright.cli.main import main
from padwright.core.base.errors import InputError
from padwright.core.base.progress import drain
from padwright.core.job.read import parse_job
from padwright.core.job.schema import Job
from padwright.core.stages.alignment.placed_scans import PlacedScans
from padwright.core.stages.pad.work import pad_settings
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.scans.captured import Scan
from padwright.core.stages.scans.work import capture
from padwright.core.stages.stage import Given


@pytest.fixture(scope="module")
def job(tmp_path_factory) -> Path:
    return write_job(make_case("seat", triangles=30_000), tmp_path_factory.mktemp("faults"))


def refused(job: Path, capsys, edit) -> tuple[int, str]:
    text = edit(job.read_text("utf-8"))
    changed = job.with_name("changed.toml")
    changed.write_text(text, "utf-8")
    code = main(["run", str(changed), "--out", str(job.parent / "out")])
    assert not (job.parent / "out").exists()
    return code, capsys.readouterr().err


def test_press_direction_that_points_out_of_the_part_is_told_turned_round(job, capsys):
    def turn_round(text: str) -> str:
        found = re.search(r"press_direction = \[(.*?)\]", text)
        numbers = [-float(word) for word in found[1].split(",")]
        return text.replace(found[0], f"press_direction = {numbers}")

    code, told = refused(job, capsys, turn_round)
    assert code == 2
    assert "points out of the part" in told
    assert "press_direction" in told


def test_impression_in_another_unit_is_told_with_the_likely_one(job, capsys):
    def wrong_unit(text: str) -> str:
        head, tail = text.split("[impression]", 1)
        return head + "[impression]" + re.sub(r'unit = "\w+"', 'unit = "m"', tail, count=1)

    code, told = refused(job, capsys, wrong_unit)
    assert code == 2
    assert 'likely "mm"' in told


def test_pairs_picked_the_wrong_way_round_are_refused(job, capsys):
    case = make_case("seat", triangles=30_000)
    points = case.points_in_base[[0, len(case.points_in_base) // 2, -1]]
    on_impression = moved(np.linalg.inv(case.impression_to_base), points)
    base = points / case.base_factor
    impression = on_impression / case.impression_factor

    def with_pairs(text: str) -> str:
        pairs = "".join(
            f"\n[[alignment.pairs]]\nbase = {there.tolist()}\nimpression = {here.tolist()}\n"
            for here, there in zip(base, impression, strict=True)
        )
        return text.replace("[body]", pairs + "\n[body]", 1)

    code, told = refused(job, capsys, with_pairs)
    assert code == 2
    assert re.search(
        r"alignment\.pairs\[1\]\.base: The base points of the pairs lie [\d.]+ mm away from the base scan, but on the "
        r"impression scan\. Exchange base and impression of every pair",
        told,
    )


def captured_base(job: Job, folder: Path) -> Scan:
    given = Given([each.name for each in fields(Job)], replace(job, impression=None), {}, folder)
    return drain(capture(given)).base


def asked_of_pad(job: Job, base: Scan, folder: Path) -> None:
    pad_settings(Given(["pad"], job, {}, folder), PlacedScans(base, None, np.eye(4)))


@pytest.mark.parametrize(
    ("table", "place"),
    [
        ("[[pad.reliefs]]\nkind = 'opening'\npoints = [[0,0,0], [1e9,0,0], [0,1e9,0]]\n", "pad.reliefs.0.points"),
        (
            "[[pad.reliefs]]\nkind='channel'\nwidth_mm=5\ndepth_mm=3\npoints = [[0,0,0], [1e9,0,0]]\n",
            "pad.reliefs.0.points",
        ),
        ("footprint = [[0,0,0], [1e9,0,0], [0,1e9,0]]\n", "pad.footprint"),
    ],
)
def test_points_far_from_the_scan_are_refused_before_memory_goes(table, place, job):
    text = job.read_text("utf-8")
    text = text.replace("[pad]\n", f"[pad]\n{table}", 1) if table.startswith("footprint") else f"{text}\n{table}"
    given = parse_job(text.encode(), job.name, job.parent)
    with pytest.raises(InputError, match=r"Point [123] at .* lies .* mm away from the base scan") as caught:
        asked_of_pad(given, captured_base(given, job.parent), job.parent)
    assert ".".join(str(each) for each in caught.value.key) == place


def test_a_footprint_of_no_size_is_told(job):
    text = job.read_text("utf-8").replace("[pad]\n", "[pad]\nfootprint = [[0,0,0], [1e-9,0,0], [0,1e-9,0]]\n", 1)
    given = parse_job(text.encode(), job.name, job.parent)
    base = captured_base(given, job.parent)
    start = base.mesh.vertices[0]
    near = replace(given, pad=replace(given.pad, footprint=tuple(map(tuple, start + 1e-3 * np.eye(3)))))
    with pytest.raises(InputError, match=r"footprint is 0\.001 mm across; 5 mm is the least") as caught:
        asked_of_pad(near, replace(base, factor=1.0), job.parent)
    assert caught.value.key == ("pad", "footprint")


def test_coarse_scans_still_show_their_load_centers():
    case = make_case("seat", triangles=8_000, noise_mm=0.2)
    base, impression = case.base_mm, case.impression_aligned
    reading = read_impression(base, impression, press_direction=case.press_direction_in_base)
    assert len(reading.load_centers) == 2
    for place in case.load_centers_in_base:
        assert min(np.linalg.norm(center.position_mm - place) for center in reading.load_centers) < 3.0
