"""The command line: run a job, look at a scan, write a job to start from. `main` never ends the process itself."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TextIO

from .cli_coupons import add_coupon_commands
from .cli_look import look_at
from .cli_say import put_raw, say, say_result
from .core.errors import InputError, PadwrightError
from .core.job_schema import FAMILIES
from .core.progress import Progress, Steps, drain
from .core.resources import version

if TYPE_CHECKING:
    from .core.pipeline import RunResult

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


def tell_error(error: PadwrightError, about: str = "") -> None:
    """Print what went wrong and what to do about it to stderr."""
    text = f"{error.message} {error.hint}" if error.hint else error.message
    say(f"error: {about}{text}", sys.stderr)


def _parser(program: str, add_commands: Callable[[Any], None] | None) -> argparse.ArgumentParser:
    parser = _Parser(
        prog=program,
        description="From two scans to one printable, zoned, flexible part.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"padwright {version()}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    run = commands.add_parser("run", help="make the part of a job file", allow_abbrev=False)
    run.add_argument("job", metavar="JOB", help="the job file, TOML")
    add_run_options(run, default="out, beside the job file")
    run.set_defaults(command=_run)
    look = commands.add_parser("look", help="say what a scan is", allow_abbrev=False)
    look.add_argument("files", metavar="FILE", nargs="+", help="a scan: STL, OBJ, PLY, OFF, GLB")
    look.add_argument("--json", action="store_true", help="print the facts as JSON")
    look.set_defaults(command=_look)
    new = commands.add_parser("new", help="write a commented job to start from", allow_abbrev=False)
    new.add_argument("--family", required=True, choices=FAMILIES, help="part family")
    new.add_argument("--out", metavar="FILE", help="the job file to write; never overwrites one (default: print it)")
    new.set_defaults(command=_new)
    add_coupon_commands(commands)
    if add_commands is not None:
        add_commands(commands)
    return parser


def add_run_options(command: argparse.ArgumentParser, *, default: str) -> None:
    """Add the options of a command that makes a part's files."""
    command.add_argument("--out", metavar="DIR", help=f"folder for the files (default: {default})")
    command.add_argument(
        "--only", metavar="REGION", nargs="+", help="pack these regions alone, by their ids, as a selection of the part"
    )
    command.add_argument("--json", action="store_true", help="print the evidence as JSON instead of a summary")
    command.add_argument("-v", "--verbose", action="store_true", help="show progress and tell all: every note and load")


def _run(args: argparse.Namespace) -> int:
    from .core.job import read_job, tell_place

    path = Path(args.job)
    job = read_job(path)
    out = Path(args.out) if args.out is not None else path.parent / "out"
    from .core.pipeline import run_job

    try:
        return make_files(args, job.part.number, out, run_job(job, path.parent, *([args.only] if args.only else [])))
    except PadwrightError as error:
        raise tell_place(error, path) from None


def make_files(args: argparse.Namespace, number: str, out: Path, steps: Steps[RunResult]) -> int:
    """Do the work of a run, put its files into a folder, tell, and return 0.

    Parameters
    ----------
    args : Namespace
        With what `add_run_options` adds.
    number : str
        Of the part.
    out : Path
    steps : generator of Progress that returns a RunResult
    """
    from .cli_poses import tell_poses
    from .core.capture.align_candidates import UnsurePoseError
    from .core.output.bundle import check_folder, mend_folder, run_document, write_bundle
    from .core.output.names import commit_name
    from .core.run_summary import files_line

    check_folder(out)
    for note in mend_folder(out) if out.exists() else ():
        say(f"note: {note}", sys.stderr)
    bar = ProgressBar(sys.stderr) if args.verbose else None
    try:
        result = drain(steps, bar.show if bar else None)
    except UnsurePoseError as error:
        raise tell_poses(error, number, out) from error
    finally:
        if bar:
            bar.end()
    commit = commit_name(number, is_selection=bool(args.only))
    files = {**result.files, commit: run_document(result.evidence, result.files)}
    bundle = write_bundle(out, files, commit_name=commit)
    for note in bundle.notes:
        say(f"note: {note}", sys.stderr)
    if args.json:
        say_result(json.dumps(result.evidence, indent=1, allow_nan=False))
    else:
        told = result.told_in_full if args.verbose else result.summary
        say_result("\n".join([*told, files_line(bundle.folder, bundle.names, in_full=args.verbose)]))
    return 0


def _look(args: argparse.Namespace) -> int:
    worst = 0
    found: list[dict[str, Any]] = []
    for file in args.files:
        try:
            facts, lines = look_at(Path(file))
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


def _new(args: argparse.Namespace) -> int:
    from .core.files import write_new
    from .core.job import new_job

    text = new_job(args.family)
    if args.out is None:
        say_result(text.rstrip("\n"))
        return 0
    path = Path(args.out)
    try:
        write_new(path, text.encode(), hint="Give another --out.")
    except FileExistsError:
        raise InputError(f'"{path}" is there already and is left as it is.', hint="Give another --out.") from None
    say_result(f"Wrote {path}. Fill in the scans, then: python -m padwright run {path}")
    return 0


class ProgressBar:
    """A plain bar: redrawn in place on a terminal, one line a step elsewhere."""

    _WIDTH = 30

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream
        self._is_terminal = stream is not None and stream.isatty()
        self._shown = ""

    def show(self, step: Progress) -> None:
        """Draw one step."""
        done = round(self._WIDTH * min(max(step.fraction, 0.0), 1.0))
        text = f"[{'#' * done}{'.' * (self._WIDTH - done)}] {step.fraction * 100:3.0f} %  {step.text}"
        if text == self._shown:
            return
        put_raw("\r" + text.ljust(len(self._shown)) if self._is_terminal else text + "\n", self._stream)
        self._shown = text

    def end(self) -> None:
        """Leave the bar's line."""
        if self._is_terminal and self._shown:
            put_raw("\n", self._stream)
