"""Read OBJ."""

from __future__ import annotations

import re

import numpy as np

from ....base.errors import ScanError
from ....base.text import counted
from .draft import AGAIN, Draft, colors_as_bytes, texture_note
from .scan_format import Look, ScanFormat
from .textnumbers import NumberLines, normal_line_ends, number_lines, readable, whole_numbers

_OBJ_LINE = re.compile(rb"(?m)^[ \t]*(?:v[ \t]+[-+.\d]|f[ \t]+-?\d)")
_OBJ_OTHER = re.compile(rb"(?m)^[ \t]*(?:mtllib|usemtl|vn|vt|vp|[go])[ \t]+\S")
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


def _is_like(look: Look) -> bool:
    data = look.data if len(look.data) < 1 << 24 or _OBJ_OTHER.search(look.head) else look.head
    return look.is_text and _OBJ_LINE.search(data) is not None


FORMATS = (ScanFormat("obj", read_obj, is_like=_is_like, rank=2, is_lines=lambda _: True),)
