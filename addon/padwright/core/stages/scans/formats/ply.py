"""Read PLY: text, little and big endian, with whatever properties it has."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....base.errors import ScanError
from ....base.text import counted
from .draft import Draft, colors_as_bytes, damaged, rows_beyond, texture_note
from .ply_header import Element, PlyHeader, read_ply_header
from .scan_format import Look, ScanFormat
from .textnumbers import NumberLines, normal_line_ends, number_lines, whole_lists

_ON_PICTURE = {"texcoord", "texture_u", "texnumber", "texture_vertex_indices"}
_CORNER_NAMES = ("vertex_indices", "vertex_index")


@dataclass(frozen=True, eq=False)
class _Rows:
    """The rows of one element: numbers by property name, and the lists of one property."""

    scalars: dict[str, NDArray[Any]]
    counts: NDArray[np.integer]
    values: NDArray[np.integer]


def read_ply(data: bytes) -> Draft:
    """Read a PLY file.

    Raises ScanError when the head is wrong, rows are missing, x, y or z is missing, or there are no faces.
    """
    header = read_ply_header(data)
    vertex, face = _needed(header)
    rows, notes = (_read_text if header.is_text else _read_binary)(data, header)
    points = np.stack([rows["vertex"].scalars[axis] for axis in "xyz"], axis=1)
    if not np.issubdtype(points.dtype, np.floating):
        points = points.astype(np.float64)
    if "face" in rows and (face is not None and face.count):
        counts, corners = rows["face"].counts, rows["face"].values
    else:
        counts, corners = _from_strips(rows["tristrips"].values)
        notes.append("The PLY file's triangle strips were split into triangles.")
    declared = {"vertices": vertex.count, "faces": len(counts)}
    colors = _colors(rows["vertex"])
    texture = _texture(header, has_colors=colors is not None)
    return Draft(points, counts, corners, colors, None, declared, (*notes, *texture), is_textured=bool(texture))


def ply_counts(head: bytes, size: int) -> tuple[int, int | None]:
    """Return how many vertices and faces a PLY file has by its head; no count of faces where they come as strips.

    Raises ScanError when the head is wrong, or the file is smaller than the least its rows take.
    """
    header = read_ply_header(head)
    vertex, face = _needed(header)
    least = header.body + sum(element.count * _least_bytes(element, header) for element in header.elements)
    least -= header.is_text  # nothing needs to part the last number from the file's end
    if size < least:
        raise damaged(
            f"The PLY file ends at byte {size}, but the rows that its head states take {least} bytes or more."
        )
    return vertex.count, face.count if face is not None and face.count else None


def _least_bytes(element: Element, header: PlyHeader) -> int:
    """Return the fewest bytes a row takes: in a text a digit and what parts it from the next; a list may be empty."""
    if header.is_text:
        return 2 * len(element.properties)
    return sum(np.dtype(item.count_type or item.value_type).itemsize for item in element.properties)


def _needed(header: PlyHeader) -> tuple[Element, Element | None]:
    """Return the vertices, and the faces where there are any; without them the file has strips."""
    vertex, face = header.element("vertex"), header.element("face")
    if vertex is None or any(vertex.column(axis) is None for axis in "xyz"):
        raise damaged("The PLY file's head names no vertices with x, y and z.")
    if (face is None or face.count == 0) and header.element("tristrips") is None:
        raise ScanError(
            f"The PLY file has {counted(vertex.count, 'point')} and no faces.",
            hint="Make a surface from the points in the scan program, then save it again.",
        )
    return vertex, face


def _texture(header: PlyHeader, *, has_colors: bool) -> tuple[str, ...]:
    """Return what is to be said of a texture: a comment names the picture, properties the place on it."""
    pictures = [text.split(None, 1) for text in header.comments if text.lower().startswith("texturefile ")]
    found = [f"picture {words[1][:60]}" for words in pictures if len(words) > 1]
    names = {item.name for element in header.elements for item in element.properties}
    if names & _ON_PICTURE or {"s", "t"} <= names or {"u", "v"} <= names:
        found.append("texture coordinates")
    return (texture_note("PLY", found, has_colors=has_colors),) if found else ()


def _colors(rows: _Rows) -> NDArray[np.uint8] | None:
    """Return the vertex colors, whichever common names they go by."""
    for prefix in ("", "diffuse_"):
        names = [prefix + name for name in ("red", "green", "blue")]
        if all(name in rows.scalars for name in names):
            if "alpha" in rows.scalars and not prefix:
                names.append("alpha")
            return colors_as_bytes(np.stack([rows.scalars[name] for name in names], axis=1))
    return None


def _list_place(element: Element) -> int | None:
    """Return which property holds the corners of the element's polygons."""
    place = element.column(*_CORNER_NAMES)
    if place is None:
        place = next((i for i, item in enumerate(element.properties) if item.count_type), None)
    if place is not None and element.properties[place].count_type is None:
        raise damaged(f"The PLY file's {element.name} corners are not a list.")
    if place is None and element.name in ("face", "tristrips"):
        raise damaged(f"The PLY file's {element.name} rows have no list of corners.")
    return place


def _from_strips(values: NDArray[np.integer]) -> tuple[NDArray[np.integer], NDArray[np.integer]]:
    """Return triangles from strips that are parted by -1; every second triangle of a strip is turned."""
    parts = []
    for strip in np.split(values, np.flatnonzero(values == -1)):
        strip = strip[strip != -1]
        if len(strip) >= 3:
            triangle = np.stack([strip[:-2], strip[1:-1], strip[2:]], axis=1)
            triangle[1::2] = triangle[1::2, [1, 0, 2]]
            parts.append(triangle)
    corners = np.concatenate(parts) if parts else np.zeros((0, 3), dtype=np.int64)
    return np.full(len(corners), 3), corners.ravel()


def _read_text(data: bytes, header: PlyHeader) -> tuple[dict[str, _Rows], list[str]]:
    """Read the rows as text, one row a line, each checked for how many numbers it has."""
    lines = number_lines(normal_line_ends(data[header.body :]), header.body_line)
    rows: dict[str, _Rows] = {}
    first = 0
    for element in header.elements:
        last = first + element.count
        if last > len(lines.line):
            raise damaged(
                f"The PLY file states {element.count} {element.name} rows but ends after {len(lines.line) - first} "
                f"of them, at line {int(lines.line[-1]) if len(lines.line) else header.body_line}."
            )
        rows[element.name] = _text_rows(lines.part(first, last), element)
        first = last
    return rows, rows_beyond(len(lines.line) - first)


def _text_rows(lines: NumberLines, element: Element) -> _Rows:
    """Return the rows of one element; each line must have as many numbers as its properties and lists ask for."""
    place = _list_place(element)
    at = lines.start[:-1].copy()
    end = lines.start[1:]
    scalars: dict[str, NDArray[Any]] = {}
    counts = np.zeros(len(at), dtype=np.int64)
    list_at = at
    for index, item in enumerate(element.properties):
        is_over = at >= end
        if is_over.any():
            _wrong_row(lines, int(np.flatnonzero(is_over)[0]), element)
        head = lines.values[at]
        if item.count_type is None:
            scalars[item.name] = _typed(head, item.value_type)
            at = at + 1
            continue
        bad = np.flatnonzero(~((head >= 0) & (head < 2**31)) | (at + 1 + np.nan_to_num(head) > end))
        if len(bad):
            _wrong_row(lines, int(bad[0]), element)
        if index == place:
            counts, list_at = head.astype(np.int64), at + 1
        at = at + 1 + head.astype(np.int64)
    bad = np.flatnonzero(at != end)
    if len(bad):
        _wrong_row(lines, int(bad[0]), element)
    if place is None:
        return _Rows(scalars, counts, np.zeros(0, dtype=np.int64))
    return _Rows(scalars, counts, whole_lists(lines, list_at, counts))


def _typed(values: NDArray[np.float64], kind: str) -> NDArray[Any]:
    """Return text numbers as the type the head names; integers only where they fit, coordinates stay float64."""
    if kind[0] == "f" or not np.isfinite(values).all():
        return values
    limits = np.iinfo(kind)
    return np.clip(values, limits.min, limits.max).astype(kind)


def _wrong_row(lines: NumberLines, row: int, element: Element) -> None:
    """Raise for a row with too many or too few numbers."""
    count = int(lines.counts[row])
    kind = "as many as its list asks for" if element.has_lists else f"the {len(element.properties)} of its properties"
    raise damaged(
        f"Line {int(lines.line[row])} of the PLY file ({element.name} row {row + 1} of {element.count}) has "
        f"{counted(count, 'number')}, not {kind}."
    )


def _read_binary(data: bytes, header: PlyHeader) -> tuple[dict[str, _Rows], list[str]]:
    """Read the rows as bytes."""
    rows: dict[str, _Rows] = {}
    at = header.body
    for element in header.elements:
        if element.has_lists:
            found = _even_rows(data, at, element)
            rows[element.name], at = found if found is not None else _walk_rows(data, at, element)
            continue
        kind = np.dtype([(f"{i}", item.value_type) for i, item in enumerate(element.properties)])
        room = (len(data) - at) // max(kind.itemsize, 1)
        if room < element.count:
            raise _cut_off(data, element, room)
        table = np.frombuffer(data, dtype=kind, count=element.count, offset=at)
        scalars = {item.name: _native(table[f"{i}"]) for i, item in enumerate(element.properties)}
        rows[element.name] = _Rows(scalars, np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
        at += kind.itemsize * element.count
    extra = len(data) - at
    notes = [f"{extra} bytes after the last row the PLY file states were left out."] if extra else []
    return rows, notes


def _native(column: NDArray[Any]) -> NDArray[Any]:
    return column.astype(column.dtype.newbyteorder("="))


def _cut_off(data: bytes, element: Element, whole: int) -> ScanError:
    return damaged(
        f"The PLY file states {element.count} {element.name} rows and ends in row {whole + 1}, at byte {len(data)}."
    )


def _even_rows(data: bytes, at: int, element: Element) -> tuple[_Rows, int] | None:
    """Read rows whose lists are all as long as in the first row, as one table; None when they are not."""
    place = _list_place(element)
    fields: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
    lengths: dict[int, int] = {}
    probe = at
    for index, item in enumerate(element.properties):
        width = np.dtype(item.value_type).itemsize
        if item.count_type is None:
            fields.append((f"{index}", item.value_type))
            probe += width
            continue
        head = np.dtype(item.count_type)
        if probe + head.itemsize > len(data):
            return None
        lengths[index] = int(np.frombuffer(data, dtype=head, count=1, offset=probe)[0])
        if not 0 <= lengths[index] <= 255:
            return None
        fields += [(f"n{index}", item.count_type), (f"{index}", item.value_type, (lengths[index],))]
        probe += head.itemsize + width * lengths[index]
    kind = np.dtype(fields)
    if kind.itemsize * element.count > len(data) - at or element.count == 0:
        return None
    table = np.frombuffer(data, dtype=kind, count=element.count, offset=at)
    if any((table[f"n{index}"] != length).any() for index, length in lengths.items()):
        return None
    scalars = {item.name: table[f"{i}"] for i, item in enumerate(element.properties) if item.count_type is None}
    end = at + kind.itemsize * element.count
    if place is None:
        return _Rows(scalars, np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)), end
    counts = np.full(element.count, lengths[place], dtype=np.int32)
    return _Rows(scalars, counts, _indices(table[f"{place}"].reshape(-1))), end


def _indices(values: NDArray[Any]) -> NDArray[np.integer]:
    """Return list values as native integers; a float list is taken only where it is whole."""
    native = values.astype(values.dtype.newbyteorder("="))
    if np.issubdtype(native.dtype, np.integer):
        return native.astype(np.int64) if native.dtype.itemsize > 4 or native.dtype == np.uint32 else native
    if not (np.isfinite(native).all() and (np.rint(native) == native).all()):
        raise damaged("The PLY file's vertex numbers are not whole numbers.")
    return native.astype(np.int64)


def _walk_rows(data: bytes, at: int, element: Element) -> tuple[_Rows, int]:
    """Read rows with lists of different lengths, one after another."""
    place = _list_place(element)
    kinds = [np.dtype(item.value_type) for item in element.properties]
    heads = [np.dtype(item.count_type) if item.count_type else None for item in element.properties]
    signs = ["big" if item.value_type.startswith(">") else "little" for item in element.properties]
    counts: list[int] = []
    pieces: list[bytes] = []
    total = len(data)
    for row in range(element.count):
        for index, kind in enumerate(kinds):
            head = heads[index]
            if head is None:
                at += kind.itemsize
                continue
            length = int.from_bytes(data[at : at + head.itemsize], signs[index], signed=head.kind == "i")  # type: ignore[arg-type]
            begin = at + head.itemsize
            at = begin + kind.itemsize * length
            if at > total or length < 0:
                raise _cut_off(data, element, row)
            if index == place:
                counts.append(length)
                pieces.append(data[begin:at])
        if at > total:
            raise _cut_off(data, element, row)
    values = np.frombuffer(b"".join(pieces), dtype=kinds[place] if place is not None else "u1")
    return _Rows({}, np.array(counts, dtype=np.int64), _indices(values)), at


def _is_marked(look: Look) -> bool:
    return re.match(rb"ply[ \t]*[\r\n]", look.head) is not None


def _is_lines(data: bytes) -> bool:
    return data[:64].split(b"element")[0].find(b"format ascii") > 0


FORMATS = (ScanFormat("ply", read_ply, start=b"ply", is_marked=_is_marked, counts=ply_counts, is_lines=_is_lines),)
