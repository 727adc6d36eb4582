"""How far a run is: a bar in place on a terminal, a line a step elsewhere."""

from __future__ import annotations

import argparse
import sys
from typing import TextIO

from ..core.base.progress import Progress
from .say import put_raw


def wanted_bar(args: argparse.Namespace) -> ProgressBar | None:
    """Return the bar of a run: as the flag says, else on a terminal or with -v."""
    asked: bool | None = args.progress
    is_terminal = sys.stderr is not None and not sys.stderr.closed and sys.stderr.isatty()
    if asked is None:
        asked = args.verbose or is_terminal
    return ProgressBar(sys.stderr) if asked else None


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
