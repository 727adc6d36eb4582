"""`batch`: make the part of every job below a folder."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, Any

from ..core.base.text import counted
from .options import add_command, add_set_option, folder
from .say import say, say_result

if TYPE_CHECKING:
    from ..batch.plan import BatchPlan
    from ..batch.running import EndedBatch
    from ..batch.waiting import Workers

SOME_FAILED = 4
_MOST_TOLD = 10


def add_batch_command(commands: Any) -> None:
    """Add `batch` to the command line."""
    batch = add_command(
        commands,
        "batch",
        "make the part of every job below a folder, on many cores or machines",
        "jobs  # on this machine; once more goes on where it stopped",
        "jobs --dry-run  # what would be done",
        "jobs --retry-failed  # also what failed before",
        "jobs --scheduler tcp://10.0.0.5:8786  # on a Dask cluster",
        "s3://shop/jobs --out s3://shop/parts  # in an object storage",
    )
    batch.add_argument("folder", metavar="DIR", type=folder, help="folder of the jobs, or an address (s3://...)")
    batch.add_argument(
        "--out",
        metavar="DIR",
        type=folder,
        help="folder or address for parts and table (default: out beside each job, the table in the jobs' folder)",
    )
    batch.add_argument(
        "--jobs",
        metavar="N",
        type=_count,
        help="how many at once on this machine (default: a core each, as the memory allows)",
    )
    batch.add_argument("--scheduler", metavar="ADDRESS", help="hand the jobs to a Dask cluster, e.g. tcp://host:8786")
    batch.add_argument("--retry-failed", action="store_true", help="try also what failed before and is unchanged")
    batch.add_argument("--anew", action="store_true", help="make everything again, also what is done and unchanged")
    batch.add_argument("--dry-run", action="store_true", help="say what would be done, and do nothing")
    add_set_option(batch)
    batch.add_argument(
        "--progress", action=argparse.BooleanOptionalAction, default=True, help="tell each job as it ends, or do not"
    )
    batch.set_defaults(command=_batch)


def _batch(args: argparse.Namespace) -> int:
    from ..batch.plan import only_batch, plan_batch

    settings = [each.text for each in args.settings]
    plan = plan_batch(args.folder, args.out, settings, retry_failed=args.retry_failed, anew=args.anew)
    for number, names in plan.doubles.items():
        say(f"note: {len(names)} jobs make a part {number}: {', '.join(names[:3])}", sys.stderr)
    if args.dry_run:
        return _tell_plan(plan)
    with only_batch(plan.parts), _stopped_by_the_system():
        return _work(args, plan)


def _work(args: argparse.Namespace, plan: BatchPlan) -> int:
    from ..batch.record import JobRecord
    from ..batch.running import run_batch, write_tables

    fresh: dict[str, JobRecord] = {}
    begun = time.monotonic()
    say_progress = (lambda text: say(text, sys.stderr)) if args.progress else (lambda text: None)
    try:
        if plan.tasks:
            workers = _workers(args, plan, say_progress)
            run_batch(plan, workers, say_progress, fresh)
    except KeyboardInterrupt:
        write_tables(plan, fresh, time.monotonic() - begun)
        left = len(plan.tasks) - len(fresh)
        running = "what was being done is as it was before" if args.scheduler is None else "what runs ends by itself"
        say(
            f"{counted(len(fresh), 'job')} ended, {left} not yet; {running}. The same command goes on from here.",
            sys.stderr,
        )
        raise
    outcome = write_tables(plan, fresh, time.monotonic() - begun)
    say_result("\n".join(_summary(outcome)))
    return SOME_FAILED if outcome.count("failed") else 0


def _workers(args: argparse.Namespace, plan: BatchPlan, say_progress: Any) -> Workers:
    """Return who does the jobs, and tell it."""
    from ..batch.memory import usable_bytes, usable_cores

    kept = len(plan.listed) - len(plan.tasks)
    told = f"{counted(len(plan.listed), 'job')}, {kept} done or tried before and unchanged; {len(plan.tasks)} to do"
    if args.scheduler is not None:
        from ..batch.cluster import Cluster

        cluster = Cluster(args.scheduler)
        for note in cluster.check((plan.jobs, plan.parts)):
            say(f"note: {note}", sys.stderr)
        say_progress(f"{told}, {cluster.count} at once on the cluster")
        return cluster
    from ..batch.in_turn import InTurn, must_be_in_turn

    if must_be_in_turn(plan.jobs, plan.parts):
        say_progress(f"{told}, one after the other in this process")
        return InTurn()
    from ..batch.local_pool import LocalPool

    room = usable_bytes()
    most = args.jobs or usable_cores()
    need = max(each.need_bytes for each in plan.tasks)
    count = min(most, len(plan.tasks))
    memory = (
        "" if room is None else f" (the largest may take {need / 1e9:.1f} GB, {room / 1e9:.1f} GB are free for them)"
    )
    say_progress(f"{told}, up to {count} at once{memory}")
    return LocalPool(count, None if args.jobs else room)


def _tell_plan(plan: BatchPlan) -> int:
    """Say what would be done; returns 4 where a job's file is wrong, as the batch would."""
    from ..batch.memory import usable_bytes, usable_cores
    from ..batch.one_job import fault_of

    worst = 0
    todo = {each.name: each for each in plan.tasks}
    lines = []
    for each in plan.listed:
        known = plan.known.get(each.name)
        if known is not None:
            worst = worst if known.is_done else SOME_FAILED
            lines.append(f"unchanged  {each.name}" if known.is_done else f"failed     {each.name}: {known.message}")
            continue
        fault = fault_of(todo[each.name])
        need = f"about {todo[each.name].need_bytes / 1e9:.1f} GB of memory"
        after = f", after {each.after}" if each.after else ""
        if fault is None:
            lines.append(f"to do      {each.name} -> {each.place} ({need}{after})")
        else:
            worst = SOME_FAILED
            lines.append(f"would fail {each.name}: {fault.message} {fault.hint}".rstrip())
    room = usable_bytes()
    free = "" if room is None else f" and {room / 1e9:.1f} GB for jobs"
    lines.append(
        f"{len(todo)} of {counted(len(plan.listed), 'job')} to do; this machine has {usable_cores()} cores{free}."
    )
    say_result("\n".join(lines))
    return worst


def _summary(outcome: EndedBatch) -> list[str]:
    from ..batch.table import look_words
    from ..batch.words import duration

    failed = [each for each in outcome.rows if each.state == "failed"]
    took = f" in {duration(outcome.seconds)}" if outcome.count("made") else ""
    lines = [
        f"{counted(len(outcome.rows), 'job')}: {outcome.count('made')} made{took}, "
        f"{outcome.count('unchanged')} done before and unchanged, {len(failed)} failed."
    ]
    looked = look_words(outcome.rows)
    if looked:
        lines.append(f"Look first at: {looked}.")
    for each in failed[:_MOST_TOLD]:
        assert each.record is not None
        lines.append(f"  {each.job.name} ({each.record.code}): {each.record.message} {each.record.hint}".rstrip())
    if len(failed) > _MOST_TOLD:
        lines.append(f"  and {len(failed) - _MOST_TOLD} more, in the table")
    lines.append(f"Table: {' and '.join(outcome.tables)}")
    if any(not each.is_fresh for each in failed):
        lines.append("What failed before and is unchanged was not tried again; --retry-failed does that.")
    return lines


@contextmanager
def _stopped_by_the_system() -> Iterator[None]:
    """Take the system's request to end (a queue's time is over, say) as Ctrl-C."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _count(text: str) -> int:
    if not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f'expected a whole number of 1 or more, got "{text}"')
    return int(text)
