"""Whole runs of one job and its variants, whose common stages are worked out once for all tests of a process.

That a run from memory has the bytes of one without is what tests/core/test_run_selection.py holds.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from padwright.cli.main import main
from padwright.core.base.progress import drain
from padwright.core.job.read import read_job
from padwright.core.run import pipeline
from padwright.core.run.memory import StageMemory
from padwright.core.run.parts import MadePart


@cache
def memory_of(name: str) -> StageMemory:
    """Return the memory of all tests that work on the scans of this name."""
    return StageMemory()


def reached(memory: StageMemory, job: Path, stage: str) -> MadePart:
    """Return the part of a job file after a stage."""
    return drain(memory.reach(read_job(job), job.parent, stage))


def run_with(memory: StageMemory, *arguments: str) -> int:
    """Do `padwright run` as from the command line, but for what is remembered, and return the exit code."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "run_job", memory.run)
        return main(["run", *arguments])
