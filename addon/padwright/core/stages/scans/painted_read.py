"""Read a scan with its colors, and say which files beside it they come from."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

import numpy as np

from ...base.errors import ScanError
from ...base.files import MOST_SCAN_BYTES, read_named
from .formats.draft import UTF8_MARK, Draft, check_indices, triangulate
from .formats.painted import Beside, PaintedScan
from .known_formats import known_formats, known_paints
from .sniff import sniff_format


def read_painted(data: bytes, name: str, beside: Beside, draft: Draft | None = None) -> PaintedScan:
    """Return a scan with its colors, from the bytes of its file and of those it names.

    `draft` is what was read of the same bytes before: then they are not parsed for points and faces again.

    Raises ScanError as the reader of its format does.
    """
    data = data.removeprefix(UTF8_MARK)
    form = known_formats()[sniff_format(data, name)]
    try:
        if form.ending in known_paints():
            painted = known_paints()[form.ending].paint(data, beside, draft)
        else:
            draft = draft or form.read(data)
            check_indices(draft)
            painted = PaintedScan(np.asarray(draft.points, dtype=np.float64), triangulate(draft)[0], draft.colors)
    except ScanError as error:
        raise ScanError(f'The scan file "{name}": {error.message}', hint=error.hint) from None
    return painted


def refuse_colorless(painted: PaintedScan, name: str) -> None:
    """Raise ScanError when a scan has no colors."""
    if not painted.is_colored:
        raise ScanError(
            f'The scan file "{name}" has no colors: no texture, and none at its vertices.',
            hint="Let the scan program save it with its texture, as GLB, or as OBJ with its material file and picture.",
        )


def companion_files(data: bytes, name: str, beside: Beside) -> tuple[str, ...]:
    """Return the names of the files beside a scan that its colors come from: material files and pictures.

    A scan that no reader knows has none; a name whose file is not there counts.
    """
    data = data.removeprefix(UTF8_MARK)
    try:
        paint = known_paints().get(known_formats()[sniff_format(data, name)].ending)
        return tuple(dict.fromkeys(paint.companions(data, beside))) if paint is not None else ()
    except ScanError:
        return ()


def folder_beside(folder: Path, scan: str) -> Beside:
    """Return what gives the files beside a scan in a folder; upper and lower case count alike where needed.

    The scan's name may hold steps, as "scans/clay.obj"; what it names is looked for in its own folder.
    """
    here = (folder / scan).parent

    def read(name: str) -> bytes:
        return read_named(
            any_case(here / PurePosixPath(name)),
            f'The file beside the scan "{PurePosixPath(scan).name}"',
            most_bytes=MOST_SCAN_BYTES,
            hint="Copy the scan's material file and pictures into the folder of the scan, or save the scan as GLB.",
        )

    return read


def any_case(path: Path) -> Path:
    """Return a file's path, or where there is none, that of one whose name differs by upper and lower case alone."""
    if path.exists() or not path.parent.is_dir():
        return path
    return next((each for each in path.parent.iterdir() if each.name.casefold() == path.name.casefold()), path)
