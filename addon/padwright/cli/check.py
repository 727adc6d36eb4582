"""`check`: say what a run will do, and what it would stop at, in a second or two."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ..core.base.errors import PadwrightError
from .options import add_command, add_set_option, folder
from .say import say_result, tell_error


def add_check_command(commands: Any) -> None:
    """Add `check` to the command line."""
    check = add_command(
        commands,
        "check",
        "say what a run of a job will do, without doing it",
        "job.toml  # its scans, stages and files; what is missing",
        "job.toml --set target.goal=even  # a variant",
    )
    check.add_argument("job", metavar="JOB", help="the job file, TOML")
    check.add_argument(
        "--out", metavar="DIR", type=folder, help="folder the run's files would go to (default: out, beside the job)"
    )
    add_set_option(check)
    check.set_defaults(command=_check)


def _check(args: argparse.Namespace) -> int:
    """Tell, and return the exit code with which a run would stop, 0 where nothing was found."""
    from ..core.job.read import read_job, tell_place
    from ..core.run.history import printed_folder
    from ..core.run.into_folder import refuse_other_part
    from ..core.run.outlook import outlook
    from ..core.run.revisions import refuse_previous
    from ..core.stages.packing.bundle import check_folder
    from ..core.stages.scans.known_formats import scan_kinds

    path = Path(args.job)
    job = read_job(path, args.settings, scan_kinds())
    out = Path(args.out) if args.out is not None else printed_folder(job, path.parent)
    asked: list[Callable[[], None]] = [
        lambda: check_folder(out),
        lambda: refuse_other_part(out, job.part.number),
        lambda: refuse_previous(job, path.parent, out),
    ]
    faults = [error for ask in asked if (error := _refusal(ask)) is not None]
    found = outlook(job, path.parent, out)
    faults += found.faults
    say_result("\n".join(found.lines))
    for fault in faults:
        tell_error(tell_place(fault, job))
    if faults:
        return faults[0].exit_code
    say_result("No fault was found in the job and the scans' heads; what the scans hold is seen by `look` and the run.")
    return 0


def _refusal(ask: Callable[[], None]) -> PadwrightError | None:
    try:
        ask()
    except PadwrightError as error:
        return error
    return None
