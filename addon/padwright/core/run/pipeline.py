"""The whole job, stage by stage: from a job and its folder to the files of one part.

`STAGES` is the one list of stages. A run goes through it from end to end, the memory of stages (`memory`) as far as
it is asked; a new stage is a new entry.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from ..base.errors import InputError
from ..base.files import MOST_SCAN_BYTES, read_named
from ..base.progress import Progress, Steps, nested
from ..job.cards import material_of
from ..job.read import later_notes
from ..job.schema import Job
from ..stages.scans.point_readings import Seen
from . import stages
from .evidence import run_evidence, selection_evidence
from .load import check_wishes
from .packing import pack_files
from .parts import Part, StageTime, peak_memory_mb
from .points import check_points
from .reads import STAGE_READS
from .summary import run_summary, selection_summary


@dataclass(frozen=True)
class Step:
    """A piece of a stage whose seconds stand in the evidence.

    Attributes
    ----------
    title : str
        Its name in the evidence.
    share : float
        Of the progress of a whole run.
    work : callable (part or None, job, folder) -> Steps of Part
        None for the part before the first stage; the first one also takes what looks at the scans as they were read.
    is_wanted : callable (job) -> bool
    """

    title: str
    share: float
    work: Callable[..., Steps[Part]]
    is_wanted: Callable[[Job], bool] = lambda _: True


@dataclass(frozen=True)
class Stage:
    """What the person sees as one stage; `reads.STAGE_READS` says what it takes of the job.

    Attributes
    ----------
    name : str
    steps : tuple of Step
    """

    name: str
    steps: tuple[Step, ...]

    @property
    def share(self) -> float:
        """Its part of the progress of a whole run."""
        return sum(step.share for step in self.steps)

    def depends_on(self, job: Job, folder: Path) -> list[object]:
        """Return what it takes beside the stage before it: values whose `repr` tells them apart, and digests of files.

        A file that cannot be read counts as such: the stage itself tells that.
        """
        reads = STAGE_READS[self.name]
        values: list[object] = [(place, found_at(job, place)) for place in reads.places]
        for place in reads.files:
            for name in found_at(job, place):
                try:
                    data = read_named(folder / str(name), "The file", most_bytes=MOST_SCAN_BYTES) if name else b""
                except InputError:
                    data = b"unreadable"
                values.append(hashlib.sha256(data).digest())
        return values


def found_at(job: Job, place: str) -> list[object]:
    """Return what a job has at a place with dots; more than one where a table on the way is a list, none without it."""
    found: list[object] = [job]
    for name in place.split("."):
        tables = [inner for each in found for inner in (each if isinstance(each, tuple) else (each,))]
        found = [getattr(table, name) for table in tables if table is not None]
    return found


def _of_part(work: Callable[[Part, Path], Steps[Part]]) -> Callable[[Part | None, Job, Path], Steps[Part]]:
    def steps(part: Part | None, _: Job, folder: Path) -> Steps[Part]:
        assert part is not None
        return (yield from work(part, folder))

    return steps


def _at_once(text: str, work: Callable[[Part, Path], Part]) -> Callable[[Part | None, Job, Path], Steps[Part]]:
    def steps(part: Part, folder: Path) -> Steps[Part]:
        yield Progress(0.0, text)
        return work(part, folder)

    return _of_part(steps)


STAGES = (
    Stage(
        "scans",
        (Step("read, clean and scale", 0.27, lambda _, job, folder, check=None: stages.capture(job, folder, check)),),
    ),
    Stage(
        "alignment",
        (Step("align", 0.23, _of_part(lambda part, _: stages.align(part))),),
    ),
    Stage(
        "reading",
        (
            Step(
                "read the impression",
                0.05,
                _at_once("reading the impression", lambda part, _: stages.read_body_side(part)),
            ),
        ),
    ),
    Stage(
        "pad",
        (Step("build the pad", 0.2, _of_part(stages.shape_pad)),),
    ),
    Stage(
        "zones",
        (Step("plan the zones", 0.05, _at_once("planning the zones", stages.plan)),),
    ),
    Stage(
        "regions",
        (Step("cut the regions", 0.08, _of_part(lambda part, _: stages.cut(part))),),
    ),
    Stage(
        "load",
        (
            Step(
                "choose the settings",
                0.01,
                _at_once("choosing the settings", stages.choose_firmness),
            ),
            Step(
                "tune",
                0.01,
                _at_once("tuning the zones to the load", lambda part, _: stages.tune(part)),
                lambda job: job.target.goal != "levels",
            ),
            Step("check the load", 0.02, _at_once("checking the load", lambda part, _: stages.check_load(part))),
        ),
    ),
)
"""In the order in which each needs the ones before it; what share is left over is for packing."""

PACKING = "plan the print and pack"


@dataclass(frozen=True, eq=False)
class RunResult:
    """What a run leaves behind.

    Attributes
    ----------
    files : mapping of name to bytes
        Everything but the evidence document.
    evidence : dict
        The numbers, notes and seconds of every stage, ready for JSON.
    summary : tuple of str
        Lines a person reads in one screen.
    told_in_full : tuple of str
        The same without a limit: every note and all that the load check says.
    part : Part
        The stages' results, for a program that goes on from here.
    """

    files: Mapping[str, bytes]
    evidence: dict[str, Any]
    summary: tuple[str, ...]
    told_in_full: tuple[str, ...]
    part: Part


def run_job(job: Job, folder: Path, only: Collection[str] | None = None) -> Steps[RunResult]:
    """Make the part of a job.

    Parameters
    ----------
    job : Job
    folder : Path
        Where the job's file names start from. Nothing is written to it.
    only : collection of region id, optional
        Pack these regions alone, as a selection of the part.

    Raises
    ------
    PadwrightError
        What is wrong, with a number and a place, and what to do; nothing was written.
    """
    check_job(job, folder)
    part: Part | None = None
    done = 0.0
    for stage in STAGES:
        check = partial(check_points, job) if part is None else None
        part = yield from nested(do_stage(stage, part, job, folder, check), done, done + stage.share)
        done += stage.share
    assert part is not None
    result = yield from nested(pack_part(part, only), done, 1.0)
    yield Progress(1.0, "done")
    return result


def check_job(job: Job, folder: Path) -> None:
    """Refuse before any work what would be refused only after most of it.

    Raises
    ------
    InputError
        When the target cannot be tuned to, the press direction cannot be found, or the material's card is wrong.
    """
    check_wishes(job)
    stages.check_press(job)
    material_of(job.material, folder)


def do_stage(
    stage: Stage,
    part: Part | None,
    job: Job,
    folder: Path,
    check: Callable[[Seen, Seen | None], None] | None = None,
) -> Steps[Part]:
    """Take the part through one stage and note the seconds of its steps.

    Parameters
    ----------
    stage : Stage
    part : Part, optional
        None before the first stage.
    job : Job
    folder : Path
    check : callable (base, impression or None), optional
        For the first stage alone: refuses what later stages would, from the scans as they were read. The part does not
        depend on it, so it is no part of the stage.
    """
    steps = [step for step in stage.steps if step.is_wanted(job)]
    whole, done = sum(step.share for step in steps), 0.0
    for step in steps:
        start = time.perf_counter()
        work = step.work(part, job, folder, *([] if check is None else [check]))
        part = yield from nested(work, done / whole, (done + step.share) / whole)
        part = _timed(part, step.title, start)
        done += step.share
    assert part is not None
    return part


def pack_part(part: Part, only: Collection[str] | None = None) -> Steps[RunResult]:
    """Make the files, the evidence and the summary of a part that went through all stages (stages 11 and 12).

    Parameters
    ----------
    part : Part
    only : collection of region id, optional
        As for `run_job`.
    """
    start = time.perf_counter()
    files, packed = yield from pack_files(part, only)
    part = _timed(part, PACKING, start)
    part = replace(part, notes=(*part.notes, *later_notes(part.job), *packed.notes))
    if packed.selection is not None:
        told = selection_summary(part, packed)
        return RunResult(files, selection_evidence(part, packed), told, told, part)
    told = run_summary(part, packed, in_full=True)
    return RunResult(files, run_evidence(part, packed), run_summary(part, packed), told, part)


def _timed(part: Part, title: str, start: float) -> Part:
    return replace(part, times=(*part.times, StageTime(title, time.perf_counter() - start, peak_memory_mb())))
