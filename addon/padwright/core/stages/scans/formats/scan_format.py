"""What the reading of scans knows of one format: each file of formats lists its own as `FORMATS`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from .draft import Draft

_LOOK = 1 << 16
_TEXT_BYTES = frozenset([9, 10, 11, 12, 13, *range(32, 127)])


@dataclass(frozen=True)
class Look:
    """A file as formats look at it.

    Attributes
    ----------
    data : bytes
        The whole file, or its head.
    size : int
        Of the whole file, bytes.
    """

    data: bytes
    size: int

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
    """A format that is read.

    Attributes
    ----------
    name : str
        "stl binary"; what it begins with is the ending of such files.
    read : callable (whole file) -> Draft
    is_marked : callable (Look) -> bool
        The file's first bytes or its size leave no doubt.
    is_like : callable (Look) -> bool
        It looks so; asked where no format is marked.
    rank : int
        Where several look so, the lowest has it.
    is_by_name : callable (Look) -> bool
        The ending of its name decides where nothing else does.
    unit : str, optional
        The unit that the format lays down.
    counts : callable (head, size) -> (vertices or None, faces or None), optional
        What the head states.
    is_lines : callable (whole file) -> bool
        It is text in lines, so that a missing line end may be the only sign of a cut.
    """

    name: str
    read: Callable[[bytes], Draft]
    is_marked: Callable[[Look], bool] = _never
    is_like: Callable[[Look], bool] = _never
    rank: int = 0
    is_by_name: Callable[[Look], bool] = _never
    unit: str | None = None
    counts: Callable[[bytes, int], tuple[int | None, int | None]] | None = None
    is_lines: Callable[[bytes], bool] = lambda _: False

    @property
    def ending(self) -> str:
        """Of the names of such files, without the point."""
        return self.name.split()[0]
