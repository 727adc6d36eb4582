"""How far one scan stands off the other, place by place: to see how well they were laid on each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Bool, Float, TriMesh
from ...base.scales import round_up
from ...geometry.feet import Feet, FootSurface
from .align import FoundAlignment

_FLAT = 0.5  # cosine: what lies further aside of the nearest face's normal than 60 degrees lies beyond the border
_LEAST_LIMIT_MM = 0.5


@dataclass(frozen=True, eq=False)
class Distances:
    """Distances of the impression's points to the base."""

    values_mm: Float  # (n,); positive outside the base, where clay is; negative inside it, where nothing can be
    is_beyond: Bool  # (n,); the base was not scanned there: the nearest place is its border
    # A round distance, a few times what the scans agree to: what is further off is clay, or does not fit.
    limit_mm: float
    share_within: float  # share of the points that are not beyond and lie no further off than the limit
    share_inside: float  # share of them that lie deeper inside the base than the limit
    notes: tuple[str, ...]


def distances_to_base(base: TriMesh, points: Float, found: FoundAlignment, feet: Feet | None = None) -> Distances:
    """Measure how far points of the impression, (n, 3) mm in the base's frame, stand off the base, turned outward.

    `feet`: theirs on the base (`FootSurface`), where they are known.

    Raises InputError when the alignment's agreement, which sets the limit, is no number.
    """
    feet = FootSurface.of(base).find(points) if feet is None else feet
    away = points - feet.place
    # The side is that of the corners' normals, blended at the nearest place: right beside edges and corners too.
    normal = np.einsum("ij,ijk->ik", feet.weights_in(base), base.vertex_normals[feet.corners])
    values = np.copysign(feet.distance, np.einsum("ij,ij->i", away, normal))
    along = np.abs(np.einsum("nk,nk->n", away, feet.normals_on(base)))
    is_beyond = base.is_on_border[feet.corners.T].any(axis=0) & (along < _FLAT * feet.distance)
    values = np.where(is_beyond, feet.distance, values)
    limit = round_up(max(_LEAST_LIMIT_MM, 3.0 * found.rms_mm))
    asked = max(1, int((~is_beyond).sum()))
    within = float(((np.abs(values) <= limit) & ~is_beyond).sum()) / asked
    inside = float(((values < -limit) & ~is_beyond).sum()) / asked
    notes = (
        f"{100 * within:.0f} % of the impression lies within {limit:g} mm of the base, {100 * inside:.1f} % deeper"
        " inside it, the rest is clay.",
    )
    return Distances(values, is_beyond, limit, within, inside, notes)
