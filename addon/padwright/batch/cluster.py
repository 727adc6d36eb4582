"""The workers of a Dask cluster: its scheduler hands jobs out, and gives those of a lost worker to another.

https://distributed.dask.org names what is asked of it here.
"""

from __future__ import annotations

import queue
import time
import uuid
from collections.abc import Callable, Generator
from traceback import format_exception
from typing import Any

from ..core.base.errors import InputError, PadwrightError
from .local_pool import bug_record, killer_record
from .one_job import Task, run_task, tool_hash
from .record import JobRecord
from .stores import Store
from .waiting import Ended, Lost, Waiting

_LOOK_S = 2.0
"""So often the number of workers is looked at while nothing ends."""
_PATIENCE_S = 60
"""So long the first worker may take to come."""


class Cluster:
    """A running cluster, by the address of its scheduler; `do` does a job, on a worker."""

    def __init__(self, address: str, do: Callable[[Task], JobRecord] = run_task) -> None:
        self._do = do
        try:
            import distributed
        except ImportError:
            raise InputError(
                "--scheduler needs dask.distributed, which is not installed.",
                hint="Install it with: pip install dask distributed",
            ) from None
        self._distributed: Any = distributed
        try:
            self._client = distributed.Client(address, set_as_default=False, timeout=f"{_PATIENCE_S}s")
        except (OSError, TimeoutError, ValueError, ImportError) as error:
            raise InputError(
                f'No scheduler answers at "{address}": {error}.',
                hint="Give the address that `dask scheduler` prints, e.g. tcp://10.0.0.5:8786.",
            ) from None
        self._lost: dict[str, int] = {}
        self._there: set[str] = set()
        self._looked = 0.0

    @property
    def count(self) -> int:
        """How many jobs the workers do at once, now; 0 while none is there."""
        return sum(self._client.nthreads().values())

    def check(self, folders: tuple[Store, ...]) -> tuple[str, ...]:
        """Make sure that every worker has this Padwright and sees the folders; returns notes.

        Raises PadwrightError with the workers that do not.
        """
        try:
            self._client.wait_for_workers(1, timeout=_PATIENCE_S)
        except TimeoutError:
            raise PadwrightError(
                f"The scheduler has no workers; none came in {_PATIENCE_S} s.",
                hint="Start some, e.g. dask worker ADDRESS --nworkers 4 --nthreads 1",
            ) from None
        paths = [each.root for each in folders if each.is_local]
        module = tool_hash.__module__

        def look() -> tuple[str, list[str], str]:  # sent by value, so that it runs where Padwright is missing too
            import importlib
            import os

            try:
                found = importlib.import_module(module).tool_hash()
            except ImportError:
                found = ""
            return found, [each for each in paths if not os.path.isdir(each)], os.environ.get("OMP_NUM_THREADS", "")

        found: dict[str, tuple[str, list[str], str]] = self._client.run(look)
        without = [worker for worker, (tool, _, _) in found.items() if tool == ""]
        if without:
            raise PadwrightError(
                f"Padwright is not installed on {_named(without)}.", hint="Install the same version on every worker."
            )
        others = [worker for worker, (tool, _, _) in found.items() if tool != tool_hash()]
        if others:
            raise PadwrightError(
                f"Another Padwright, or other libraries, than here are on {_named(others)}.",
                hint="Install the same on every worker; a part must not depend on who made it.",
            )
        blind = {worker: missing for worker, (_, missing, _) in found.items() if missing}
        if blind:
            raise PadwrightError(
                f'The folder "{next(iter(blind.values()))[0]}" is not there for {_named(list(blind))}.',
                hint="Workers read and write the files themselves: use a folder that all machines share under one "
                "path, or an object storage (s3://...).",
            )
        many = [worker for worker, (_, _, threads) in found.items() if threads != "1"]
        if not many:
            return ()
        return (
            f"On {_named(many)} OMP_NUM_THREADS is not 1: the last digits of parts may differ from single runs. "
            "Start workers with OMP_NUM_THREADS=1.",
        )

    def work(self, waiting: Waiting) -> Generator[Ended | Lost, None, None]:
        """Do the jobs and yield each as it ends."""
        ready: queue.Queue[Any] = queue.Queue()
        running: dict[Any, Task] = {}  # by the key of the future
        futures: dict[Any, Any] = {}
        suspects: list[Task] = []
        # A scheduler that serves several batches must not take one's jobs for another's.
        batch = uuid.uuid4().hex[:8]

        def begin(task: Task) -> None:
            number = self._lost.get(task.name, 0)
            key = f"{task.name}-{batch}-{number}"
            future = self._client.submit(self._do, task, key=key, pure=False)
            running[future.key], futures[future.key] = task, future
            future.add_done_callback(ready.put)

        try:
            while True:
                while (task := waiting.take()) is not None:
                    begin(task)
                if not running and suspects:  # one at a time, so that each clears or names itself
                    begin(suspects.pop(0))
                if not running:
                    return
                lost = self._lost_since()
                if lost is not None:
                    yield lost
                try:
                    future = ready.get(timeout=_LOOK_S)
                except queue.Empty:
                    continue
                task = running.pop(future.key)
                del futures[future.key]
                ended = self._ended(task, future)
                if ended.record is None:
                    suspects.append(task)
                else:
                    waiting.ended(task)
                yield ended
        finally:
            if futures:
                self._client.cancel(list(futures.values()))
            self._client.close()

    def _lost_since(self) -> Lost | None:
        """Return which workers went away since the last look; a look is taken no more often than `_LOOK_S`."""
        now = time.monotonic()
        if now < self._looked + _LOOK_S:
            return None
        self._looked = now
        there = set(self._client.nthreads())
        gone, self._there = sorted(self._there - there), there
        return Lost(tuple(gone), self.count) if gone else None

    def _ended(self, task: Task, future: Any) -> Ended:
        if future.cancelled():
            return self._died(task, "the cluster took it back")
        fault = future.exception()
        if fault is None:
            return Ended(task, future.result())
        if isinstance(fault, self._distributed.KilledWorker):
            return self._died(task, "the scheduler gave it up")
        return Ended(task, bug_record(task, "".join(format_exception(fault))))

    def _died(self, task: Task, how: str) -> Ended:
        """Begin a job again, once and alone: jobs that only stood beside one that ends workers are lost with it."""
        lost = self._lost[task.name] = self._lost.get(task.name, 0) + 1
        if lost == 1:
            return Ended(task, None, how)
        return Ended(task, killer_record(task, lost, f"{how}, after several workers died of it each time"))


def _named(workers: list[str]) -> str:
    return ", ".join(workers[:3]) + (f" and {len(workers) - 3} more workers" if len(workers) > 3 else "")
