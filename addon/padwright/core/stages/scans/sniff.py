"""Tell what a scan file is from its bytes; its name is only a hint."""

from __future__ import annotations

import re

from ...base.errors import ScanError
from .formats.draft import AGAIN, damaged
from .formats.scan_format import Look
from .formats.textnumbers import readable
from .known_formats import endings_in_words, known_formats

_NO_MESH = "Use the mesh file of the scan. A foil or paper scanned flat is read by: python -m padwright mat FILE"
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
    *((start, "a picture", _NO_MESH) for start in (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"II*\x00", b"MM\x00*")),
    (b"version https://git-lfs", "a pointer to a file kept elsewhere", "Fetch the file itself."),
)
_MARKUP = re.compile(rb"\s*<(?:!doctype|html|\?xml|head|svg|!--)", re.IGNORECASE)


def sniff_format(data: bytes, name: str, size: int | None = None) -> str:
    """Return the name of a file's format ("stl binary"); "" where a head does not tell.

    The data are the whole file, or its head where the file's size, bytes, is given. The name is used only where nothing
    else marks the format, as in a binary STL whose length does not fit.

    Raises ScanError when the file is empty or of no kind that is read; it says what it looks like instead.
    """
    size = len(data) if size is None else size
    is_whole = len(data) == size
    if not data.strip(b"\x00 \t\r\n"):
        if not is_whole:
            return ""
        state = "is empty" if not data else f"holds nothing but {len(data)} blank bytes"
        raise damaged(f'The scan file "{name}" {state}.')
    look = Look(data, size)
    head = look.head
    for start, kind, hint in _OTHER_KINDS:
        if head.startswith(start):
            raise ScanError(f'The scan file "{name}" is {kind}, not a mesh.', hint=hint)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ScanError(f'The scan file "{name}" is text in UTF-16.', hint="Save it as plain text (UTF-8).")
    formats = known_formats().values()
    marked = next((each.name for each in formats if each.is_marked(look)), "")
    if marked:
        return marked
    if _MARKUP.match(head):
        raise ScanError(
            f'The scan file "{name}" is a web page or markup, not a mesh.', hint="Download the mesh file itself."
        )
    by_name = (each for each in formats if name.lower().endswith(f".{each.ending}") and each.is_by_name(look))
    found = next((each.name for each in formats if each.is_like(look)), "") or next((e.name for e in by_name), "")
    if found:
        return found
    if look.is_text:
        if re.match(rb"\s*\{", head) and b'"asset"' in head:
            raise ScanError(
                f'The scan file "{name}" is a glTF in text with its data elsewhere.', hint="Save it as one GLB file."
            )
        if not is_whole:
            return ""
        raise ScanError(
            f'The scan file "{name}" is text that begins with {readable(data.lstrip())}, not a mesh.',
            hint=f"{endings_in_words('and')} are read.",
        )
    raise ScanError(
        f'The scan file "{name}" begins with {readable(data, 8)}; that is no mesh format that is read.',
        hint=f"{endings_in_words('and')} are read.",
    )
