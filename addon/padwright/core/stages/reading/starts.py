"""Lines to start drawing from: around what is there, or a small figure laid on it."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.text import counted

_MOST_POINTS = 20_000  # more do not make a line to start from any better
_REACH_SHARE = 0.98  # of a sector's points lie within the line; the rest are stragglers
_FINER = 8  # sectors a point of the line; the edge is the median of the three around its direction
_NEIGHBORS = 8


def outline_around(points: Float, up: Float, *, count: int = 24, lift_mm: float = 0.0, share: float = 1.0) -> Float:
    """Return a closed line around points seen along a direction, laid on their upper side, (count, 3), mm.

    Points, (n, 3) mm, are spread over the area that the line shall surround; `up`, (3,), leads towards the viewer. The
    line has `count` points, lies `lift_mm` above the surface, and runs along the edge of the points with a share of 1,
    with less further in. Raises InputError when there are fewer than 20 points.

    The line's distance from the middle is that of the edge in narrow sectors, of equal angle after the points were
    stretched to the same spread both ways; a bay that the middle does not see is bridged. It is a start to draw from,
    no measurement.
    """
    points = _thinned(points)
    frame = across(points, up)
    middle = points.mean(axis=0)
    flat = (points - middle) @ frame[:2].T
    spread = np.maximum(flat.std(axis=0), 1e-9)
    round_flat = flat / spread
    reach = np.linalg.norm(round_flat, axis=1)
    bins = _FINER * count
    sector = np.rint(np.arctan2(round_flat[:, 1], round_flat[:, 0]) / (2.0 * np.pi) * bins).astype(int) % bins
    edge = np.full(bins, np.nan)
    for number in np.unique(sector):
        edge[number] = np.quantile(reach[sector == number], _REACH_SHARE)
    is_known = np.isfinite(edge)
    edge = np.interp(np.arange(bins), np.flatnonzero(is_known), edge[is_known], period=bins)
    radius = np.median([np.roll(edge, shift)[::_FINER] for shift in (-1, 0, 1)], axis=0)
    angle = 2.0 * np.pi * np.arange(count) / count
    figure = share * radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1) * spread
    return laid_on(points, frame, middle, figure, lift_mm)


def laid_on(points: Float, frame: Float, middle: Float, figure: Float, lift_mm: float) -> Float:
    """Return a flat figure (k, 2) around a place, each point lifted onto the upper side of the points, (k, 3), mm.

    The frame's rows, (3, 3), are the figure's x and y and the direction up.
    """
    local = (points - middle) @ frame.T
    _, near = cKDTree(local[:, :2]).query(figure, k=min(_NEIGHBORS, len(local)))
    height = local[near, 2].max(axis=1) + lift_mm
    return np.asarray(middle + np.column_stack([figure, height]) @ frame)


def line_within(points: Float, frame: Float, middle: Float, long_mm: float, *, count: int = 5) -> Float:
    """Return a straight flat figure along the frame's x, (count, 2) mm from `middle`, whose ends lie on points.

    It is slid, and cut if it must be. Points, (n, 3) mm, are those of the side that the line is laid on; the frame's
    rows, (3, 3), are the figure's x and y and the direction up; the line's middle shall lie at `middle`, (3,) mm, on
    the points.

    What lies beside the line says nothing of where it ends: a bent sleeve's flanks reach farther than its crest. So the
    ends are those of the points in a strip under it, as wide to either side as twice the distance of the eighth point
    from its middle.
    """
    local = (points - middle) @ frame.T
    apart = np.linalg.norm(points - middle, axis=1)
    width = 2.0 * float(np.partition(apart, min(_NEIGHBORS, len(apart) - 1))[min(_NEIGHBORS, len(apart) - 1)])
    strip = local[np.abs(local[:, 1]) <= width]
    low, high = float(strip[:, 0].min()), float(strip[:, 0].max())
    length = min(long_mm, high - low)
    center = float(np.clip(0.0, low + 0.5 * length, high - 0.5 * length))
    along = center + np.linspace(-0.5, 0.5, count) * length
    return np.stack([along, np.zeros_like(along)], axis=1)


def across(points: Float, up: Float) -> Float:
    """Return the axes of a figure on points, (3, 3): along their longest way across `up`, across it, and up."""
    up = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    centered = points - points.mean(axis=0)
    flat = centered - np.outer(centered @ up, up)
    along = np.linalg.eigh(flat.T @ flat)[1][:, -1]
    along = along - (along @ up) * up
    along /= np.linalg.norm(along)
    along *= np.sign(along[np.argmax(np.abs(along))])  # the same way round whatever the order of the points
    return np.stack([along, np.cross(up, along), up])


def _thinned(points: Float) -> Float:
    points = np.asarray(points, dtype=np.float64)
    if len(points) < 20:
        raise InputError(f"Only {counted(len(points), 'point is', 'points are')} there to draw around; 20 are needed.")
    return points[:: max(1, len(points) // _MOST_POINTS)]
