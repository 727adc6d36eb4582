"""Batches without a window: the same command line as `python -m padwright`, and the open scene's part to export.

`blender -b --command padwright run job.toml`, or `blender -b part.blend --command padwright export`.
"""

from __future__ import annotations

import signal
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bpy

if TYPE_CHECKING:
    import argparse

NAME = "padwright"
_PROGRAM = "blender -b --command padwright"
_handle: Any = None


def register() -> None:
    """Tell the modeller of the command, where it knows commands (4.2 and later)."""
    global _handle
    if _handle is None and hasattr(bpy.utils, "register_cli_command"):
        _handle = bpy.utils.register_cli_command(NAME, execute)


def unregister() -> None:
    """Undo `register`."""
    global _handle
    if _handle is not None:
        bpy.utils.unregister_cli_command(_handle)
        _handle = None


def execute(arguments: list[str]) -> int:
    """Run a command and return its exit code; the process goes on, whatever comes."""
    from ...cli import main as cli

    with _interruptible(), warnings.catch_warnings():
        if not sys.warnoptions:  # warnings of the libraries are for who develops
            warnings.simplefilter("ignore")
        code = cli.main(arguments, program=_PROGRAM, add_commands=_add_export)
    sys.stdout.flush()
    return code


@contextmanager
def _interruptible() -> Iterator[None]:
    """Let an interrupt from the terminal stop the work: the modeller keeps it to itself."""
    before = signal.getsignal(signal.SIGINT)
    if before is signal.SIG_IGN:  # a shell started us in the background: the terminal's interrupt is not for us
        yield
        return
    try:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    except ValueError:  # not in the main thread: whoever called us there must stop us
        yield
        return
    try:
        yield
    finally:
        # None stands for a handler that was not set from Python; Python cannot put that one back.
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)


def _add_export(commands: Any) -> None:
    from ...cli import options as cli_options

    export = cli_options.add_command(
        commands,
        "export",
        "make the part of the scene that is open",
        "--out part  # the part of the scene, as its panels have it",
        "--out part-2 --set pad.fit_gap_mm=0.5  # a variant, with one key set",
    )
    cli_options.add_run_options(export, default="as chosen in the scene, or out, beside it")
    export.set_defaults(command=_export)


def _is_aligned(part: Any) -> bool:
    """Say if the part has clay to lay on its base."""
    return part.impression is not None and not part.shows_body


def _export(args: argparse.Namespace) -> int:
    """Make the files of the open scene's part; stages that the scene has not done are done on the way."""
    from ...cli import main as cli
    from ...core.base.errors import InputError
    from ...core.run.revisions import refuse_previous
    from .. import scene, state
    from ..regions import hand_edits
    from ..stage_memory import memory
    from ..trials import notes

    context = bpy.context
    part = context.scene.padwright
    for stage in ("scans", "alignment", "pad"):
        missing = state.missing(part, stage) if stage != "alignment" or _is_aligned(part) else ""
        if missing:
            name = Path(bpy.data.filepath).name or "The scene"
            raise InputError(f"{name} has no part to make yet: {missing}.", hint="Open it in the modeller.")
    hand_edits.refuse(context.scene)
    out = Path(args.out) if args.out is not None else scene.target_folder(part.folder)
    remembered = memory()
    folder = scene.work_folder()
    job = scene.read_scene(context, folder, settings=args.settings)
    refuse_previous(job, folder, out)
    notes.bring(part, folder)
    return cli.make_files(args, job.part.number, out, remembered.run(job, folder, args.only))
