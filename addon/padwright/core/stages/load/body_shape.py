"""The body beyond its imprint, where a scan of it is given: how far it hovers above the pad, where contact can grow."""

from __future__ import annotations

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Bool, Float, TriMesh
from ...geometry.query import NearestSurface

REACH_MM = 60.0
"""How far above the pad the body is followed, and how far below it a scan of free flesh may reach: our choice."""

MOST_OFF_MM = 15.0
"""How far the body may lie off the imprint's edge before its place is doubted: flesh gives by so much. Our choice."""


def hovering(body: TriMesh, position: Float, press: Float, gap: Float, is_edge: Bool) -> Float:
    """Return how far the body hovers above the pad beyond its imprint, (n,), mm; infinite where it is not seen.

    Positions (n, 3), mm, are places of the pad's body side; `press`, (3,), is the unit vector from the body into the
    pad; the gap (n,), mm, reaches from the pad up to the imprint and is meaningful in the contact; `is_edge`, (n,),
    marks the outermost places of the imprint. The scan shows free flesh, the imprint loaded flesh: they only meet where
    the body just touched, at the imprint's edge. There the scan is laid on it along the press direction (median);
    beyond, its own height counts.

    Raises InputError when the body is not seen over half of the imprint's edge, or lies far off it.
    """
    tree = NearestSurface(body)
    start = position + REACH_MM * press
    face, place = tree.first_hit(start, np.broadcast_to(-press, start.shape))
    hit = np.einsum("ij,ijk->ik", place, body.vertices[body.faces[np.maximum(face, 0)]])
    height = (start - hit) @ press - REACH_MM
    above = np.where((face >= 0) & (height <= REACH_MM), height, np.inf)
    seen = is_edge & np.isfinite(above)
    share = seen.sum() / max(int(is_edge.sum()), 1)
    if share < 0.5:
        raise InputError(
            f"The body scan is seen over only {100.0 * share:.0f} % of the imprint's edge.",
            hint="Lay it where the body lay in the clay, in the base scan's frame, and check body.scan_unit.",
        )
    off = float(np.median(above[seen] - gap[seen]))
    if abs(off) > MOST_OFF_MM:
        raise InputError(
            f"The body scan lies {abs(off):.0f} mm {'above' if off > 0.0 else 'below'} the edge of its imprint.",
            hint="Move it along the press direction until it meets the imprint's edge, and check body.scan_unit.",
        )
    return np.maximum(above - off, 0.0)
