"""Processes of this machine that do jobs: each has one thread, and the death of one costs no more than a try."""

from __future__ import annotations

import faulthandler
import multiprocessing
import os
import signal
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from types import FrameType

from ..core.base.errors import PadwrightError
from .one_job import Task, put_in_order, run_task
from .record import BUG, JobRecord, failed
from .waiting import MOST_TRIES, Ended, Waiting

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
_JOBS_A_WORKER = 25
"""Then a new process takes its place, so that what libraries do not give back does not add up."""
_GRACE_S = 20.0
"""So long a worker may take to stop its job and put its folder in order before it is ended."""


@dataclass(eq=False)
class _Worker:
    process: BaseProcess
    pipe: Connection
    log: Path
    task: Task | None = None
    done: int = 0


class LocalPool:
    """Some processes, and the memory that their jobs may take together (None: no limit is known).

    `do` does a job, in each of them.
    """

    def __init__(self, count: int, room_bytes: int | None, do: Callable[[Task], JobRecord] = run_task) -> None:
        self.count = count
        self._do = do
        self._room = float("inf") if room_bytes is None else float(room_bytes)
        self._context = multiprocessing.get_context("spawn")
        self._workers: list[_Worker] = []
        self._tries: dict[str, int] = {}
        self._alone: list[Task] = []  # for a last try
        self._again: list[Task] = []

    def work(self, waiting: Waiting) -> Generator[Ended, None, None]:
        """Do the jobs and yield each as it ends."""
        for name in THREADS:  # sums shared among threads end in other last bits
            os.environ[name] = "1"
        try:
            while True:
                self._hand_out(waiting)
                busy = [each for each in self._workers if each.task is not None]
                if not busy:
                    return
                for ended in self._next(busy):
                    if ended.record is not None:
                        waiting.ended(ended.task)
                    yield ended
        finally:
            self._stop()

    def _hand_out(self, waiting: Waiting) -> None:
        while True:
            busy = [each.task for each in self._workers if each.task is not None]
            if len(busy) >= self.count:
                return
            taken = sum(each.need_bytes for each in busy)
            room = self._room - taken if busy else float("inf")  # one job runs in any case
            if busy and busy[0] in self._alone:
                return
            task = self._from_again(room) or waiting.take(room)
            if task is None and not busy and self._alone:
                task = self._alone[0]
            if task is None:
                return
            self._begin(task)

    def _from_again(self, room: float) -> Task | None:
        for index, task in enumerate(self._again):
            if task.need_bytes <= room:
                return self._again.pop(index)
        return None

    def _begin(self, task: Task) -> None:
        free = next((each for each in self._workers if each.task is None), None)
        if free is not None and (free.done >= _JOBS_A_WORKER or not free.process.is_alive()):
            self._dismiss(free)
            free = None
        worker = free or self._hire()
        worker.task = task
        try:
            worker.pipe.send(task)
        except OSError:  # it died while it waited for work: it is seen as dead like any other
            return

    def _hire(self) -> _Worker:
        ours, theirs = self._context.Pipe()
        handle, log = tempfile.mkstemp(prefix="padwright-worker-", suffix=".log")
        os.close(handle)
        process = self._context.Process(target=_serve, args=(theirs, log, self._do), daemon=True)
        process.start()
        theirs.close()
        worker = _Worker(process, ours, Path(log))
        self._workers.append(worker)
        return worker

    def _next(self, busy: list[_Worker]) -> Iterator[Ended]:
        ready = wait([*(each.pipe for each in busy), *(each.process.sentinel for each in busy)])
        for worker in busy:
            task = worker.task
            if task is None or not (worker.pipe in ready or worker.process.sentinel in ready):
                continue
            try:
                record = worker.pipe.recv() if worker.pipe.poll() else None
            except (EOFError, OSError):
                record = None
            if record is not None:
                worker.task = None
                worker.done += 1
                yield self._ended(task, record)
            else:
                yield self._died(worker, task)

    def _ended(self, task: Task, record: JobRecord) -> Ended:
        self._alone = [each for each in self._alone if each != task]
        return Ended(task, replace(record, tries=self._tries.get(task.name, 0) + 1))

    def _died(self, worker: _Worker, task: Task) -> Ended:
        worker.process.join()
        code = worker.process.exitcode or 0
        said = worker.log.read_text("utf-8", "replace").strip() if worker.log.is_file() else ""
        self._dismiss(worker)
        put_in_order(task)
        tries = self._tries[task.name] = self._tries.get(task.name, 0) + 1
        self._alone = [each for each in self._alone if each != task]
        if code > 0 and "Traceback (most recent call last)" in said:
            return Ended(task, bug_record(task, said, tries))
        if tries < MOST_TRIES:
            (self._alone if tries == MOST_TRIES - 1 else self._again).append(task)
            return Ended(task, None, _ended_by(code))
        return Ended(task, killer_record(task, tries, _ended_by(code)))

    def _dismiss(self, worker: _Worker) -> None:
        self._workers.remove(worker)
        with suppress(OSError):
            worker.pipe.close()  # it ends when it finds nobody there
        with suppress(OSError):
            worker.log.unlink()

    def _stop(self) -> None:
        """End all workers: those at work stop their job, put its folder in order and go."""
        with _uninterrupted():
            self._end_all()

    def _end_all(self) -> None:
        for worker in self._workers:
            if worker.task is not None:
                worker.process.terminate()
            worker.pipe.close()
        end = time.monotonic() + _GRACE_S
        for worker in self._workers:
            worker.process.join(max(0.0, end - time.monotonic()))
            if worker.process.is_alive():
                worker.process.kill()
                worker.process.join()
        for worker in list(self._workers):
            self._dismiss(worker)
            if worker.task is not None:
                put_in_order(worker.task)


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Let nobody's second Ctrl-C keep the workers from putting their folders in order."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def bug_record(task: Task, traceback: str, tries: int = 1) -> JobRecord:
    """Return the record of a job that met a fault of the tool itself."""
    last = traceback.rstrip().splitlines()[-1]
    return JobRecord(
        task.name,
        BUG,
        f"A fault of Padwright itself: {last}",
        "Run this job by itself to see all of it, and report it, with the job and its scans if you may.",
        made_by=task.made_by,
        place=task.place,
        tries=tries,
    )


def killer_record(task: Task, tries: int, how: str) -> JobRecord:
    """Return the record of a job whose workers died each time."""
    error = PadwrightError(
        f"Its worker died each of {tries} times it was begun, the last time with no other job beside it ({how}).",
        hint="Most often the memory does not suffice: thin its scans out, or run it where there is more.",
    )
    return failed(task.name, error, made_by=task.made_by, place=task.place, tries=tries)


def _ended_by(code: int) -> str:
    if code >= 0:
        return f"it ended with {code}"
    try:
        return f"ended by {signal.Signals(-code).name}"
    except ValueError:
        return f"ended by signal {-code}"


def _serve(pipe: Connection, log: str, do: Callable[[Task], JobRecord]) -> None:
    """Do one job after the other; this is the worker's whole life."""
    handle = os.open(log, os.O_WRONLY | os.O_APPEND)
    os.dup2(handle, 2)
    faulthandler.enable(sys.stderr)
    warnings.simplefilter("ignore")
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the batch hears it and says what to do
    signal.signal(signal.SIGTERM, _stop_job)
    try:
        while True:
            task = pipe.recv()
            pipe.send(do(task))
    except (EOFError, BrokenPipeError, ConnectionResetError, KeyboardInterrupt):
        return


def _stop_job(number: int, frame: FrameType | None) -> None:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # putting the folder in order is not to be stopped
    raise KeyboardInterrupt
