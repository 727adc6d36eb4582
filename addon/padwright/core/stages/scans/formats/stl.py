"""Read STL, binary and text, and check its counts before believing it."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from ....base.errors import ScanError
from ....base.notes import to_look_at
from ....geometry.matching import weld_exactly
from .draft import Draft, damaged
from .scan_format import Look, ScanFormat
from .textnumbers import normal_line_ends, number_lines, readable

_HEADER = 84
_FACET = re.compile(rb"(?m)^[ \t]*(?:facet[ \t]+normal|outer[ \t]+loop)\b", re.IGNORECASE)
_SOLID = re.compile(rb"\s*solid\b", re.IGNORECASE)
_SHORT = 1 << 16
_RECORD = np.dtype([("normal", "<f4", 3), ("corner", "<f4", (3, 3)), ("attribute", "<u2")])
"""50 bytes a triangle: normal, three corners, one 16-bit attribute; in 1989 laid down by the format's maker and
unchanged since (cited, not read; every general library reads it so)."""


def fits_binary_stl(head: bytes, size: int) -> bool:
    """Return True when a file's size agrees exactly with the triangle count that a binary STL would state."""
    return len(head) >= _HEADER and size == _HEADER + 50 * int.from_bytes(head[80:84], "little")


def stl_count(head: bytes, size: int) -> int:
    """Return how many triangles a binary STL has by its head and its size, leaving out what may follow them.

    Raises ScanError when the file ends early or states no triangles.
    """
    if size < _HEADER:
        raise damaged(f"The STL file is {size} bytes long; its head alone takes {_HEADER}.")
    declared = int.from_bytes(head[80:84], "little")
    whole, rest = divmod(size - _HEADER, 50)
    if declared in (0, 0xFFFFFFFF) and whole and not rest:
        return whole
    if declared == 0:
        raise damaged(f"The STL file states 0 triangles (byte 80) and {size - _HEADER} bytes follow.")
    if whole < declared:
        raise damaged(
            f"The STL file states {declared} triangles but ends within triangle {whole + 1}, at byte {size} of "
            f"{_HEADER + 50 * declared}."
        )
    return declared


def read_binary_stl(data: bytes) -> Draft:
    """Read a binary STL.

    Raises ScanError when the file ends early, states no triangles, or goes on with something that is no triangle.
    """
    count = stl_count(data, len(data))
    declared = int.from_bytes(data[80:84], "little")
    whole, rest = divmod(len(data) - _HEADER, 50)
    notes: list[str] = []
    if count != declared:
        notes.append(to_look_at(f"The STL file states {declared} triangles; it holds {whole}, and these were read."))
    else:
        extra = len(data) - _HEADER - 50 * declared
        if extra and not rest and _are_like(data, declared, whole):
            count = whole
            notes.append(f"The STL file states {declared} triangles; it holds {whole}, and all of them were read.")
        elif extra:
            notes.append(f"{extra} bytes after the last of {declared} triangles are no triangles and were left out.")
    record = np.frombuffer(data, dtype=_RECORD, count=count, offset=_HEADER)
    return _from_corners(record["corner"].reshape(-1, 3), {"faces": declared}, notes)


def _are_like(data: bytes, declared: int, whole: int) -> bool:
    """Return True when the records past the stated ones are finite and lie where the stated ones lie."""
    record = np.frombuffer(data, dtype=_RECORD, count=whole, offset=_HEADER)["corner"].reshape(-1, 3)
    stated, beyond = record[: 3 * declared], record[3 * declared :]
    stated = stated[np.isfinite(stated).all(axis=1)]
    if len(stated) == 0 or not np.isfinite(beyond).all():
        return False
    low, high = stated.min(axis=0), stated.max(axis=0)
    reach = float((high - low).max())
    is_near = bool(((beyond >= low - reach) & (beyond <= high + reach)).all())
    return is_near and float(np.ptp(beyond, axis=0).max()) > 1e-6 * reach


def _from_corners(corners: NDArray[np.floating], declared: dict[str, int], notes: list[str]) -> Draft:
    """Join equal corners: an STL repeats every vertex in each triangle around it."""
    kept, number = weld_exactly(corners)
    return Draft(
        points=corners[kept],
        corner_counts=np.full(len(number) // 3, 3, dtype=np.int8),
        corners=number,
        declared=declared,
        notes=tuple(notes),
    )


_SOLID_LINE = re.compile(rb"(?m)^[ \t]*(?:end[ \t]*)?solid\b[^\n]*")


def read_text_stl(data: bytes) -> Draft:
    """Read a text STL in upper or lower case.

    Raises ScanError when a facet is not complete, a line is not of the format, or the file ends within a facet or
    without an end line: a file cut off between two facets shows it by nothing else.
    """
    text = normal_line_ends(data).lower()
    body = _SOLID_LINE.sub(b"", text)
    facets, ends = body.count(b"facet") - body.count(b"endfacet"), body.count(b"endfacet")
    vertices = body.count(b"vertex")
    loops = body.count(b"endloop")
    if not (facets == ends == loops == body.count(b"outer") and vertices == 3 * facets):
        raise _broken_facet(text, facets, ends, vertices)
    bare = body
    for word in (b"endfacet", b"endloop", b"facet", b"normal", b"outer", b"loop"):
        bare = bare.replace(word, b"")
    numbers = number_lines(bare.replace(b"vertex", b""))
    if len(numbers.values) != 12 * facets or (numbers.counts != 3).any():
        raise _broken_facet(text, facets, ends, vertices)
    corners = numbers.values.reshape(-1, 4, 3)[:, 1:].reshape(-1, 3)
    if b"endsolid" not in text and b"end solid" not in text:
        raise damaged(
            f'The text STL ends after {facets} complete facets without its "endsolid" line; how many are missing '
            "nobody can tell."
        )
    return _from_corners(corners, {}, [])


def _broken_facet(text: bytes, facets: int, ends: int, vertices: int) -> ScanError:
    """Return the error for the first line that breaks the facet pattern."""
    expected = (b"facet", b"outer", b"vertex", b"vertex", b"vertex", b"endloop", b"endfacet")
    state = 0
    number = 0
    for number, line in enumerate(text.split(b"\n"), 1):
        words = line.split()
        if not words or (state == 0 and (words[0].startswith(b"solid") or words[0].startswith(b"end"))):
            continue
        word = words[0] + words[1] if words[0] == b"end" and len(words) > 1 else words[0]
        wanted = expected[state]
        numbers = {b"facet": 5, b"vertex": 4}.get(wanted)
        if word != wanted or (numbers is not None and len(words) != numbers):
            return damaged(
                f'Line {number} of the text STL is {readable(line.strip())} where "{wanted.decode()}'
                f'{" with three numbers" if numbers else ""}" should be.'
            )
        state = (state + 1) % 7
    return damaged(
        f"The text STL ends at line {number} within a facet: {facets} facets begin, {ends} end, "
        f"with {vertices} corners."
    )


def _is_text(look: Look) -> bool:
    if not look.is_text:
        return False
    begins = _SOLID.match(look.head) and _FACET.search(look.data[: 1 << 20].replace(b"\r", b"\n"))
    no_facets = _SOLID.match(look.head) and len(look.data) < _SHORT and b"endsolid" in look.data.lower()
    return bool(begins or no_facets or _FACET.search(look.head.replace(b"\r", b"\n")))


FORMATS = (
    ScanFormat(
        "stl binary",
        read_binary_stl,
        is_marked=lambda look: fits_binary_stl(look.data, look.size) and look.size > _HEADER,
        is_by_name=lambda look: not look.is_text,
        counts=lambda head, size: (None, stl_count(head, size)),
    ),
    ScanFormat("stl text", read_text_stl, start=b"solid ", is_like=_is_text, rank=1),
)
