"""The colors of an OBJ file: its vertex colors, or the pictures that its material files name."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ....base.errors import InputError, PadwrightError, ScanError
from ....base.mesh import Float
from ....base.notes import to_look_at
from .draft import Draft, damaged, triangulate
from .obj import read_obj
from .painted import Beside, PaintedScan, PaintFormat, PictureFile, beside_name
from .textnumbers import normal_line_ends, number_lines, whole_numbers

_NAMED = re.compile(rb"(?m)^[ \t]*mtllib[ \t]+([^\n]+)")
_OPTION = re.compile(r"-(?:blendu|blendv|bm|boost|cc|clamp|imfchan|texres|type)\s+\S+\s+|-mm\s+\S+\s+\S+\s+")
_MOVED = re.compile(r"-([ost])((?:\s+[-+.\deE]+){1,3})\s+")
"""Options before a picture's name (the MTL material format, Alias/Wavefront 1995); -o, -s and -t move it."""


@dataclass
class _TextureLines:
    """What of an OBJ file says where its faces lie on pictures."""

    places: list[bytes] = field(default_factory=list)
    place_at: list[int] = field(default_factory=list)
    faces: list[bytes] = field(default_factory=list)
    face_at: list[int] = field(default_factory=list)
    known: list[int] = field(default_factory=list)  # how many texture points stand before each face
    material: list[int] = field(default_factory=list)  # of each face, by its number in `names`
    names: list[str] = field(default_factory=lambda: [""])


def obj_companions(data: bytes, beside: Beside) -> Iterator[str]:
    """Yield the names of the material files and pictures that an OBJ file names, as far as they are there."""
    for library in _libraries(data):
        yield library
        try:
            text = beside(library)
        except InputError:
            continue
        yield from dict.fromkeys(_pictures_of(text).values())


def paint_obj(data: bytes, beside: Beside, draft: Draft | None = None) -> PaintedScan:
    """Return an OBJ scan with its colors: those of its pictures where it has any, else its vertex colors.

    Raises ScanError when a place on a picture is damaged, a picture is named that is not there, or there is a picture
    and no place on it; it says what to save.
    """
    draft = draft or read_obj(data)
    corners, _ = triangulate(draft)
    bare = PaintedScan(np.asarray(draft.points, dtype=np.float64), corners, draft.colors)
    libraries = _libraries(data)
    if not libraries:
        return bare
    try:
        pictures, of_material = _materials(libraries, beside)
        if not of_material:
            return bare
        lines = _lines_of(normal_line_ends(data).replace(b"\\\n", b" "))
        return _laid_on(bare, draft, lines, pictures, of_material)
    except PadwrightError as error:
        if draft.colors is None:
            raise ScanError(error.message, hint=error.hint) from None
        note = to_look_at(f"{error.message} The scan's vertex colors were taken instead.")
        return PaintedScan(bare.points, bare.faces, bare.colors, notes=(note,))


def _libraries(data: bytes) -> list[str]:
    found = [beside_name(each.decode("utf-8", "replace")) for each in _NAMED.findall(normal_line_ends(data))]
    return list(dict.fromkeys(found))


def _pictures_of(text: bytes) -> dict[str, str]:
    """Return the picture of the color of each material of a material file, by the material's name.

    Raises ScanError where an option moves or stretches the picture.
    """
    found: dict[str, str] = {}
    material = ""
    for line in text.decode("utf-8", "replace").splitlines():
        word, _, rest = line.strip().partition(" ")
        if word == "newmtl":
            material = rest.strip()
        elif word.lower() == "map_kd" and rest.strip():
            rest = _OPTION.sub("", rest.strip() + " ")
            for option, numbers in _MOVED.findall(rest):
                plain = 1.0 if option == "s" else 0.0
                if any(float(number) != plain for number in numbers.split()):
                    raise ScanError(
                        f'The material "{material}" moves or stretches its picture (-{option}{numbers}).',
                        hint="Save the scan with its texture laid on plainly.",
                    )
            found[material] = beside_name(_MOVED.sub("", rest))
    return found


def _materials(libraries: list[str], beside: Beside) -> tuple[tuple[PictureFile, ...], dict[str, int]]:
    """Return the pictures, and of each material that has one its number."""
    names: dict[str, int] = {}
    of_material: dict[str, int] = {}
    for library in libraries:
        for material, picture in _pictures_of(beside(library)).items():
            of_material[material] = names.setdefault(picture, len(names))
    return tuple(PictureFile(name, beside(name)) for name in names), of_material


def _lines_of(text: bytes) -> _TextureLines:
    found = _TextureLines()
    numbers = {"": 0}
    material = 0
    for number, line in enumerate(text.split(b"\n"), 1):
        words = line.split(None, 1)
        if len(words) < 2:
            continue
        head, rest = words
        if head == b"f":
            found.faces.append(rest)
            found.face_at.append(number)
            found.known.append(len(found.places))
            found.material.append(material)
        elif head == b"vt":
            found.places.append(rest)
            found.place_at.append(number)
        elif head == b"usemtl":
            name = rest.decode("utf-8", "replace").strip()
            material = numbers.setdefault(name, len(numbers))
    found.names = list(numbers)
    return found


def _laid_on(
    bare: PaintedScan,
    draft: Draft,
    lines: _TextureLines,
    pictures: tuple[PictureFile, ...],
    of_material: dict[str, int],
) -> PaintedScan:
    if not lines.places:
        raise ScanError(
            f'The OBJ file has a picture ("{pictures[0].name}") and no texture points (vt): it does not say where the '
            "picture lies on the surface.",
            hint="Save it with texture coordinates (UV).",
        )
    table = number_lines(b"\n".join(lines.places), lines=np.array(lines.place_at))
    if len(table.line) != len(lines.place_at) or table.counts.min() < 2:
        raise damaged("A texture point (vt) of the OBJ file has fewer than 2 numbers.")
    places = table.values[table.start[:-1][:, None] + np.arange(2)]
    picture_of_name = np.array([of_material.get(name, -1) for name in lines.names])
    if len(of_material) == 1 and lines.names == [""]:  # no face says its material, and there is but one
        picture_of_name[:] = next(iter(of_material.values()))
    index = _corner_places(lines, draft, len(places))
    on_corner = np.full((len(index), 2), np.nan)
    on_corner[index >= 0] = places[index[index >= 0]]
    on_corner[:, 1] = 1.0 - on_corner[:, 1]  # OBJ counts from the picture's lower edge
    polygon_picture = picture_of_name[np.array(lines.material)]
    faces, on_picture, polygon = _triangles(draft, on_corner)
    picture_of = polygon_picture[polygon].astype(np.int32)
    picture_of[~np.isfinite(on_picture).all(axis=(1, 2))] = -1
    if not (picture_of >= 0).any():
        raise ScanError(
            "No face of the OBJ file lies on one of its pictures: its materials "
            f"({', '.join(name for name in lines.names if name)[:80] or 'none used'}) name none.",
            hint="Save scan, material file and picture again, all in one folder.",
        )
    return PaintedScan(bare.points, faces, bare.colors, on_picture, picture_of, pictures)


def _corner_places(lines: _TextureLines, draft: Draft, count: int) -> NDArray[np.int64]:
    """Return the number of the texture point of each corner, (corners,), -1 where it has none."""
    counts = np.asarray(draft.corner_counts, dtype=np.int64)
    start = np.cumsum(counts) - counts
    found = np.full(int(counts.sum()), -1, dtype=np.int64)
    widths = np.array([_width(line) for line in lines.faces])
    at, known = np.array(lines.face_at), np.array(lines.known)
    for width in (2, 3):
        which = np.flatnonzero(widths == width)
        if not len(which):
            continue
        text = b"\n".join(lines.faces[each] for each in which).replace(b"/", b" ")
        table = number_lines(text, lines=at[which])
        wrong = np.flatnonzero(table.counts != width * counts[which]) if len(table.line) == len(which) else [0]
        if len(wrong):
            raise damaged(f"Line {int(at[which][wrong[0]])} of the OBJ file has corners with and without texture.")
        value = whole_numbers(table, "a number of a texture point").reshape(-1, width)[:, 1]
        before = np.repeat(known[which], counts[which])
        number = np.where(value < 0, before + value, value - 1)
        bad = np.flatnonzero((value == 0) | (number < 0) | (number >= count))
        if len(bad):
            line = int(np.repeat(at[which], counts[which])[bad[0]])
            raise damaged(
                f"Line {line} of the OBJ file points to texture point {int(value[bad[0]])}, but there are {count}."
            )
        corner = np.arange(int(counts[which].sum())) - np.repeat(
            np.cumsum(counts[which]) - counts[which], counts[which]
        )
        found[np.repeat(start[which], counts[which]) + corner] = number
    return found


def _width(line: bytes) -> int:
    """Return how many numbers a corner of a face has where the second is a texture point; else 0."""
    token = line.split(None, 1)[0] if line.strip() else b""
    return token.count(b"/") + 1 if b"/" in token and b"//" not in token else 0


def _triangles(draft: Draft, on_corner: Float) -> tuple[NDArray[np.int32], Float, NDArray[np.int64]]:
    """Return the polygons as triangles, cut as `triangulate` cuts them: corners, places on the picture, polygons."""
    counts, corners = np.asarray(draft.corner_counts), np.asarray(draft.corners)
    each, _ = triangulate(Draft(draft.points[corners], counts, np.arange(len(corners))))
    polygon = np.searchsorted(np.cumsum(counts), each[:, 0], side="right")
    return corners[each].astype(np.int32), on_corner[each], polygon


PAINTS = (PaintFormat("obj", paint_obj, obj_companions),)
