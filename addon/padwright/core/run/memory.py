"""A part made stage by stage with memory: only what depends on a change is worked out again."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Collection
from functools import partial
from pathlib import Path

from ..base.progress import Progress, Steps, nested
from ..job.schema import Job
from ..stages.stage import Stage
from .beside import read_beside
from .parts import MadePart, StageTime
from .pipeline import RunResult, check_job, do_stage, pack_part, share_of
from .points import check_points
from .stages import STAGES

_MOST_KEPT = 3 * len(STAGES)  # of three whole parts


class StageMemory:
    """Remembers each stage's result by all it was worked out from: places of the job, files, stages before it."""

    def __init__(self) -> None:
        self._results: OrderedDict[str, tuple[object, tuple[StageTime, ...]]] = OrderedDict()
        self.worked_out: list[str] = []
        self.at = ""  # the stage in work; after an error the one that raised it
        self.reached: MadePart | None = None  # the part before that stage

    def key(self, job: Job, folder: Path, stage: str) -> str:
        """Return a text that changes when, and only when, something the stage depends on changes.

        The job's files, named from `folder`, count by their contents, not their names or dates.
        """
        return self._keys(job, folder, stage)[stage]

    def known(self, job: Job, folder: Path, stage: str) -> MadePart | None:
        """Return the part after a stage when it is remembered, with this job's own words in it."""
        part: MadePart | None = MadePart(job)
        keys = self._keys(job, folder, stage)
        for each in STAGES[: len(keys)]:
            part = self._recall(keys[each.name], each, part) if part is not None else None
        return part

    def reach(self, job: Job, folder: Path, stage: str) -> Steps[MadePart]:
        """Bring the part to a stage by the same functions as a whole run; what is remembered is not done again.

        Raises PadwrightError as the stages do; what was reached before it stays remembered.
        """
        part = yield from self._reach(job, folder, stage)
        yield Progress(1.0, "done")
        return part

    def _reach(self, job: Job, folder: Path, stage: str) -> Steps[MadePart]:
        self.at = ""
        check_job(job, folder)
        self.worked_out = []
        keys = self._keys(job, folder, stage)
        wanted = STAGES[: len(keys)]
        whole, done = sum(share_of(each, job) for each in wanted), 0.0
        part = MadePart(job)
        for each in wanted:
            found = self._recall(keys[each.name], each, part)
            if found is None:
                self.at = each.name
                steps = do_stage(each, part, folder, partial(check_points, job))
                found = yield from nested(steps, done / whole, (done + share_of(each, job)) / whole)
                self._keep(keys[each.name], found.found[each.name], found.times[len(part.times) :])
                if not each.rests(job):
                    self.worked_out.append(each.name)
            done += share_of(each, job)
            part = self.reached = found
        self.at = ""
        return part

    def run(self, job: Job, folder: Path, only: Collection[str] | None = None) -> Steps[RunResult]:
        """Make the part of a job as `pipeline.run_job` does; where all stages are remembered it only packs.

        The evidence gives the seconds each stage took when it was worked out.
        """
        # Where nothing is left to work out, the whole of the progress is for packing.
        is_known = self.known(job, folder, STAGES[-1].name) is not None
        until = 0.0 if is_known else sum(share_of(each, job) for each in STAGES)
        beside = read_beside(job, folder)
        part = yield from nested(self._reach(job, folder, STAGES[-1].name), 0.0, until)
        result = yield from nested(pack_part(part, only, beside), until, 1.0)
        yield Progress(1.0, "done")
        return result

    @staticmethod
    def _keys(job: Job, folder: Path, last: str) -> dict[str, str]:
        """Return the key of every stage up to the last."""
        keys: dict[str, str] = {}
        for stage in STAGES[: _place(last) + 1]:
            digest = hashlib.sha256(stage.name.encode())
            for each in (*(keys[name] for name in stage.after), *stage.depends_on(job, folder)):
                digest.update(each if isinstance(each, bytes) else repr(each).encode())
                digest.update(b"\0")
            keys[stage.name] = digest.hexdigest()
        return keys

    def _recall(self, key: str, stage: Stage, part: MadePart) -> MadePart | None:
        """Return the part with a stage's remembered result, or None where there is none."""
        if key not in self._results:
            return None
        self._results.move_to_end(key)
        result, times = self._results[key]
        if stage.recalled:
            result = stage.function(stage.recalled)(result, part.job)
        return part.having(stage.name, result, times)

    def _keep(self, key: str, result: object, times: tuple[StageTime, ...]) -> None:
        self._results[key] = (result, times)
        while len(self._results) > _MOST_KEPT:
            self._results.popitem(last=False)


def _place(stage: str) -> int:
    return [each.name for each in STAGES].index(stage)
