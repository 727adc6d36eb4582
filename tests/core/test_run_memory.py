"""What each stage depends on, told by its key; and the scan file that a scene is saved as."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.job.read import parse_job
from padwright.core.job.schema import Job
from padwright.core.run import stages
from padwright.core.run.memory import StageMemory
from padwright.core.stages.scans.formats.write_ply import write_ply
from padwright.core.stages.scans.read import read_scan
from support.scanned import sphere

STAGES = [stage.name for stage in stages.STAGES]
TEXT = b"""schema = 1
[part]
name = "Pad"
number = "P-1"
family = "seat_pad"
[base]
scan = "base.ply"
unit = "mm"
[impression]
scan = "impression.ply"
unit = "mm"
"""


@pytest.fixture
def job(tmp_path: Path) -> Job:
    for name in ("base.ply", "impression.ply"):
        (tmp_path / name).write_bytes(name.encode())
    return parse_job(TEXT, "job.toml", tmp_path)


def first_changed(folder: Path, before: Job, change: Callable[[Job], Job]) -> str:
    """Return the first stage whose key changes; every later one must change too."""
    memory = StageMemory()
    old = [memory.key(before, folder, stage) for stage in STAGES]
    new = [memory.key(change(before), folder, stage) for stage in STAGES]
    differs = [a != b for a, b in zip(old, new, strict=True)]
    first = differs.index(True) if any(differs) else len(STAGES)
    assert differs == [number >= first for number in range(len(STAGES))]
    return STAGES[first] if first < len(STAGES) else ""


def with_base_content(folder: Path) -> Callable[[Job], Job]:
    def change(job: Job) -> Job:
        (folder / "base.ply").write_bytes(b"other")
        return job

    return change


@pytest.mark.parametrize(
    ("stage", "change"),
    [
        ("", lambda job: replace(job, part=replace(job.part, name="Other", number="P-2"))),
        ("", lambda job: replace(job, output=replace(job.output, stl=False))),
        ("scans", lambda job: replace(job, base=replace(job.base, unit="cm"))),
        ("scans", lambda job: replace(job, datum=replace(job.datum, symmetric=True))),
        ("alignment", lambda job: replace(job, seed=7)),
        ("reading", lambda job: replace(job, impression=replace(job.impression, clay_thickness_mm=20.0))),
        ("reading", lambda job: replace(job, body=replace(job.body, press_direction=(0.0, 0.0, -1.0)))),
        ("pad", lambda job: replace(job, pad=replace(job.pad, fit_gap_mm=0.7))),
        ("zones", lambda job: replace(job, blend=replace(job.blend, steps=2))),
        ("regions", lambda job: replace(job, regions=replace(job.regions, overlap_mm=0.5))),
        ("load", lambda job: replace(job, load=replace(job.load, body_mass_kg=70.0))),
    ],
)
def test_a_change_is_seen_by_the_stage_it_concerns_and_all_later_ones(
    job: Job, tmp_path: Path, stage: str, change: Callable[[Job], Job]
) -> None:
    assert first_changed(tmp_path, job, change) == stage


def test_the_content_of_a_scan_counts_not_its_name(job: Job, tmp_path: Path) -> None:
    assert first_changed(tmp_path, job, with_base_content(tmp_path)) == "scans"


@pytest.mark.parametrize("is_colored", [True, False])
def test_a_saved_scan_reads_back_as_it_was(is_colored: bool) -> None:
    ball = sphere(rows=8, columns=10)
    colors = np.random.default_rng(0).integers(0, 256, (len(ball.vertices), 4), dtype=np.uint8) if is_colored else None
    mesh = TriMesh(ball.vertices / 3.0, ball.faces, colors)
    found = read_scan(write_ply(mesh, comment="a test"), "ball.ply")
    assert np.array_equal(found.mesh.vertices, mesh.vertices)
    assert np.array_equal(found.mesh.faces, mesh.faces)
    assert found.mesh.colors is None if colors is None else np.array_equal(found.mesh.colors, colors)
    assert found.notes == ()
