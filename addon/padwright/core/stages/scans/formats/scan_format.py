"""What the reading of scans knows of one format: each file of formats lists its own as `FORMATS`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ....base.cached import cached_property
from .draft import Draft

_LOOK = 1 << 16
_TEXT_BYTES = frozenset([9, 10, 11, 12, 13, *range(32, 127)])


@dataclass(frozen=True)
class Look:
    """A file as formats look at it."""

    data: bytes  # the whole file, or its head
    size: int  # of the whole file, bytes

    @cached_property
    def head(self) -> bytes:
        """As far as a format's marks are looked for."""
        return self.data[:_LOOK]

    @cached_property
    def is_text(self) -> bool:
        """True where the head holds no byte that plain text has not, letters beyond ASCII aside."""
        return not any(byte not in _TEXT_BYTES for byte in set(self.head) if byte < 128) and b"\x00" not in self.head


def _never(_: Look) -> bool:
    return False


@dataclass(frozen=True)
class ScanFormat:
    """A format that is read."""

    name: str  # "stl binary"; what it begins with is the ending of such files
    read: Callable[[bytes], Draft]
    is_marked: Callable[[Look], bool] = _never  # the file's first bytes or its size leave no doubt
    start: bytes = b""  # what most such files begin with
    is_like: Callable[[Look], bool] = _never  # it looks so; asked where no format is marked
    rank: int = 0  # where several look so, the lowest has it
    # The ending of its name decides where nothing else does.
    is_by_name: Callable[[Look], bool] = _never
    unit: str | None = None  # the unit that the format lays down
    # Of head and size: how many vertices and faces the head states.
    counts: Callable[[bytes, int], tuple[int | None, int | None]] | None = None
    # Given the whole file: it is text in lines, so that a missing line end may be the only sign of a cut.
    is_lines: Callable[[bytes], bool] = lambda _: False

    @property
    def ending(self) -> str:
        """Of the names of such files, without the point."""
        return self.name.split()[0]
