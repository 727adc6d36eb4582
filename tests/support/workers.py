"""What workers of a batch may do in tests; a worker loads this file alone, so it loads little."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from padwright.batch.one_job import Task, run_task
from padwright.batch.record import JobRecord, Read


def tasks_for(root: Path, names: list[str], need_bytes: int = 0) -> list[Task]:
    """Return the tasks of jobs, whether or not they are there."""
    return [
        Task(each, str(root / each), str(Path(each).parent / "out"), str(root), str(root), need_bytes=need_bytes)
        for each in names
    ]


def pretend(task: Task) -> JobRecord:
    """Stand for a job that is done at once; by its name it dies, meets a bug or waits.

    "killer": kills its process. "once": kills it the first time. "bug": a fault of the tool. "slow": takes a minute.
    """
    begun = Path(task.parts) / f"{task.name.replace('/', '_')}.begun"
    with begun.open("a") as file:
        file.write("begun\n")
    if "killer" in task.name or ("once" in task.name and begun.read_text().count("begun") == 1):
        os.kill(os.getpid(), signal.SIGKILL)
    if "bug" in task.name:
        raise ZeroDivisionError("a planted fault")
    if "slow" in task.name:
        time.sleep(60.0)
    return JobRecord(task.name, 0, reads={"job.toml": Read(None)}, worker=str(os.getpid()))


def run_or_kill_once(task: Task) -> JobRecord:
    """Do a job, but let three of them kill their worker the first time they are begun."""
    mark = Path(task.parts) / ".padwright-batch" / f"killed-{task.name.partition('/')[0]}"
    if task.name.partition("/")[0] in ("wearer-5", "wearer-11", "wearer-17") and not mark.exists():
        mark.write_text("")
        os.kill(os.getpid(), signal.SIGKILL)
    return run_task(task)
