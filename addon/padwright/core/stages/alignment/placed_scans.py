"""Both scans in one frame, and the job's points on either of them brought into it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...geometry.frames import inverse_rigid, moved
from ...job.schema import Point
from ..scans.captured import Scan
from .align import FoundAlignment


@dataclass(frozen=True, eq=False)
class PlacedScans:
    """What the stage gives; without an impression there is nothing in it but the base."""

    base: Scan  # in the part frame
    impression: Scan | None  # in its own frame
    to_part: Float  # (4, 4); from the base scan's frame (mm, scale corrected) to the part frame
    alignment: FoundAlignment | None = None
    aligned: TriMesh | None = None  # the impression in the part frame


def body_points(scans: PlacedScans, points: Sequence[Point], on: str) -> Float:
    """Return points in a scan file's own numbers in the part frame, (k, 3), mm.

    Raises InputError when they lie on an impression that there is not, or farther from the scan than it is long.
    """
    place = np.asarray(points, dtype=np.float64)
    if on == "base":
        placed = moved(scans.to_part, place * scans.base.mm_per_number)
        refuse_far_points(place, placed, scans.base.mesh, "base scan")
        return placed
    if scans.impression is None or scans.alignment is None:
        raise InputError("Points are said to lie on the impression scan, but the job has none.")
    scaled = place * scans.impression.mm_per_number
    refuse_far_points(place, scaled, scans.impression.mesh, "impression scan")
    return moved(scans.alignment.matrix, scaled)


def turned(to_part: Float, direction: Point) -> Float:
    """Return a direction in the base scan's axes as a unit vector of the part frame, (3,)."""
    vector = to_part[:3, :3] @ np.asarray(direction, dtype=np.float64)
    return np.asarray(vector / np.linalg.norm(vector))


def typed_point(scans: PlacedScans, place: Float) -> Float:
    """Return a place of the part frame in the base scan file's own numbers, (3,), as a job takes it."""
    return np.asarray(typed_points(scans, place[None], "base")[0])


def typed_points(scans: PlacedScans, places: Float, on: str) -> Float:
    """Return places of the part frame, (k, 3) mm, in the own numbers of the file of the scan they lie on."""
    if on == "base" or scans.impression is None or scans.alignment is None:
        return moved(inverse_rigid(scans.to_part), places) / scans.base.mm_per_number
    return moved(inverse_rigid(scans.alignment.matrix), places) / scans.impression.mm_per_number


def _lost_minus(given: Float, bounds: Float) -> str:
    """Return what to write for a point that would lie within a scan's box with other signs; "" where none would."""
    for count in (1, 2, 3):
        for turned in combinations(range(3), count):
            signs = np.ones(3)
            signs[list(turned)] = -1.0
            if (bounds[0] <= signs * given).all() and (signs * given <= bounds[1]).all():
                row = ", ".join(f"{value:.9g}" for value in signs * given)
                return f"A minus sign looks lost or one too many: write [{row}], which lies within that scan."
    return ""


def refuse_far_points(given: Float, placed: Float, mesh: TriMesh, what: str, bounds: Float | None = None) -> None:
    """Refuse points that lie farther from a scan than it is long.

    Such a point belongs to another scan or unit, and what is built to reach it grows beyond all memory. Points are
    given (k, 3) in the file's own numbers, to name them, and placed (k, 3), mm, in the mesh's frame; the bounds, (2,
    3), of the scan in its file's numbers say where it lies in them.

    Raises InputError with the farthest point, its distance and the scan's length.
    """
    low, high = mesh.bounds
    length = float((high - low).max())
    beyond = np.maximum(low - placed, placed - high).max(axis=1)
    worst = int(np.argmax(beyond))
    if beyond[worst] > length:
        at = ", ".join(f"{value:.6g}" for value in given[worst])
        ends = () if bounds is None else (", ".join(f"{value:.4g}" for value in end) for end in bounds)
        lies = "".join(f"{word} [{end}]" for word, end in zip((", in which it lies from", " to"), ends, strict=False))
        raise InputError(
            f"Point {worst + 1} at ({at}) lies {beyond[worst]:.4g} mm away from the {what}, which is {length:.4g} mm "
            "long.",
            hint=(_lost_minus(given[worst], bounds) if bounds is not None else "")
            or f"Give points in that scan file's own numbers{lies}. Is it a point of the other scan?",
        )
