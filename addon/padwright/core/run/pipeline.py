"""The whole job, stage by stage: from a job and its folder to the files of one part.

A run goes through `STAGES` from end to end, the memory of stages (`memory`) as far as it is asked.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from ..base.progress import Progress, Steps, nested
from ..job.material_cards import material_of
from ..job.read import key_notes
from ..job.schema import Job
from ..stages.load.wishes import check_wishes
from ..stages.pad.work import check_press
from ..stages.report.side_by_side import SideBySide
from ..stages.stage import Given, Stage, known_places
from .beside import Beside, read_beside
from .compared_revisions import compared_with_previous, now_history
from .evidence import run_evidence, selection_evidence
from .odd_keys import odd_key_notes
from .packing import pack_files
from .parts import MadePart, StageTime, peak_memory_mb
from .points import check_points
from .report_parts import report_files
from .stages import STAGES
from .summary import run_summary, selection_summary

PACKING = "plan the print and pack"

_PACKING_SHARE = 0.1
"""Its part of a run's progress, beside the steps'."""

_FILES_SHARE = 0.5  # of packing: the files for machines; what is written for people has the rest


@dataclass(frozen=True, eq=False)
class RunResult:
    """What a run leaves behind."""

    files: Mapping[str, bytes]  # by name; everything but the evidence document
    evidence: dict[str, Any]  # the numbers, notes and seconds of every stage, ready for JSON
    summary: tuple[str, ...]  # lines a person reads in one screen
    told_in_full: tuple[str, ...]  # the same without a limit: every note and all that the load check says
    part: MadePart  # the stages' results, for a program that goes on from here
    compared: SideBySide | None = None  # with the revision before, where the job names one


def run_job(job: Job, folder: Path, only: Collection[str] | None = None) -> Steps[RunResult]:
    """Make the part of a job whose files are named from `folder`; nothing is written. `only` packs these regions alone.

    Raises PadwrightError with what is wrong, with a number and a place, and what to do; nothing was written.
    """
    check_job(job, folder)
    beside = read_beside(job, folder)
    part, done = MadePart(job), 0.0
    for stage in STAGES:
        end = done + share_of(stage, job)
        part = yield from nested(do_stage(stage, part, folder, partial(check_points, job)), done, end)
        done = end
    result = yield from nested(pack_part(part, only, beside), done, 1.0)
    yield Progress(1.0, "done")
    return result


def share_of(stage: Stage, job: Job) -> float:
    """Return a stage's part of the progress of a whole run: of the steps that the job wants; packing has the rest."""

    def wanted(one: Stage) -> float:
        return sum(step.share for step in one.steps if step.is_wanted(job))

    return wanted(stage) / (_PACKING_SHARE + sum(wanted(each) for each in STAGES))


def check_job(job: Job, folder: Path) -> None:
    """Refuse before any work what would be refused only after most of it.

    Raises InputError when the target cannot be tuned to, the press direction cannot be found, or the material's card is
    wrong.
    """
    check_wishes(job)
    check_press(job)
    material_of(job.material, folder)


def do_stage(
    stage: Stage, part: MadePart, folder: Path, look: Callable[..., None] | None = None, *, steps: int | None = None
) -> Steps[MadePart]:
    """Take the part through one stage, or so many of its steps, and note the seconds of each.

    Handed to its work are the results of the stages it comes after, its places of the job and its files alone; `look`
    is that of `Given`. Before the first stage the part holds nothing but the job.
    """
    found = {name: part.found[name] for name in stage.after}
    given = Given(known_places(STAGES, stage, part.job), part.job, found, folder, look)
    wanted = [step for step in stage.steps if step.is_wanted(given.job)][:steps]
    whole, done = sum(step.share for step in wanted), 0.0
    result: object = None
    times: list[StageTime] = []
    for step in wanted:
        start = time.perf_counter()
        work = stage.function(step.work)(given, result)
        result = yield from nested(work, done / whole, (done + step.share) / whole)
        times.append(_timed(step.title, start))
        done += step.share
    return part.having(stage.name, result, tuple(times))


def pack_part(part: MadePart, only: Collection[str] | None = None, beside: Beside | None = None) -> Steps[RunResult]:
    """Make the files, the evidence and the summary of a part that went through all stages.

    `only` is as for `run_job`, `beside` what lies beside the job.
    """
    start = time.perf_counter()
    beside = beside or Beside()
    files, packed = yield from nested(pack_files(part, only, beside.inputs), 0.0, _FILES_SHARE)
    part = replace(part, said=(*key_notes(part.job), *odd_key_notes(part), *packed.notes))
    compared = compared_with_previous(part, packed, files, beside)
    files |= yield from nested(report_files(part, packed, files, beside, compared), _FILES_SHARE, 1.0)
    part = replace(part, times=(*part.times, _timed(PACKING, start)))
    if packed.selection is not None:
        told = selection_summary(part, packed)
        return RunResult(files, selection_evidence(part, packed), told, told, part)
    told = run_summary(part, packed, compared, in_full=True)
    evidence = run_evidence(part, packed, now_history(beside.previous), compared)
    return RunResult(files, evidence, run_summary(part, packed, compared), told, part, compared)


def _timed(title: str, start: float) -> StageTime:
    return StageTime(title, time.perf_counter() - start, peak_memory_mb())
