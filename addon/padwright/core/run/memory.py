"""A part made stage by stage with memory: only what depends on a change is worked out again."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Collection
from dataclasses import replace
from functools import partial
from pathlib import Path

from ..base.progress import Progress, Steps, nested
from ..job.schema import Job
from . import pipeline
from .parts import Part, Scan
from .pipeline import RunResult, check_job, do_stage, pack_part
from .points import check_points

STAGES = tuple(stage.name for stage in pipeline.STAGES)
"""In the order in which each needs the ones before it."""

_MOST_KEPT = 3 * len(STAGES)  # three whole parts; the stages of one share their arrays


class StageMemory:
    """Remembers the part after each stage, by everything that the stage and those before it depend on."""

    def __init__(self) -> None:
        self._parts: OrderedDict[str, Part] = OrderedDict()
        self.worked_out: list[str] = []
        self.at = ""  # the stage in work; after an error the one that raised it
        self.reached: Part | None = None  # the part before that stage

    def key(self, job: Job, folder: Path, stage: str) -> str:
        """Return a text that changes when, and only when, something the stage depends on changes.

        Parameters
        ----------
        job : Job
        folder : Path
            Where the job's file names start from; the files' contents count, not their names' dates.
        stage : str
            One of `STAGES`.
        """
        return self._keys(job, folder, stage)[stage]

    def known(self, job: Job, folder: Path, stage: str) -> Part | None:
        """Return the part after a stage when it is remembered, with this job's own words in it."""
        return self._recall(self.key(job, folder, stage), job)

    def reach(self, job: Job, folder: Path, stage: str) -> Steps[Part]:
        """Bring the part to a stage by the same functions as a whole run; what is remembered is not done again.

        Parameters
        ----------
        job : Job
        folder : Path
        stage : str
            One of `STAGES`.

        Raises
        ------
        PadwrightError
            As the stages do; what was reached before it stays remembered.
        """
        part = yield from self._reach(job, folder, stage)
        yield Progress(1.0, "done")
        return part

    def _reach(self, job: Job, folder: Path, stage: str) -> Steps[Part]:
        self.at = ""
        check_job(job, folder)
        self.worked_out = []
        keys = self._keys(job, folder, stage)
        wanted = pipeline.STAGES[: len(keys)]
        whole, done = sum(each.share for each in wanted), 0.0
        part: Part | None = None
        for each in wanted:
            found = self._recall(keys[each.name], job)
            if found is None:
                self.at = each.name
                steps = do_stage(each, part, job, folder, partial(check_points, job) if part is None else None)
                found = yield from nested(steps, done / whole, (done + each.share) / whole)
                self._keep(keys[each.name], found)
                self.worked_out.append(each.name)
            done += each.share
            part = self.reached = found
        self.at = ""
        assert part is not None
        return part

    def run(self, job: Job, folder: Path, only: Collection[str] | None = None) -> Steps[RunResult]:
        """Make the part of a job as `pipeline.run_job` does; where all stages are remembered it only packs.

        The evidence gives the seconds each stage took when it was worked out.
        """
        # Where nothing is left to work out, the whole of the progress is for packing.
        is_known = self.key(job, folder, STAGES[-1]) in self._parts
        until = 0.0 if is_known else sum(each.share for each in pipeline.STAGES)
        part = yield from nested(self._reach(job, folder, STAGES[-1]), 0.0, until)
        result = yield from nested(pack_part(part, only), until, 1.0)
        yield Progress(1.0, "done")
        return result

    @staticmethod
    def _keys(job: Job, folder: Path, last: str) -> dict[str, str]:
        """Return the key of every stage up to the last."""
        digest = hashlib.sha256()
        keys: dict[str, str] = {}
        for stage in pipeline.STAGES[: STAGES.index(last) + 1]:
            for each in stage.depends_on(job, folder):
                digest.update(each if isinstance(each, bytes) else repr(each).encode())
                digest.update(b"\0")
            keys[stage.name] = digest.copy().hexdigest()
        return keys

    def _recall(self, key: str, job: Job) -> Part | None:
        found = self._parts.get(key)
        if found is None:
            return None
        self._parts.move_to_end(key)
        return replace(
            found,
            job=job,
            base=_named(found.base, job.base.scan),
            impression=_named(found.impression, job.impression.scan) if found.impression and job.impression else None,
        )

    def _keep(self, key: str, part: Part) -> None:
        self._parts[key] = part
        while len(self._parts) > _MOST_KEPT:
            self._parts.popitem(last=False)


def _named(scan: Scan, name: str) -> Scan:
    """Return a scan with the name that its file has now: the same content may have been read under another one."""
    return scan if scan.record.file == name else replace(scan, record=replace(scan.record, file=name))
