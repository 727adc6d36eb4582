"""What a reader of one format hands on: points and polygons as the file has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....base.errors import ScanError
from ....base.mesh import Int
from ....base.text import counted

UTF8_MARK = b"\xef\xbb\xbf"
"""What some programs write before a text in UTF-8."""
AGAIN = "Save or copy the scan again; the file is damaged or was cut off."


def damaged(text: str) -> ScanError:
    """Return the error that says how a file is damaged or cut off, and to save or copy it again."""
    return ScanError(text, hint=AGAIN)


def rows_beyond(count: int) -> list[str]:
    """Return the note, where there is one to make, on lines behind the last row that a file states."""
    left_out = "1 line was" if count == 1 else f"{count} lines were"
    return [f"{left_out} left out: the file goes on after the last row it states."] if count else []


def texture_note(kind: str, found: Sequence[str], *, has_colors: bool) -> str:
    """Return the note on a texture: what the file has of one, and when it is read."""
    also = " and has vertex colors" if has_colors else ""
    return f"The {kind} file is textured ({', '.join(found)}){also}: read where a zone asks for marks of a color."


@dataclass(frozen=True, eq=False)
class Draft:
    """A file's points and polygons."""

    points: NDArray[np.floating]  # (n, 3)
    corner_counts: NDArray[np.integer]  # (p,); number of corners of each polygon
    corners: NDArray[np.integer]  # (sum of corner_counts,); point indices, polygon after polygon, from 0
    colors: NDArray[np.uint8] | None = None  # (n, 4)
    unit: str | None = None  # the unit the format itself lays down
    declared: dict[str, int] = field(default_factory=dict)  # counts the file states ("vertices", "faces")
    notes: tuple[str, ...] = ()
    is_textured: bool = False  # the file says where its faces lie on pictures


def check_indices(draft: Draft, where: str = "face") -> None:
    """Raise ScanError when a polygon points past the points, naming the first such polygon."""
    corners = draft.corners
    if len(corners) == 0:
        return
    if corners.min() >= 0 and corners.max() < len(draft.points):
        return
    first_bad = int(np.flatnonzero((corners < 0) | (corners >= len(draft.points)))[0])
    polygon = int(np.searchsorted(np.cumsum(draft.corner_counts), first_bad, side="right"))
    raise damaged(
        f"In the scan file {where} {polygon + 1} points to vertex number {int(corners[first_bad])} (counted from 0), "
        f"but there are {len(draft.points)} vertices."
    )


def triangulate(draft: Draft) -> tuple[Int, tuple[str, ...]]:
    """Return the polygons as triangles, (m, 3), and notes on what was split or dropped.

    Quads are cut along the diagonal whose two triangles face alike (the shorter one when both do), so that a quad with
    a reflex corner is not turned inside out. More corners: a fan from the first corner.
    """
    counts = np.asarray(draft.corner_counts)
    corners = draft.corners
    notes: list[str] = []
    if len(counts) and counts.min() == 3 and counts.max() == 3:
        return corners.reshape(-1, 3).astype(np.int32), ()
    start = np.concatenate([[0], np.cumsum(counts)[:-1]]) if len(counts) else np.zeros(0, dtype=np.int64)
    parts: list[NDArray[np.integer]] = []
    order: list[NDArray[np.integer]] = []
    small = int((counts < 3).sum())
    if small:
        were = "1 face was" if small == 1 else f"{small} faces were"
        notes.append(f"{were} left out for having fewer than three corners.")
    for size in (3, 4):
        which = np.flatnonzero(counts == size)
        polygon = corners[start[which][:, None] + np.arange(size)]
        if size == 4:
            polygon = _turn_to_better_diagonal(draft.points, polygon)
        for second in range(1, size - 1):
            parts.append(polygon[:, [0, second, second + 1]])
            order.append(which)
    which = np.flatnonzero(counts > 4)
    if len(which):  # all fans at once: a file may have polygons of a thousand sizes
        triangles = np.asarray(counts[which], dtype=np.int64) - 2
        first = np.repeat(np.asarray(start[which], dtype=np.int64), triangles)
        step = np.arange(len(first)) - np.repeat(np.cumsum(triangles) - triangles, triangles)
        parts.append(np.stack([corners[first], corners[first + step + 1], corners[first + step + 2]], axis=1))
        order.append(np.repeat(which, triangles))
    quads, larger = int((counts == 4).sum()), int((counts > 4).sum())
    if quads:
        notes.append(f"{counted(quads, 'four-cornered face')} split into triangles.")
    if larger:
        notes.append(f"{counted(larger, 'face')} with more than four corners split into triangles as fans.")
    by_polygon = np.argsort(np.concatenate(order), kind="stable")
    return np.concatenate(parts)[by_polygon].astype(np.int32), tuple(notes)


def _turn_to_better_diagonal(points: NDArray[np.floating], quads: NDArray[np.integer]) -> NDArray[np.integer]:
    """Return the quads with their corners shifted by one where the other diagonal is the better cut."""
    corner = np.asarray(points, dtype=np.float64)[quads]
    a, b, c, d = (corner[:, index] for index in range(4))
    along_ac = np.einsum("ij,ij->i", np.cross(b - a, c - a), np.cross(c - a, d - a))
    along_bd = np.einsum("ij,ij->i", np.cross(c - b, d - b), np.cross(d - b, a - b))
    shorter_bd = ((b - d) ** 2).sum(axis=1) < ((a - c) ** 2).sum(axis=1)
    use_bd = np.where((along_ac > 0) == (along_bd > 0), shorter_bd, along_bd > 0)
    return np.where(use_bd[:, None], np.roll(quads, -1, axis=1), quads)


def colors_as_bytes(values: NDArray[Any]) -> NDArray[np.uint8]:
    """Return colors, (n, 3) or (n, 4), as (n, 4) uint8; floats are 0 to 1 unless one is larger than 1."""
    full: float = 255.0
    if np.issubdtype(values.dtype, np.integer):
        if values.dtype.itemsize == 2:
            full = 65535.0
    else:
        values = np.where(np.abs(values) <= 1e6, values, 0)  # what is not finite, or no color, counts as none
        full = 1.0 if not values.size or values.max() <= 1.0 else 255.0
    scaled = values.astype(np.float64) * (255.0 / full)
    result = np.full((len(values), 4), 255, dtype=np.uint8)
    result[:, : values.shape[1]] = np.clip(np.rint(scaled), 0, 255).astype(np.uint8)
    return result
