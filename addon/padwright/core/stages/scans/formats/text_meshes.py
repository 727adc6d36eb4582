"""Read OBJ and OFF, the two plain text formats with shared vertices."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from ....base.errors import ScanError
from ....base.text import counted
from .draft import AGAIN, Draft, colors_as_bytes, texture_note
from .textnumbers import NumberLines, normal_line_ends, number_lines, readable, whole_numbers

_AFTER_SLASH = re.compile(rb"/[^\s]*")


def read_obj(data: bytes) -> Draft:
    """Read the vertices and faces of an OBJ file; groups, normals, texture and materials are left aside.

    Raises
    ------
    ScanError
        When a vertex has under three numbers, a face number is 0, not whole or past the vertices, or a file has
        no faces; it names the line.
    """
    text = normal_line_ends(data)
    if b"\\\n" in text:
        text = text.replace(b"\\\n", b" ")  # a line that goes on; line numbers after it count it as one
    vertex_lines: list[bytes] = []
    face_lines: list[bytes] = []
    vertex_at: list[int] = []
    face_at: list[int] = []
    before: list[int] = []
    materials: list[bytes] = []
    texture_points = 0
    for number, line in enumerate(text.split(b"\n"), 1):
        head = line[:2]
        if head not in (b"v ", b"f "):
            words = line.split(None, 1)
            if not words or words[0] not in (b"v", b"f"):
                if words and words[0] == b"vt":
                    texture_points += 1
                elif len(words) > 1 and words[0] == b"mtllib" and len(materials) < 3:
                    materials.append(words[1].strip())
                continue
            line = words[0] + b" " + (words[1] if len(words) > 1 else b"")
            head = line[:2]
        if head == b"v ":
            vertex_lines.append(line[2:])
            vertex_at.append(number)
        else:
            face_lines.append(line[2:])
            face_at.append(number)
            before.append(len(vertex_lines))
    if not vertex_lines or not face_lines:
        raise ScanError(
            f"The OBJ file has {len(vertex_lines)} vertices and {len(face_lines)} faces.",
            hint="A scan needs both; make a surface from the points in the scan program, then save it again.",
        )
    vertices = number_lines(b"\n".join(vertex_lines), lines=np.array(vertex_at))
    per_line = vertices.counts
    if len(per_line) != len(vertex_at) or per_line.min() < 3:
        _refuse_short(vertices, vertex_at, "a vertex", 3)
    start = vertices.start[:-1]
    points = vertices.values[start[:, None] + np.arange(3)]
    colors = None
    if (per_line >= 6).all():
        wide = 4 if (per_line >= 7).all() else 3
        colors = colors_as_bytes(vertices.values[start[:, None] + 3 + np.arange(wide)])
    faces = number_lines(_AFTER_SLASH.sub(b"", b"\n".join(face_lines)), lines=np.array(face_at))
    if len(faces.line) != len(face_at):
        _refuse_short(faces, face_at, "a face", 3)
    index = whole_numbers(faces, "a vertex number")
    known = np.repeat(np.array(before), faces.counts)
    zero_based = np.where(index < 0, known + index, index - 1)
    bad = np.flatnonzero((index == 0) | (zero_based < 0) | (zero_based >= len(points)))
    if len(bad):
        at_line = int(faces.line[np.searchsorted(faces.start, bad[0], side="right") - 1])
        raise ScanError(
            f"Line {at_line} of the OBJ file points to vertex {int(index[bad[0]])}, but there are {len(points)} "
            "vertices.",
            hint=AGAIN,
        )
    return Draft(
        points, faces.counts, zero_based, colors, notes=_obj_texture(materials, texture_points, colors is not None)
    )


def _obj_texture(materials: list[bytes], texture_points: int, has_colors: bool) -> tuple[str, ...]:
    """Return what is to be said of a texture; a material file alone may hold one or not."""
    if not texture_points:
        return ()
    found = [f"material file {readable(name, 60)}" for name in materials]
    found.append(counted(texture_points, "texture point"))
    return (texture_note("OBJ", found, has_colors=has_colors),)


def _refuse_short(found: NumberLines, wanted: list[int], what: str, least: int) -> None:
    """Raise for the first line that has too few numbers."""
    short = found.line[found.counts < least]
    empty = np.setdiff1d(np.array(wanted), found.line)
    line = int(min([*short[:1], *empty[:1]]))
    raise ScanError(f"Line {line} of the OBJ file is {what} with fewer than {least} numbers.", hint=AGAIN)


_OFF_HEAD = re.compile(rb"\s*(ST)?(C)?(N)?(4)?(n)?OFF\b[ \t]*(BINARY)?", re.IGNORECASE)


def read_off(data: bytes) -> Draft:
    """Read an OFF file, also with colours (COFF) or normals (NOFF).

    Raises
    ------
    ScanError
        When it is a kind with other than three coordinates or binary, or has fewer rows than it states.
    """
    text = normal_line_ends(data)
    head = _OFF_HEAD.match(text)
    if head is None or head.group(4) or head.group(5) or head.group(6):
        shown = readable(text.split(b"\n", 1)[0])
        raise ScanError(f"The OFF file begins with {shown}; only text with three coordinates is read.", hint=AGAIN)
    first_line = text[: head.end()].count(b"\n") + 1
    lines = number_lines(text[head.end() :], first_line)
    if len(lines.line) == 0 or lines.counts[0] not in (2, 3):
        raise ScanError(f"The OFF file states no counts of vertices and faces near line {first_line}.", hint=AGAIN)
    stated = whole_numbers(lines.part(0, 1), "a count")
    vertex_count, face_count = int(stated[0]), int(stated[1])
    if vertex_count < 0 or face_count < 0 or len(lines.line) < 1 + vertex_count + face_count:
        raise ScanError(
            f"The OFF file states {vertex_count} vertices and {face_count} faces, together "
            f"{vertex_count + face_count} rows, but has {len(lines.line) - 1}, the last on line {int(lines.line[-1])}.",
            hint=AGAIN,
        )
    rows = lines.part(1, 1 + vertex_count)
    normal = 3 if head.group(3) else 0
    need = 3 + normal + (3 if head.group(2) else 0)
    if vertex_count and rows.counts.min() < need:
        line = int(rows.line[np.flatnonzero(rows.counts < need)[0]])
        raise ScanError(f"Line {line} of the OFF file is a vertex with fewer than {need} numbers.", hint=AGAIN)
    start = rows.start[:-1]
    points = rows.values[start[:, None] + np.arange(3)].reshape(-1, 3)
    colors = _off_colors(rows, start + 3 + normal) if vertex_count and head.group(2) else None
    polygons = lines.part(1 + vertex_count, 1 + vertex_count + face_count)
    counts, corners = _off_polygons(polygons)
    extra = len(lines.line) - 1 - vertex_count - face_count
    left_out = "1 line was" if extra == 1 else f"{extra} lines were"
    notes: tuple[str, ...] = (f"{left_out} left out: the file goes on after the last row it states.",) if extra else ()
    if head.group(1):
        notes += (texture_note("OFF", ["texture points"], has_colors=colors is not None),)
    return Draft(points, counts, corners, colors, None, {"vertices": vertex_count, "faces": face_count}, notes)


def _off_colors(rows: NumberLines, at: NDArray[np.int64]) -> NDArray[np.uint8]:
    wide = 4 if (rows.start[1:] - at >= 4).all() else 3
    return colors_as_bytes(rows.values[at[:, None] + np.arange(wide)])


def _off_polygons(lines: NumberLines) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return corner counts and corners; what follows the corners on a line is a face colour and is left aside."""
    start = lines.start[:-1]
    head = lines.values[start]
    bad = np.flatnonzero(~((head >= 0) & (np.rint(head) == head)) | (head + 1 > lines.counts))
    if len(bad):
        row = int(bad[0])
        raise ScanError(
            f"Line {int(lines.line[row])} of the OFF file has {int(lines.counts[row]) - 1} corners for a face that "
            f"states {head[row]:g}.",
            hint=AGAIN,
        )
    counts = head.astype(np.int64)
    before = np.cumsum(counts) - counts
    chosen = np.repeat(start + 1 - before, counts) + np.arange(int(counts.sum()))
    picked = NumberLines(lines.values[chosen], np.arange(len(chosen) + 1), np.repeat(lines.line, counts))
    return counts, whole_numbers(picked, "a vertex number")
