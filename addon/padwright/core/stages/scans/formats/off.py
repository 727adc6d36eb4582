"""Read OFF."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from .draft import Draft, colors_as_bytes, damaged, rows_beyond, texture_note
from .scan_format import Look, ScanFormat
from .textnumbers import NumberLines, normal_line_ends, number_lines, readable, whole_lists, whole_numbers

_OFF = re.compile(rb"\s*(?:#[^\n]*\n\s*)*(?:ST)?C?N?4?n?OFF\b", re.IGNORECASE)
_OFF_HEAD = re.compile(rb"\s*(ST)?(C)?(N)?(4)?(n)?OFF\b[ \t]*(BINARY)?", re.IGNORECASE)


def read_off(data: bytes) -> Draft:
    """Read an OFF file, also with colors (COFF) or normals (NOFF).

    Raises ScanError when it is a kind with other than three coordinates or binary, or has fewer rows than it states.
    """
    text = normal_line_ends(data)
    head = _OFF_HEAD.match(text)
    if head is None or head.group(4) or head.group(5) or head.group(6):
        shown = readable(text.split(b"\n", 1)[0])
        raise damaged(f"The OFF file begins with {shown}; only text with three coordinates is read.")
    first_line = text[: head.end()].count(b"\n") + 1
    lines = number_lines(text[head.end() :], first_line)
    if len(lines.line) == 0 or lines.counts[0] not in (2, 3):
        raise damaged(f"The OFF file states no counts of vertices and faces near line {first_line}.")
    stated = whole_numbers(lines.part(0, 1), "a count")
    vertex_count, face_count = int(stated[0]), int(stated[1])
    if vertex_count < 0 or face_count < 0 or len(lines.line) < 1 + vertex_count + face_count:
        raise damaged(
            f"The OFF file states {vertex_count} vertices and {face_count} faces, together "
            f"{vertex_count + face_count} rows, but has {len(lines.line) - 1}, the last on line {int(lines.line[-1])}."
        )
    rows = lines.part(1, 1 + vertex_count)
    normal = 3 if head.group(3) else 0
    need = 3 + normal + (3 if head.group(2) else 0)
    if vertex_count and rows.counts.min() < need:
        line = int(rows.line[np.flatnonzero(rows.counts < need)[0]])
        raise damaged(f"Line {line} of the OFF file is a vertex with fewer than {need} numbers.")
    start = rows.start[:-1]
    points = rows.values[start[:, None] + np.arange(3)].reshape(-1, 3)
    colors = _off_colors(rows, start + 3 + normal) if vertex_count and head.group(2) else None
    polygons = lines.part(1 + vertex_count, 1 + vertex_count + face_count)
    counts, corners = _off_polygons(polygons)
    notes = rows_beyond(len(lines.line) - 1 - vertex_count - face_count)
    if head.group(1):
        notes.append(texture_note("OFF", ["texture points"], has_colors=colors is not None))
    return Draft(points, counts, corners, colors, None, {"vertices": vertex_count, "faces": face_count}, tuple(notes))


def _off_colors(rows: NumberLines, at: NDArray[np.int64]) -> NDArray[np.uint8]:
    wide = 4 if (rows.start[1:] - at >= 4).all() else 3
    return colors_as_bytes(rows.values[at[:, None] + np.arange(wide)])


def _off_polygons(lines: NumberLines) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return corner counts and corners; what follows the corners on a line is a face color and is left aside."""
    start = lines.start[:-1]
    head = lines.values[start]
    bad = np.flatnonzero(~((head >= 0) & (np.rint(head) == head)) | (head + 1 > lines.counts))
    if len(bad):
        row = int(bad[0])
        raise damaged(
            f"Line {int(lines.line[row])} of the OFF file has {int(lines.counts[row]) - 1} corners for a face that "
            f"states {head[row]:g}."
        )
    counts = head.astype(np.int64)
    return counts, whole_lists(lines, start + 1, counts)


def _is_like(look: Look) -> bool:
    return _OFF.match(look.head) is not None


FORMATS = (ScanFormat("off", read_off, start=b"OFF", is_like=_is_like, is_lines=lambda _: True),)
