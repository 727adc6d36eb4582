"""`new`: a commented job to start from, or the demo with its scans, to try things on."""

from __future__ import annotations

import argparse
from contextlib import suppress
from pathlib import Path
from typing import Any

from ..core.base.errors import ExportError, InputError, PadwrightError
from ..core.base.resources import shared_path
from ..core.job.schema import FAMILIES
from .options import add_command, folder, write_out
from .say import program, say_result


def add_new_command(commands: Any) -> None:
    """Add `new` to the command line."""
    new = add_command(
        commands,
        "new",
        "write a commented job to start from",
        "--family seat_pad --out job.toml  # fill in the scans, then: run job.toml",
        "--family insole  # print it",
        "--demo demo  # the demo, scans and all, then: run demo/job.toml",
    )
    which = new.add_mutually_exclusive_group(required=True)
    which.add_argument("--family", choices=FAMILIES, help="part family")
    which.add_argument(
        "--demo", metavar="DIR", type=folder, help="put the demo's jobs and scans into a folder; never overwrites one"
    )
    new.add_argument("--out", metavar="FILE", help="the job file to write; never overwrites one (default: print it)")
    new.set_defaults(command=_new)


def _new(args: argparse.Namespace) -> int:
    if args.demo is not None:
        if args.out is not None:
            raise InputError("--out is for one job file, and --demo writes several.", hint="Leave --out away.")
        job = put_demo(Path(args.demo)) / "job.toml"
        say_result(f"Wrote the demo into {job.parent}. Make its part with: {program()} run {job}")
        return 0
    from ..core.job.write import new_job

    text = new_job(args.family)
    if args.out is None:
        say_result(text.rstrip("\n"))
        return 0
    path = Path(args.out)
    write_out(path, text.encode())
    say_result(f"Wrote {path}. Fill in the scans, then: {program()} run {path}")
    return 0


def put_demo(target: Path) -> Path:
    """Put the demo's jobs and scans into a folder, which is made where it is not there, and return it.

    All of them or none. Raises InputError when a file of that name is there already, or the path is no folder;
    ExportError when the disk refuses.
    """
    sources = sorted(path for path in shared_path("demo").iterdir() if path.is_file())
    there = [path.name for path in sources if (target / path.name).exists()]
    if there:
        raise InputError(f'"{target / there[0]}" is there already and is left as it is.', hint="Give another folder.")
    try:
        target.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise InputError(f'"{target}" is a file, not a folder.', hint="Give another folder.") from None
    except OSError as error:
        raise ExportError(f'"{target}" cannot be made: {error.strerror}.', hint="Give another folder.") from None
    written: list[Path] = []
    try:
        for source in sources:
            write_out(target / source.name, source.read_bytes(), hint="Give another folder.")
            written.append(target / source.name)
    except (PadwrightError, KeyboardInterrupt):
        for path in written:
            with suppress(OSError):
                path.unlink()
        raise
    return target
