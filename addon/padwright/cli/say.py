"""Print for the person: whatever the terminal's encoding lacks, and whether or not anybody still listens."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from contextvars import ContextVar
from typing import TextIO

from ..core.base.errors import PadwrightError

_MODULE = "python -m padwright"  # as the words of the core have it
_TYPED = ContextVar("what the person types before a command", default=_MODULE)


def speak_as(program: str) -> None:
    """Name the program from now on as the person typed it."""
    _TYPED.set(program)


def program() -> str:
    """Return what the person types before a command."""
    return _TYPED.get()


def say(text: str, stream: TextIO | None) -> None:
    """Print a line beside the result, with ? for what the encoding does not have; lost when the stream is closed."""
    try:
        _put(text + "\n", stream)
    except OSError:
        _give_up(stream)


def say_result(text: str, *, end: str = "\n") -> None:
    """Print what a command is run for.

    When the reader went away (| head) the rest goes unsaid: what was asked for is done.

    Raises PadwrightError when it cannot be printed for another reason, e.g. a full disk behind stdout.
    """
    try:
        _put(text + end, sys.stdout)
    except BrokenPipeError:
        _give_up(sys.stdout)
    except OSError as error:
        _give_up(sys.stdout)
        raise PadwrightError(
            f"What was asked for is done, but it could not be printed: {error.strerror}.",
            hint="Files that were written are in place.",
        ) from None


def tell_error(error: PadwrightError, about: str = "") -> None:
    """Print what went wrong and what to do about it to stderr."""
    text = f"{error.message} {error.hint}" if error.hint else error.message
    say(f"error: {about}{text.replace(_MODULE, program())}", sys.stderr)


def put_raw(text: str, stream: TextIO | None) -> None:
    """Write text as it is, e.g. a progress bar; lost when the stream is closed."""
    try:
        _put(text, stream)
    except OSError:
        _give_up(stream)


def _put(text: str, stream: TextIO | None) -> None:
    if stream is None or stream.closed:  # the process was started with the stream closed
        return
    encoding = getattr(stream, "encoding", None) or "utf-8"
    stream.write(text.encode(encoding, "replace").decode(encoding))
    stream.flush()


def _give_up(stream: TextIO | None) -> None:
    """Send what is still in the stream's buffer, and all that follows, nowhere; else the end of Python complains."""
    with suppress(OSError, ValueError, AttributeError):  # a stream in memory has no number
        assert stream is not None
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
