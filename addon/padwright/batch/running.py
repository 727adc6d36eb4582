"""The work of a batch: jobs to workers, what is told meanwhile, the table at the end."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass

from .plan import BatchPlan
from .record import JobRecord, write_record
from .table import JobRow, table_csv
from .table_page import table_page
from .waiting import Ended, Lost, Waiting, Workers
from .words import duration

TABLE = "batch"


@dataclass(frozen=True)
class EndedBatch:
    """A batch after its work, or as far as it came."""

    rows: tuple[JobRow, ...]
    seconds: float
    tables: tuple[str, ...]  # where they lie, as the person writes it

    def count(self, state: str) -> int:
        """Return how many jobs are in a state."""
        return sum(each.state == state for each in self.rows)


def run_batch(plan: BatchPlan, workers: Workers, say: Callable[[str], None], fresh: dict[str, JobRecord]) -> None:
    """Do the jobs of a plan; `fresh` takes each record as it comes, so that an interrupt loses none of them."""
    waiting = Waiting(plan.tasks, plan.after)
    clock = _Clock(plan, workers)
    with closing(workers.work(waiting)) as ended:
        for each in ended:
            if isinstance(each, Lost):
                say(f"  lost      worker {', '.join(each.workers)}: its jobs go to others; {each.left} at once now")
                continue
            if each.record is None:
                say(f"  again     {each.task.name}: its worker died ({each.why}); it is begun again")
                continue
            record = each.record
            if not record.is_done and not record.reads:  # nobody else could keep it
                write_record(plan.parts, record)
            fresh[record.job] = record
            say(clock.line(each, record))


def write_tables(plan: BatchPlan, fresh: Mapping[str, JobRecord], seconds: float) -> EndedBatch:
    """Write the tables of a batch and return its outcome. Raises ExportError when they cannot be written."""
    rows = tuple(
        JobRow(each, fresh.get(each.name) or plan.known.get(each.name), is_fresh=each.name in fresh, plan=plan)
        for each in plan.listed
    )
    rows = tuple(sorted(rows, key=lambda row: row.order))
    title = plan.jobs.shown().rstrip("/").rpartition("/")[2] or plan.jobs.shown()
    if title in (".", ".."):
        title = plan.jobs.root.replace("\\", "/").rpartition("/")[2]
    files = {f"{TABLE}.csv": table_csv(rows), f"{TABLE}.html": table_page(rows, title, seconds)}
    for name, data in files.items():
        plan.parts.write(plan.parts.join(name), data)
    return EndedBatch(rows, seconds, tuple(plan.parts.shown(plan.parts.join(name)) for name in files))


class _Clock:
    """How far a batch is, and how long it will take."""

    def __init__(self, plan: BatchPlan, workers: Workers) -> None:
        self._workers = workers
        self._weights = {each.name: float(each.need_bytes) for each in plan.tasks}
        self._whole, self._done = sum(self._weights.values()), 0.0
        self._count, self._ended = len(plan.tasks), 0
        self._begun = time.monotonic()

    def line(self, ended: Ended, record: JobRecord) -> str:
        """Return what is told of a job that ended; `ended` is noted."""
        self._ended += 1
        self._done += self._weights[ended.task.name]
        state = "done" if record.is_done else f"FAILED ({record.code})"
        about = f"{ended.task.name}" + (f", {record.part['number']}" if record.is_done else "")
        line = f"[{self._ended}/{self._count}] {state:10} {about}, {duration(record.seconds)}{self._left()}"
        return line if record.is_done else f"{line}\n      {record.message}"

    def _left(self) -> str:
        rest = self._whole - self._done
        if self._ended == self._count:
            return ""
        # What is being done now is taken as half done.
        running = min(rest, self._workers.count * self._whole / self._count)
        seconds = (time.monotonic() - self._begun) * (rest - 0.5 * running) / (self._done + 0.5 * running)
        return f"; about {duration(seconds)} left"
