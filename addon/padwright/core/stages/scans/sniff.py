"""Tell what a scan file is from its bytes; its name is only a hint."""

from __future__ import annotations

import re

from ...base.errors import ScanError
from .formats.draft import AGAIN
from .formats.stl import fits_binary_stl
from .formats.textnumbers import readable

_OTHER_KINDS: tuple[tuple[bytes, str, str], ...] = (
    (b"PK\x03\x04", "a zip archive", "Unpack it, then use the mesh file inside."),
    (b"PK\x05\x06", "an empty zip archive", AGAIN),
    (b"\x1f\x8b", "gzip data", "Unpack it, then use the mesh file inside."),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", "Unpack it, then use the mesh file inside."),
    (b"Rar!", "a rar archive", "Unpack it, then use the mesh file inside."),
    (b"BZh", "bzip2 data", "Unpack it, then use the mesh file inside."),
    (b"\xfd7zXZ", "xz data", "Unpack it, then use the mesh file inside."),
    (b"\x28\xb5\x2f\xfd", "zstd data", "Unpack it, then use the mesh file inside."),
    (b"%PDF", "a PDF document", "Use the mesh file of the scan."),
    (b"\x89PNG", "a picture", "Use the mesh file of the scan."),
    (b"\xff\xd8\xff", "a picture", "Use the mesh file of the scan."),
    (b"GIF8", "a picture", "Use the mesh file of the scan."),
    (b"version https://git-lfs", "a pointer to a file kept elsewhere", "Fetch the file itself."),
)
_MARKUP = re.compile(rb"\s*<(?:!doctype|html|\?xml|head|svg|!--)", re.IGNORECASE)
_OFF = re.compile(rb"\s*(?:#[^\n]*\n\s*)*(?:ST)?C?N?4?n?OFF\b", re.IGNORECASE)
_OBJ_LINE = re.compile(rb"(?m)^[ \t]*(?:v[ \t]+[-+.\d]|f[ \t]+-?\d)")
_OBJ_OTHER = re.compile(rb"(?m)^[ \t]*(?:mtllib|usemtl|vn|vt|vp|[go])[ \t]+\S")
_FACET = re.compile(rb"(?m)^[ \t]*(?:facet[ \t]+normal|outer[ \t]+loop)\b", re.IGNORECASE)
_SOLID = re.compile(rb"\s*solid\b", re.IGNORECASE)
_LOOK = 1 << 16
_TEXT_BYTES = frozenset([9, 10, 11, 12, 13, *range(32, 127)])


def sniff_format(data: bytes, name: str, size: int | None = None) -> str:
    """Return "stl binary", "stl text", "ply", "obj", "off" or "glb"; "" where a head does not tell.

    Parameters
    ----------
    data : bytes
        The whole file, or its head where its size is given.
    name : str
        Its name; used only for a binary STL whose length does not fit, which nothing else marks.
    size : int, optional
        Of the whole file, bytes.

    Raises
    ------
    ScanError
        When the file is empty or of no kind that is read; it says what it looks like instead.
    """
    size = len(data) if size is None else size
    is_whole = len(data) == size
    if not data.strip(b"\x00 \t\r\n"):
        if not is_whole:
            return ""
        state = "is empty" if not data else f"holds nothing but {len(data)} blank bytes"
        raise ScanError(f'The scan file "{name}" {state}.', hint=AGAIN)
    head = data[:_LOOK]
    for start, kind, hint in _OTHER_KINDS:
        if head.startswith(start):
            raise ScanError(f'The scan file "{name}" is {kind}, not a mesh.', hint=hint)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ScanError(f'The scan file "{name}" is text in UTF-16.', hint="Save it as plain text (UTF-8).")
    if head.startswith(b"glTF"):
        return "glb"
    if re.match(rb"ply[ \t]*[\r\n]", head):
        return "ply"
    if fits_binary_stl(data, size) and size > 84:
        return "stl binary"
    if _MARKUP.match(head):
        raise ScanError(
            f'The scan file "{name}" is a web page or markup, not a mesh.', hint="Download the mesh file itself."
        )
    if _OFF.match(head):
        return "off"
    is_text = not any(byte not in _TEXT_BYTES for byte in set(head) if byte < 128) and b"\x00" not in head
    if is_text and _SOLID.match(head) and (_FACET.search(data[: 1 << 20].replace(b"\r", b"\n")) or _no_facets(data)):
        return "stl text"
    if is_text and _FACET.search(head.replace(b"\r", b"\n")):
        return "stl text"
    if is_text and _OBJ_LINE.search(data if len(data) < 1 << 24 or _OBJ_OTHER.search(head) else head):
        return "obj"
    if not is_text and name.lower().endswith(".stl"):
        return "stl binary"
    if is_text:
        if re.match(rb"\s*\{", head) and b'"asset"' in head:
            raise ScanError(
                f'The scan file "{name}" is a glTF in text with its data elsewhere.', hint="Save it as one GLB file."
            )
        if not is_whole:
            return ""
        raise ScanError(
            f'The scan file "{name}" is text that begins with {readable(data.lstrip())}, not a mesh.',
            hint="STL, OBJ, PLY, OFF and GLB are read.",
        )
    raise ScanError(
        f'The scan file "{name}" begins with {readable(data, 8)}; that is no mesh format that is read.',
        hint="STL, OBJ, PLY, OFF and GLB are read.",
    )


def _no_facets(data: bytes) -> bool:
    """Return True for a text STL with a start and an end and nothing between."""
    return len(data) < _LOOK and b"endsolid" in data.lower()
