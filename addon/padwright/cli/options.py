"""What several commands share: their options and their examples."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from ..core.base.errors import InputError
from ..core.base.files import write_new
from ..core.job.overrides import read_setting


def add_command(commands: Any, name: str, about: str, *examples: str) -> argparse.ArgumentParser:
    """Add a command with a help that ends with examples, each what stands after the command's name, and #, and why."""
    shown = [each.partition("#") for each in examples]
    width = max((len(line.rstrip()) for line, _, _ in shown), default=0)
    lines = [f"  %(prog)s {line.rstrip():{width}}  # {why.strip()}" for line, _, why in shown]
    made: argparse.ArgumentParser = commands.add_parser(
        name,
        help=about,
        description=f"{about[0].upper()}{about[1:]}.",
        epilog="\n".join(["examples:", *lines]) if lines else None,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    return made


def add_set_option(command: argparse.ArgumentParser) -> None:
    """Add `--set`, whose values become Settings."""
    command.add_argument(
        "--set",
        metavar="KEY=VALUE",
        dest="settings",
        action="append",
        default=[],
        type=read_setting,
        help="set a key of the job for this time, e.g. pad.fit_gap_mm=0.5 or zones.1.level=3 (lists count from 1); "
        "may be given again",
    )


def folder(text: str) -> str:
    """Return the name of a folder as given, and refuse the empty one that an unset variable of a script leaves."""
    if not text.strip():
        raise argparse.ArgumentTypeError('it is empty; name a folder, or write "." for this one')
    return text


def write_out(path: Path, data: bytes, *, hint: str = "Give another --out.") -> None:
    """Write the file that --out names; one that is there already is refused, with `hint` as what to do."""
    try:
        write_new(path, data, hint=hint)
    except FileExistsError:
        raise InputError(f'"{path}" is there already and is left as it is.', hint=hint) from None


def add_run_options(command: argparse.ArgumentParser, *, default: str) -> None:
    """Add the options of a command that makes a part's files."""
    command.add_argument("--out", metavar="DIR", type=folder, help=f"folder for the files (default: {default})")
    command.add_argument(
        "--only", metavar="REGION", nargs="+", help="pack these regions alone, by their ids, as a selection of the part"
    )
    add_set_option(command)
    command.add_argument("--json", action="store_true", help="print the evidence as JSON instead of a summary")
    command.add_argument(
        "--progress",
        action=argparse.BooleanOptionalAction,
        help="show how far the work is, or do not (default: on a terminal and with -v)",
    )
    command.add_argument("-v", "--verbose", action="store_true", help="show progress and tell all: every note and load")
