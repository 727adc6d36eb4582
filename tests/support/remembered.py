"""Whole runs of one job and its variants, whose common stages are worked out once for all tests of a process.

That a run from memory has the bytes of one without is what tests/core/test_run_selection.py holds.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from padwright.cli.main import main
from padwright.core.base.progress import Progress, Steps, drain
from padwright.core.job.read import read_job
from padwright.core.run import pipeline
from padwright.core.run.memory import StageMemory
from padwright.core.run.parts import MadePart
from padwright.core.run.pipeline import RunResult

from .cases import make_case
from .writers import write_job

FOLDED = """
[fill]
kind = "folds"
[load]
body_mass_kg = 72
share = 0.6
[[load.cases]]
name = "leaning"
force_n = 300
"""
"""What makes of the seat a pad of folded walls, one job for all tests that look at the solid."""


@cache
def memory_of(name: str) -> StageMemory:
    """Return the memory of all tests that work on the scans of this name."""
    return StageMemory()


def seat_job(folder: Path, extra: str) -> Path:
    """Write the job of a seat that any bed holds, with its scans beside it; `memory_of("seat")` knows them."""
    job = write_job(make_case("seat", triangles=20_000), folder, extra=extra)
    job.write_text(job.read_text("utf-8").replace("[printer]", "[printer]\nbed_mm = [500, 500, 300]"), "utf-8")
    return job


def reached(memory: StageMemory, job: Path, stage: str, seen: list[Progress] | None = None) -> MadePart:
    """Return the part of a job file after a stage; the progress is put into `seen`."""
    return drain(memory.reach(read_job(job), job.parent, stage), None if seen is None else seen.append)


def run_by(way: Callable[..., Steps[RunResult]], *arguments: str, seen: list[Progress] | None = None) -> int:
    """Do `padwright run` as from the command line and return the exit code.

    `way` makes the part: `pipeline.run_job`, or a memory's `run`. Its progress is put into `seen`.
    """

    def noted(*given: Any) -> Steps[RunResult]:
        steps = way(*given)
        try:
            while True:
                step = next(steps)
                if seen is not None:
                    seen.append(step)
                yield step
        except StopIteration as end:
            return end.value

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "run_job", noted)
        return main(["run", *arguments])


def largest_leap(seen: list[Progress]) -> float:
    """Return the largest step of a progress, which must never fall and end at 1."""
    fractions = [step.fraction for step in seen]
    assert fractions == sorted(fractions) and fractions[-1] == 1.0
    return max(after - before for before, after in itertools.pairwise(fractions))
