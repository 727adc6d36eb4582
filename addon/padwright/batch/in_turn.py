"""Jobs done one after the other in this process: for storage that lives in it alone, and inside another program."""

from __future__ import annotations

import threading
from collections.abc import Generator
from concurrent.futures import ThreadPoolExecutor
from traceback import format_exception

from ..core.base.progress import Progress
from .local_pool import bug_record
from .one_job import run_task
from .stores import Store
from .waiting import Ended, Waiting


class InTurn:
    """A thread of this process."""

    count = 1

    def work(self, waiting: Waiting) -> Generator[Ended, None, None]:
        """Do the jobs and yield each as it ends."""
        is_over = threading.Event()

        def stop_when_over(_: Progress) -> None:
            if is_over.is_set():
                raise KeyboardInterrupt

        with ThreadPoolExecutor(1) as thread:
            try:
                while (task := waiting.take()) is not None:
                    future = thread.submit(run_task, task, stop_when_over)
                    fault = future.exception()
                    record = future.result() if fault is None else bug_record(task, "".join(format_exception(fault)))
                    waiting.ended(task)
                    yield Ended(task, record)
            finally:
                is_over.set()


def must_be_in_turn(jobs: Store, parts: Store) -> bool:
    """Say if no other process could do the jobs: memory:// is this one's own, and other programs start no copies."""
    is_own_memory = any(each.shown().startswith("memory://") for each in (jobs, parts))
    return is_own_memory or not __name__.startswith("padwright.")
