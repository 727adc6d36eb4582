"""What the head of a scan file says, without reading the scan: format, size, counts, and if the file is cut off."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ...base.errors import ScanError
from ...base.files import MOST_SCAN_BYTES, read_head
from .formats.draft import UTF8_MARK
from .known_formats import known_formats
from .sniff import sniff_format

HEAD_BYTES = 1 << 20
"""As far as the readers look for a head's end and for what tells a format."""


@dataclass(frozen=True)
class ScanHead:
    """What a scan file states of itself."""

    file_format: str  # as `read_scan` names it; "" where the head does not tell
    file_unit: str | None  # the unit the format lays down ("m" for GLB)
    size_bytes: int  # of the whole file
    # vertices, faces: None where the head does not state them.
    vertices: int | None = None
    faces: int | None = None


def read_scan_head(path: Path, name: str, what: str) -> ScanHead:
    """Return what the first `HEAD_BYTES` of a scan file and its size say; `what` it is to the person is "base scan".

    Raises InputError when the file cannot be opened; ScanError when it is of no kind that is read, or ends before what
    its head states.
    """
    head, size = read_head(path, f"The {what}", head_bytes=HEAD_BYTES, most_bytes=MOST_SCAN_BYTES)
    whole_size = size
    if head.startswith(UTF8_MARK):
        head, size = head.removeprefix(UTF8_MARK), size - len(UTF8_MARK)
    kind = sniff_format(head, name, size)
    form = known_formats().get(kind)
    vertices: int | None = None
    faces: int | None = None
    try:
        if form is not None and form.counts is not None:
            vertices, faces = form.counts(head, size)
    except ScanError as error:
        raise ScanError(f'The scan file "{name}": {error.message}', hint=error.hint) from None
    return ScanHead(kind, form.unit if form is not None else None, whole_size, vertices, faces)
