"""Read OBJ."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from ....base.errors import ScanError
from ....base.text import counted
from .draft import Draft, colors_as_bytes, damaged, texture_note
from .scan_format import Look, ScanFormat
from .textnumbers import NumberLines, normal_line_ends, number_lines, readable, whole_numbers

_OBJ_LINE = re.compile(rb"(?m)^[ \t]*(?:v[ \t]+[-+.\d]|f[ \t]+-?\d)")
_OBJ_OTHER = re.compile(rb"(?m)^[ \t]*(?:mtllib|usemtl|vn|vt|vp|[go])[ \t]+\S")
_AFTER_SLASH = re.compile(rb"/[^\s]*")


@dataclass(frozen=True)
class _ObjLines:
    """The lines of an OBJ file by what they say."""

    vertices: list[bytes]
    vertex_at: list[int]  # their numbers in the file, from 1
    faces: list[bytes]
    face_at: list[int]
    known: list[int]  # how many vertices stand before each face
    materials: list[bytes]  # the first files of materials
    texture_points: int


def _lines_of(text: bytes) -> _ObjLines:
    vertices: list[bytes] = []
    faces: list[bytes] = []
    vertex_at: list[int] = []
    face_at: list[int] = []
    known: list[int] = []
    materials: list[bytes] = []
    texture_points = 0
    for number, line in enumerate(text.split(b"\n"), 1):
        head, rest = line[:2], line[2:]
        if head not in (b"v ", b"f "):
            words = line.split(None, 1)
            if not words or words[0] not in (b"v", b"f"):
                if words and words[0] == b"vt":
                    texture_points += 1
                elif len(words) > 1 and words[0] == b"mtllib":
                    materials.append(words[1].strip())
                continue
            head, rest = words[0] + b" ", words[1] if len(words) > 1 else b""
        if head == b"v ":
            vertices.append(rest)
            vertex_at.append(number)
        else:
            faces.append(rest)
            face_at.append(number)
            known.append(len(vertices))
    return _ObjLines(vertices, vertex_at, faces, face_at, known, materials[:3], texture_points)


def read_obj(data: bytes) -> Draft:
    """Read the vertices and faces of an OBJ file; groups, normals, texture and materials are left aside.

    Raises ScanError when a vertex has under three numbers, a face number is 0, not whole or past the vertices, or a
    file has no faces; it names the line.
    """
    lines = _lines_of(normal_line_ends(data).replace(b"\\\n", b" "))  # lines that go on count as one
    if not lines.vertices or not lines.faces:
        raise ScanError(
            f"The OBJ file has {len(lines.vertices)} vertices and {len(lines.faces)} faces.",
            hint="A scan needs both; make a surface from the points in the scan program, then save it again.",
        )
    vertices = number_lines(b"\n".join(lines.vertices), lines=np.array(lines.vertex_at))
    per_line = vertices.counts
    if len(per_line) != len(lines.vertex_at) or per_line.min() < 3:
        _refuse_short(vertices, lines.vertex_at, "a vertex", 3)
    start = vertices.start[:-1]
    points = vertices.values[start[:, None] + np.arange(3)]
    colors = None
    if (per_line >= 6).all():
        wide = 4 if (per_line >= 7).all() else 3
        colors = colors_as_bytes(vertices.values[start[:, None] + 3 + np.arange(wide)])
    faces = number_lines(_AFTER_SLASH.sub(b"", b"\n".join(lines.faces)), lines=np.array(lines.face_at))
    if len(faces.line) != len(lines.face_at):
        _refuse_short(faces, lines.face_at, "a face", 3)
    index = whole_numbers(faces, "a vertex number")
    known = np.repeat(np.array(lines.known), faces.counts)
    zero_based = np.where(index < 0, known + index, index - 1)
    bad = np.flatnonzero((index == 0) | (zero_based < 0) | (zero_based >= len(points)))
    if len(bad):
        at_line = int(faces.line[np.searchsorted(faces.start, bad[0], side="right") - 1])
        raise damaged(
            f"Line {at_line} of the OBJ file points to vertex {int(index[bad[0]])}, but there are {len(points)} "
            "vertices."
        )
    return Draft(
        points,
        faces.counts,
        zero_based,
        colors,
        notes=_obj_texture(lines, colors is not None),
        is_textured=lines.texture_points > 0,
    )


def _obj_texture(lines: _ObjLines, has_colors: bool) -> tuple[str, ...]:
    """Return what is to be said of a texture; a material file alone may hold one or not."""
    if not lines.texture_points:
        return ()
    found = [f"material file {readable(name, 60)}" for name in lines.materials]
    found.append(counted(lines.texture_points, "texture point"))
    return (texture_note("OBJ", found, has_colors=has_colors),)


def _refuse_short(found: NumberLines, wanted: list[int], what: str, least: int) -> None:
    """Raise for the first line that has too few numbers."""
    short = found.line[found.counts < least]
    empty = np.setdiff1d(np.array(wanted), found.line)
    line = int(min([*short[:1], *empty[:1]]))
    raise damaged(f"Line {line} of the OBJ file is {what} with fewer than {least} numbers.")


def _is_like(look: Look) -> bool:
    data = look.data if len(look.data) < 1 << 24 or _OBJ_OTHER.search(look.head) else look.head
    return look.is_text and _OBJ_LINE.search(data) is not None


FORMATS = (ScanFormat("obj", read_obj, is_like=_is_like, rank=2, is_lines=lambda _: True),)
