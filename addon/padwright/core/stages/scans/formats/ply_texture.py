"""The colors of a PLY file: the pictures that its comments name, or its vertex colors."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....base.errors import PadwrightError, ScanError
from ....base.mesh import Float
from ....base.notes import to_look_at
from .draft import Draft, check_indices, damaged, triangulate
from .painted import Beside, PaintedScan, PaintFormat, PictureFile, beside_name
from .ply import read_ply
from .ply_header import Element, PlyHeader, read_ply_header
from .textnumbers import normal_line_ends, number_lines

_PLACES = (("s", "t"), ("u", "v"), ("texture_u", "texture_v"))
"""Common names of a vertex's place on the picture; no standard lays them down."""


def ply_companions(data: bytes, _: Beside) -> Iterator[str]:
    """Yield the names of the pictures that a PLY file's comments name."""
    yield from _named(read_ply_header(data))


def paint_ply(data: bytes, beside: Beside, draft: Draft | None = None) -> PaintedScan:
    """Return a PLY scan with its colors: those of its pictures where its comments name any, else its vertex colors.

    Places on a picture are read of each face's corners ("texcoord", six numbers a triangle) or of the vertices ("s"
    and "t", "u" and "v").

    Raises ScanError when a picture is named that is not there, or there is a picture and no place on it.
    """
    header = read_ply_header(data)
    draft = draft or read_ply(data)
    check_indices(draft)
    faces, _ = triangulate(draft)
    bare = PaintedScan(np.asarray(draft.points, dtype=np.float64), faces, draft.colors)
    names = _named(header)
    if not names:
        return bare
    try:
        pictures = tuple(PictureFile(name, beside(name)) for name in names)
        return _laid_on(bare, data, header, pictures)
    except PadwrightError as error:
        if draft.colors is None:
            raise ScanError(error.message, hint=error.hint) from None
        note = to_look_at(f"{error.message} The scan's vertex colors were taken instead.")
        return PaintedScan(bare.points, bare.faces, bare.colors, notes=(note,))


def _named(header: PlyHeader) -> list[str]:
    words = [text.split(None, 1) for text in header.comments if text.lower().startswith("texturefile ")]
    return list(dict.fromkeys(beside_name(each[1]) for each in words if len(each) > 1))


def _laid_on(bare: PaintedScan, data: bytes, header: PlyHeader, pictures: tuple[PictureFile, ...]) -> PaintedScan:
    face, vertex = header.element("face"), header.element("vertex")
    picture_of = np.zeros(len(bare.faces), dtype=np.int32)
    if face is not None and face.column("texcoord") is not None:
        rows = _rows_of(data, header, face)
        place = rows["texcoord"]
        if place.shape != (len(bare.faces), 6):
            raise ScanError(
                "The PLY file's faces have not three corners with two texture coordinates each.",
                hint="Save it with triangles only.",
            )
        with np.errstate(invalid="ignore"):  # damaged bytes may be signaling NaNs
            on_picture = place.reshape(-1, 3, 2).astype(np.float64)
        if "texnumber" in rows:
            picture_of = rows["texnumber"].astype(np.int32)
    else:
        names = next((pair for pair in _PLACES if vertex is not None and vertex.column(pair[0]) is not None), None)
        if vertex is None or names is None or vertex.column(names[1]) is None:
            raise ScanError(
                f'The PLY file names a picture ("{pictures[0].name}") and no texture coordinates: it does not say '
                "where the picture lies on the surface.",
                hint="Save it with texture coordinates (UV).",
            )
        rows = _rows_of(data, header, vertex)
        on_picture = np.stack([rows[name] for name in names], axis=1).astype(np.float64)[bare.faces]
    on_picture = np.stack([on_picture[..., 0], 1.0 - on_picture[..., 1]], axis=2)  # counted from the lower edge
    picture_of = np.where((picture_of >= 0) & (picture_of < len(pictures)), picture_of, -1).astype(np.int32)
    picture_of[~np.isfinite(on_picture).all(axis=(1, 2))] = -1
    return PaintedScan(bare.points, bare.faces, bare.colors, on_picture, picture_of, pictures)


def _rows_of(data: bytes, header: PlyHeader, wanted: Element) -> dict[str, NDArray[Any]]:
    """Return the columns of an element by name, (rows,) or (rows, length) of a list.

    Raises ScanError when its lists differ in length, or those of an element before it do.
    """
    if header.is_text:
        return _text_rows(data, header, wanted)
    at = header.body
    for element in header.elements:
        kind = _even_kind(data, at, element)
        if kind.itemsize * element.count > len(data) - at:
            raise damaged(f"The PLY file's {element.name} rows end before all {element.count} are there.")
        table = np.frombuffer(data, dtype=kind, count=element.count, offset=at)
        if any((table[name] != table[name][:1]).any() for name in kind.names or () if name.startswith("n ")):
            raise _uneven(element)
        if element is wanted:
            return {item.name: table[item.name] for item in element.properties}
        at += kind.itemsize * element.count
    raise damaged(f"The PLY file has no {wanted.name} rows.")


def _even_kind(data: bytes, at: int, element: Element) -> np.dtype[Any]:
    """Return the layout of an element's rows by its first one."""
    fields: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
    for item in element.properties:
        if item.count_type is None:
            fields.append((item.name, item.value_type))
            at += np.dtype(item.value_type).itemsize
            continue
        head = np.dtype(item.count_type)
        raw = data[at : at + head.itemsize]
        length = int(np.frombuffer(raw, dtype=head)[0]) if len(raw) == head.itemsize else 0
        if not 0 <= length <= 255:
            raise _uneven(element)
        fields += [(f"n {item.name}", item.count_type), (item.name, item.value_type, (length,))]
        at += head.itemsize + length * np.dtype(item.value_type).itemsize
    return np.dtype(fields)


def _text_rows(data: bytes, header: PlyHeader, wanted: Element) -> dict[str, NDArray[Any]]:
    lines = number_lines(normal_line_ends(data[header.body :]), header.body_line)
    first = 0
    for element in header.elements:
        if element is wanted:
            break
        first += element.count
    part = lines.part(first, first + wanted.count)
    width = int(part.counts[0]) if len(part.counts) else 0
    if len(part.counts) == 0 or (part.counts != width).any():
        raise _uneven(wanted)
    table: Float = part.values.reshape(-1, width)
    found: dict[str, NDArray[Any]] = {}
    at = 0
    for item in wanted.properties:
        length = 1 if item.count_type is None else int(table[0, at])
        begin = at if item.count_type is None else at + 1
        if item.count_type is not None and (table[:, at] != length).any():
            raise _uneven(wanted)
        column = table[:, begin : begin + length]
        found[item.name] = column[:, 0] if item.count_type is None else column
        at = begin + length
    return found


def _uneven(element: Element) -> ScanError:
    return ScanError(
        f"The PLY file's {element.name} rows have lists of different lengths; its texture is read of triangles only.",
        hint="Save it with triangles only.",
    )


PAINTS = (PaintFormat("ply", paint_ply, ply_companions),)
