"""The head of a PLY file: which elements follow, with which properties."""

from __future__ import annotations

import re
from dataclasses import dataclass

from .draft import damaged
from .textnumbers import readable

SCALARS = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4",
    "float": "f4", "double": "f8",
    "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4",
    "float32": "f4", "float64": "f8",
}  # fmt: skip
"""Names of the number types, old and new, as the format's 1994 description and common readers have them."""

_ORDER = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}


@dataclass(frozen=True)
class Property:
    """One property: a number, or a list when `count_type` is set. Types are numpy type strings with byte order."""

    name: str
    value_type: str
    count_type: str | None = None


@dataclass(frozen=True)
class Element:
    """One kind of rows and how many of them follow."""

    name: str
    count: int
    properties: tuple[Property, ...]

    def column(self, *names: str) -> int | None:
        """Return the place of the first property that has one of the names."""
        for index, item in enumerate(self.properties):
            if item.name in names:
                return index
        return None

    @property
    def has_lists(self) -> bool:
        """True when a property is a list."""
        return any(item.count_type for item in self.properties)


@dataclass(frozen=True)
class PlyHeader:
    """What the head states; `body` is the byte where the rows begin, `body_line` its line number."""

    is_text: bool
    elements: tuple[Element, ...]
    body: int
    body_line: int
    comments: tuple[str, ...] = ()

    def element(self, name: str) -> Element | None:
        """Return the element of that name."""
        return next((item for item in self.elements if item.name == name), None)


def read_ply_header(data: bytes) -> PlyHeader:
    """Read the head of a PLY file.

    Raises ScanError when the head is cut off or a line of it makes no sense; it names the line.
    """
    end = re.search(rb"(?:\A|[\r\n])[ \t]*end_header[ \t]*(?:\r\n|\n|\r|\Z)", data[: 1 << 20])
    if end is None:
        raise damaged("The PLY file's head has no end_header line.")
    body = end.end()
    first_end = re.search(rb"\r\n|\n|\r", data)
    if first_end is not None and first_end.group() == b"\r" and data[body - 2 : body] == b"\r\n":
        body -= 1  # lines end in a lone carriage return; the newline is the first byte of the rows
    text = data[:body].decode("latin-1")
    order: str | None = None
    elements: list[tuple[str, int, list[Property]]] = []
    comments: list[str] = []
    lines = re.split(r"\r\n|\n|\r", text.rstrip("\r\n"))
    for number, line in enumerate(lines, 1):
        words = line.split()
        key = words[0] if words else ""
        try:
            if key == "comment":
                comments.append(line.strip()[len(key) :].strip())
            if number == 1 or key in ("comment", "obj_info", "end_header", ""):
                continue
            if key == "format" and words[1] in _ORDER:
                order = _ORDER[words[1]]
            elif key == "element" and int(words[2]) >= 0:
                elements.append((words[1], int(words[2]), []))
            elif key == "property" and words[1] == "list":
                kinds = (order or "") + SCALARS[words[3]], (order or "") + SCALARS[words[2]]
                if kinds[1].lstrip("<>")[0] == "f":
                    raise ValueError
                elements[-1][2].append(Property(words[4], *kinds))
            elif key == "property":
                elements[-1][2].append(Property(words[2], (order or "") + SCALARS[words[1]]))
            else:
                raise ValueError
        except (IndexError, KeyError, ValueError):
            raise damaged(
                f"Line {number} of the PLY file's head makes no sense: {readable(line.encode('latin-1'), 60)}."
            ) from None
    if order is None:
        raise damaged("The PLY file's head has no format line.")
    rows = tuple(Element(name, count, tuple(items)) for name, count, items in elements)
    return PlyHeader(order == "", rows, body, len(lines) + 1, tuple(comments))
