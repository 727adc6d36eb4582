"""The command line: run a job, look at a scan, write a job to start from. `main` never ends the process itself."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from ..core.base.errors import InputError, PadwrightError
from ..core.base.progress import Steps, drain
from ..core.base.resources import version
from .batch import add_batch_command
from .check import add_check_command
from .compare import add_compare_command
from .completion import add_completion_command
from .coupons import add_coupon_commands
from .look import look_at
from .map import add_map_command
from .mat import add_mat_command
from .new import add_new_command
from .options import add_command, add_run_options
from .progress import wanted_bar
from .say import say, say_result, speak_as, tell_error
from .schema import add_schema_command
from .trials import add_trial_commands

if TYPE_CHECKING:
    from ..core.run.pipeline import RunResult

_NO_MEMORY = "Thin the scans out in the scan program, or close what else is running."
INTERRUPTED = 130
"""Exit code of a run that was interrupted: 128 + 2, the number of the interrupt signal (POSIX shells)."""


class _Parser(argparse.ArgumentParser):
    """A parser that raises instead of ending the process on a wrong command line."""

    def error(self, message: str) -> NoReturn:
        raise InputError(f"The command line is wrong: {message}.", hint=f"Try: {self.prog} --help")


def main(
    argv: Sequence[str] | None = None,
    *,
    program: str = "python -m padwright",
    add_commands: Callable[[Any], None] | None = None,
) -> int:
    """Run the command line and return its exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        Without the program's name; the process's own if left out.
    program : str
        What the person typed before the command.
    add_commands : callable, optional
        Adds further commands to what `ArgumentParser.add_subparsers` returns.

    Returns
    -------
    int
        0 done; 2 the job file or the command line is wrong; 3 a scan can't be used; 4 a stage failed or is not sure;
        130 interrupted.
    """
    speak_as(program)
    try:
        try:
            args = _parser(program, add_commands).parse_args(argv)
        finally:
            say_result("", end="")  # --help and --version print by themselves
        if hasattr(args, "body"):  # a command that does its work and hands back what to say
            say_result("\n".join(args.body(args)))
            return 0
        command: Callable[[argparse.Namespace], int] = args.command
        return command(args)
    except PadwrightError as error:
        tell_error(error)
        return error.exit_code
    except MemoryError:
        tell_error(PadwrightError("The memory of this machine does not suffice.", hint=_NO_MEMORY))
        return PadwrightError.exit_code
    except KeyboardInterrupt:
        say("interrupted.", sys.stderr)
        return INTERRUPTED
    except SystemExit as end:  # argparse ends this way after --help and --version, which it printed itself
        return end.code if isinstance(end.code, int) else 0


def _parser(program: str, add_commands: Callable[[Any], None] | None) -> argparse.ArgumentParser:
    parser = _Parser(
        prog=program,
        description="From two scans to one printable, zoned, flexible part.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"padwright {version()}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    run = add_command(
        commands,
        "run",
        "make the part of a job file",
        "job.toml  # files go into the folder out beside job.toml",
        "job.toml --out part-2 --set pad.fit_gap_mm=0.5  # a variant, with one key set",
        "job.toml --only sit-bones-1  # one region again",
    )
    run.add_argument("job", metavar="JOB", help="the job file, TOML")
    add_run_options(run, default="out, beside the job file; of a job with part.previous out-<revision>")
    run.set_defaults(command=_run)
    add_batch_command(commands)
    add_check_command(commands)
    look = add_command(
        commands,
        "look",
        "say what a scan is",
        "base.ply impression.ply  # size, holes, what is wrong",
        "base.stl --json  # the same for a script",
    )
    look.add_argument("files", metavar="FILE", nargs="+", help="a scan")
    look.add_argument("--json", action="store_true", help="print the facts as JSON")
    look.set_defaults(command=_look)
    add_new_command(commands)
    add_coupon_commands(commands)
    add_map_command(commands)
    add_mat_command(commands)
    add_trial_commands(commands)
    add_compare_command(commands)
    add_schema_command(commands)
    add_completion_command(commands, parser)
    if add_commands is not None:
        add_commands(commands)
    return parser


def _run(args: argparse.Namespace) -> int:
    from ..core.job.read import read_job, tell_place
    from ..core.stages.scans.known_formats import scan_kinds

    path = Path(args.job)
    job = read_job(path, args.settings, scan_kinds())
    from ..core.run.history import printed_folder
    from ..core.run.pipeline import run_job
    from ..core.run.revisions import refuse_previous

    out = Path(args.out) if args.out is not None else printed_folder(job, path.parent)
    try:
        refuse_previous(job, path.parent, out)
        return make_files(args, job.part.number, out, run_job(job, path.parent, *([args.only] if args.only else [])))
    except PadwrightError as error:
        raise tell_place(error, job) from None


def make_files(args: argparse.Namespace, number: str, out: Path, steps: Steps[RunResult]) -> int:
    """Do the work of a run, put its files into a folder, tell, and return 0.

    Parameters
    ----------
    args : Namespace
        With what `add_run_options` adds.
    number : str
        Of the part.
    """
    from ..core.run.into_folder import put_result, ready_folder
    from ..core.run.summary import files_lines
    from ..core.stages.alignment.candidates import UnsurePoseError
    from .poses import tell_poses

    for note in ready_folder(out, number):
        say(f"note: {note}", sys.stderr)
    bar = wanted_bar(args)
    try:
        result = drain(steps, bar.show if bar else None)
    except UnsurePoseError as error:
        raise tell_poses(error, number, out) from error
    finally:
        if bar:
            bar.end()
    bundle = put_result(out, number, result, is_selection=bool(args.only))
    for note in bundle.notes:
        say(f"note: {note}", sys.stderr)
    if args.json:
        say_result(json.dumps(result.evidence, indent=1, allow_nan=False))
    else:
        told = result.told_in_full if args.verbose else result.summary
        say_result("\n".join([*told, *files_lines(bundle.folder, bundle.names, in_full=args.verbose)]))
    return 0


def _look(args: argparse.Namespace) -> int:
    worst = 0
    found: list[dict[str, Any]] = []
    for file in args.files:
        try:
            facts, lines = look_at(Path(file), is_whole=args.json)
        except PadwrightError as error:
            tell_error(error, f"{file}: ")
            worst = max(worst, error.exit_code)
            continue
        found.append(facts)
        if not args.json:
            say_result("\n".join(lines))
    if args.json:
        say_result(json.dumps(found, indent=1, allow_nan=False))
    return worst
