"""Read a scan file and say what it states, what it holds and what was odd about it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.errors import ScanError
from ...base.mesh import TriMesh
from ...base.notes import to_look_at
from ...base.text import counted
from .formats.draft import UTF8_MARK, Draft, check_indices, damaged, triangulate
from .known_formats import known_formats
from .sniff import sniff_format

_LARGEST = 1e30
"""Coordinates beyond are no lengths in any unit; a third power of what is left stays far below the largest float."""
_COARSE, _TOO_COARSE = 1e-5, 1e-2
"""Rounding of 32-bit coordinates as a share of the scan's size (0.003 mm and 3 mm on 300 mm): choices of ours."""


@dataclass(frozen=True, eq=False)
class ReadScan:
    """A scan as its file has it."""

    mesh: TriMesh  # in the file's own numbers, not yet mm
    file_format: str  # a name of `known_formats`, told from the content
    file_unit: str | None  # the unit the format lays down ("m" for GLB), None where it states none
    declared: dict[str, int]  # counts the file states ("vertices", "faces"), as far as it does
    real: dict[str, int]  # counts found ("vertices", "faces", "not_finite")
    notes: tuple[str, ...]  # what was odd and what was done about it
    draft: Draft | None = None  # as the file has it, where it has colors: `read_painted` takes it


def read_scan(data: bytes, name: str) -> ReadScan:
    """Read a scan from the bytes of its file; the content decides the format, its name is for messages and a hint.

    Equal corners of an STL are joined, since that format has no shared vertices; nothing else is changed.

    Raises ScanError when the file is empty, cut off, of another kind, states other counts than it holds, points past
    its vertices, or holds no triangle; it says what and where (line or byte).
    """
    data = data.removeprefix(UTF8_MARK)
    kind = sniff_format(data, name)
    form = known_formats()[kind]
    try:
        draft = form.read(data)
        check_indices(draft)
    except ScanError as error:
        raise ScanError(f'The scan file "{name}": {error.message}', hint=error.hint, faces=error.faces) from None
    faces, notes = triangulate(draft)
    if form.is_lines(data) and not data.endswith((b"\n", b"\r")):
        notes += (
            to_look_at("The file's last line has no line end; if the file was cut off there, this is the only sign."),
        )
    all_notes = list(draft.notes) + list(notes)
    if len(faces) == 0:
        held = counted(len(draft.points), "vertex", "vertices")
        raise damaged(f'The scan file "{name}" holds {held} and no triangle.')
    points, not_finite = _usable_points(draft.points, name, all_notes)
    extension = name.rsplit(".", 1)[-1].lower() if "." in name else ""
    if extension and not kind.startswith(extension):
        all_notes.append(
            to_look_at(f'The name ends in ".{extension}", but the content is {kind.upper()}; the content was believed.')
        )
    real = {"vertices": len(draft.points), "faces": len(faces), "not_finite": not_finite}
    mesh = TriMesh(points, faces, draft.colors)
    is_colored = draft.is_textured or draft.colors is not None
    return ReadScan(mesh, kind, draft.unit, draft.declared, real, tuple(all_notes), draft if is_colored else None)


def _usable_points(points: NDArray[np.floating], name: str, notes: list[str]) -> tuple[NDArray[np.floating], int]:
    """Return the points, those too large to be lengths as not a number, and how many are no finite number then.

    Raises ScanError when none is left, or when rounding has eaten the shape: 32-bit numbers have 24 binary digits (IEEE
    754).
    """
    is_usable = (np.abs(points) < _LARGEST).all(axis=1)
    unusable = int(len(is_usable) - is_usable.sum())
    if unusable:
        first = int(np.flatnonzero(~is_usable)[0])
        shown = ", ".join(f"{value:g}" for value in points[first])
        if unusable == len(is_usable):
            raise damaged(f'No vertex of "{name}" has usable coordinates; the first of {unusable} is at {shown}.')
        have = "1 vertex has" if unusable == 1 else f"{unusable} vertices have"
        notes.append(f"{have} no usable coordinates (the first: vertex {first}, counted from 0, at {shown}).")
        points = np.where(is_usable[:, None], points, np.nan)
    if points.dtype == np.float32:
        good = points[is_usable] if unusable else points
        low, high = good.min(axis=0), good.max(axis=0)
        size = float((high - low).max())
        largest = float(max(np.abs(low).max(), np.abs(high).max()))
        step = float(np.spacing(np.float32(largest)))
        if size > 0 and step > _COARSE * size:
            text = (
                f'The coordinates of "{name}" are so large (up to {largest:.3g} for a scan {size:.3g} long) that its '
                f"numbers come in steps of {step:.2g}"
            )
            hint = "Move the scan to the origin in the scan program, then save it again."
            if step > _TOO_COARSE * size:
                raise ScanError(f"{text}: its shape is lost.", hint=hint)
            notes.append(to_look_at(f"{text}: detail finer than that is lost. {hint}"))
    return points, unusable
