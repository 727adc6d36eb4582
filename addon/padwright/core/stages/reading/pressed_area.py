"""Where the clay is, where the body pressed it, and how thick it was before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.errors import ScanError
from ...base.mesh import Bool, Float, TriMesh, cross
from ...base.rows import lengths
from ...geometry.fields import vertex_gradients
from .surface_patches import closed, fill_islands, grown, keep_large, opened, rim_of

_STEEP_COSINE = 0.7
"""A clay wall leans outward by more than 45 degrees (common practice, no source)."""
_LEAST_PIECE_SHARE = 0.05
"""A piece under a twentieth of the largest is debris or a dent, not a patch (common practice, no source)."""


@dataclass(frozen=True)
class Undisturbed:
    """The clay's thickness before the body pressed it."""

    thickness: Float  # (n,), mm; at every vertex
    typical_mm: float  # the same number
    # half the range that holds 95 % of the rim about the fitted surface, at least 5 %; 0 when measured.
    plus_minus_mm: float
    basis: str  # "measured" (the person laid it) or "assumed" (from the rim the body left alone)
    rim_share: float  # share of the even clay's area that counts as rim
    rim_mm: float  # what the rim says, also when the thickness was measured


def find_clay(mesh: TriMesh, distance: Float, least_clay: float, width: float) -> Bool:
    """Return where there is clay: farther than `least_clay` mm from the base, in pieces that matter.

    The distance, (n,) mm, is lightly smoothed; the width is that of smoothing, mm, the length everything small is told
    by. Raises ScanError when there is none.
    """
    is_clay = distance > least_clay
    # Debris and bare spots of 1 cm2 (at a width of 5 mm) are not what a pad is made of (common practice, no source).
    is_clay = fill_islands(mesh, opened(mesh, is_clay, 0.4 * width), most_area=4.0 * width**2)
    is_clay = keep_large(mesh, is_clay, least_area=4.0 * width**2, least_share=_LEAST_PIECE_SHARE)
    if not is_clay.any():
        raise ScanError(
            f"No clay was found: no more than {np.percentile(distance, 99.0):.1f} mm lies between the two scans, "
            f"and clay is what is more than {least_clay:.1f} mm off the base.",
            hint="Check that the second scan is the one with clay (the two may be swapped), and that they are aligned.",
        )
    return is_clay


@dataclass(frozen=True, eq=False)
class WayOut:
    """Which way the clay's edge lies, for the clay's vertices near it."""

    index: NDArray[np.int64]  # (k,); the vertices
    gap: Float  # (k,), mm; how far from the edge
    toward: Float  # (k, 3), mm; across the press direction

    def within(self, reach: float) -> WayOut:
        """Return that of vertices within `reach` mm of the edge."""
        near = np.flatnonzero(self.gap <= reach)
        return WayOut(self.index[near], self.gap[near], self.toward.take(near, axis=0))


def way_out(mesh: TriMesh, inward: Float, is_clay: Bool, reach: float) -> WayOut:
    """Return the way to the edge of the clay, (n,), for what of it is within `reach` mm; `inward`, (n, 3), presses."""
    rim, index = rim_of(mesh, is_clay), np.flatnonzero(is_clay)
    if len(rim) == 0:
        return WayOut(index[:0], np.zeros(0), np.zeros((0, 3)))
    places = mesh.vertices.take(rim, axis=0)
    tree = cKDTree(places, balanced_tree=False, compact_nodes=False)
    gap, nearest = tree.query(mesh.vertices.take(index, axis=0), distance_upper_bound=reach, workers=-1)
    near = np.isfinite(gap)
    index = index[near]
    toward = places.take(nearest[near], axis=0) - mesh.vertices.take(index, axis=0)
    down = inward.take(index, axis=0)
    return WayOut(index, gap[near], toward - np.einsum("ij,ij->i", toward, down)[:, None] * down)


def find_wall(normals: Float, inward: Float, is_clay: Bool, height: float, way: WayOut) -> Bool:
    """Return the clay's outer wall: near its edge and leaning steeply outward over it.

    Normals, (n, 3), are the impression's, smoothed unit vectors; `inward`, (n, 3), is the local press direction. The
    height, mm, is about how thick the clay is; the wall is sought within twice that of the edge.
    """
    is_wall = is_clay & (np.einsum("ij,ij->i", normals, -inward) < 0.1)  # no body side: it looks away
    way = way.within(2.0 * height)
    normal, down, length = normals.take(way.index, axis=0), inward.take(way.index, axis=0), lengths(way.toward)
    lean = np.einsum("ij,ij->i", normal, way.toward) / np.maximum(length, 1e-9)
    # Right above the edge "toward" says little: what is steep there is wall.
    steep = lengths(cross(normal, down)) > _STEEP_COSINE
    is_wall[way.index] |= (lean > _STEEP_COSINE) | (steep & (length < 0.1 * height))
    return is_wall


def find_drop(mesh: TriMesh, thickness: Float, inward: Float, way: WayOut) -> Bool:
    """Return where the clay runs out: near its edge, and thinning towards it by more than 1 in 1.4.

    The thickness, (n,) mm, is smoothed over the whole clay, wall included: it tells the wall's shoulder where noise
    hides it in the normals. `inward`, (n, 3), is the local press direction.
    """
    toward = way.toward / np.maximum(lengths(way.toward), 1e-9)[:, None]
    slope = vertex_gradients(mesh, thickness).take(way.index, axis=0)
    # A gradient along a steep surface is short; along the plane across the press direction it is what the body sees.
    normal, down = mesh.vertex_normals.take(way.index, axis=0), inward.take(way.index, axis=0)
    facing = np.abs(np.einsum("ij,ij->i", normal, down))
    is_drop = np.zeros(len(thickness), dtype=bool)
    is_drop[way.index] = -np.einsum("ij,ij->i", slope, toward) / np.maximum(facing, 0.3) > _STEEP_COSINE
    return is_drop


def undisturbed_clay(
    positions: Float, areas: Float, thickness: Float, is_plain: Bool, measured: float | None
) -> Undisturbed:
    """Return the thickness the clay had before it was pressed.

    Positions are (n, 3), mm, areas (n,), mm2, thicknesses (n,), mm, smoothed; plain, (n,), is clay that is no wall and
    about as thick as what is beside it. Measured is what the person laid, mm.

    Notes
    -----
    Assumed: the clay splits into pressed and unpressed where the variance between the two groups is greatest
    (Otsu 1979, doi 10.1109/TSMC.1979.4310076); the median of the shortest half of the thicker group (Rousseeuw & Leroy
    1988, doi 10.1111/j.1467-9574.1988.tb01224.x), and the rim is what lies within three spreads of it. Its level is
    found in the same way from the half of it that lies farther from the pressed clay. Clay squeezed up around the body
    makes this too large rather than too small. A slab laid as a wedge is not recognized: its tilt is in the range.
    """
    index = np.flatnonzero(is_plain)
    value, weight = thickness[index], areas[index]
    typical, spread = _crowded(*_of(value > _split(value, weight), value, weight))
    is_rim = np.abs(value - typical) <= max(3.0 * spread, 0.03 * typical)
    is_pressed = value < typical - max(3.0 * spread, 0.1 * typical)
    if is_pressed.any():
        # Clay squeezed up beside the body stands too high; it dies away from it.
        gap, _ = cKDTree(positions[index[is_pressed]]).query(positions[index[is_rim]])
        far = gap >= _median(gap, weight[is_rim])
        typical, spread = _crowded(value[is_rim][far], weight[is_rim][far])
        is_rim = np.abs(value - typical) <= max(3.0 * spread, 0.03 * typical)
    off = np.abs(value - typical)[is_rim]
    # Clay squeezed up all along the rim cannot be seen: at least 5 % of the thickness (common practice, no source).
    half = max(float(np.percentile(off, 95.0)), 0.05 * typical)
    share = float(weight[is_rim].sum() / weight.sum())
    if measured is not None:
        return Undisturbed(np.full(len(thickness), float(measured)), float(measured), 0.0, "measured", share, typical)
    return Undisturbed(np.full(len(thickness), typical), typical, half, "assumed", share, typical)


def find_contact(
    mesh: TriMesh, imprint_depth: Float, is_plain: Bool, is_clay: Bool, least_depth: float, width: float
) -> Bool:
    """Return the patch the body pressed: deeper than `least_depth` mm, no wall, smooth, its largest pieces.

    Opened and closed by 0.6 of the smoothing width: at 5 mm nothing narrower than 6 mm counts as the body and no such
    gap splits it (common practice, no source). The patch then runs on to three quarters of the least depth, up to the
    width far: the body does not leave the clay where the imprint is as deep as noise allows to see.
    """
    is_contact = opened(mesh, is_plain & (imprint_depth > least_depth), 0.6 * width)
    is_contact = grown(mesh, is_contact, width, is_plain & (imprint_depth > 0.75 * least_depth))
    is_contact = closed(mesh, is_contact, 0.6 * width, is_plain)
    is_contact = fill_islands(mesh, is_contact, most_area=8.0 * width**2) & is_clay
    return keep_large(mesh, is_contact, least_area=4.0 * width**2, least_share=_LEAST_PIECE_SHARE)


def _split(value: Float, weight: Float) -> float:
    """Return the threshold between the two groups of a weighted histogram (Otsu 1979)."""
    count, border = np.histogram(value, bins=256, weights=weight)
    middle = 0.5 * (border[1:] + border[:-1])
    below = np.cumsum(count)
    total = np.cumsum(count * middle)
    above = below[-1] - below
    usable = (below > 0) & (above > 0)
    between = np.zeros(len(count))
    low = total[usable] / below[usable]
    high = (total[-1] - total[usable]) / above[usable]
    between[usable] = below[usable] * above[usable] * (high - low) ** 2
    best = np.flatnonzero(between >= between.max() * (1.0 - 1e-9))
    return float(border[1:][best].mean())


def _of(is_in: Bool, *arrays: Float) -> tuple[Float, ...]:
    return tuple(array[is_in] for array in arrays)


def _crowded(value: Float, weight: Float) -> tuple[float, float]:
    """Return middle and standard deviation of the most crowded half: slopes at the sides don't pull it."""
    order = np.argsort(value, kind="stable")
    value, weight = value[order], weight[order]
    total = np.cumsum(weight)
    last = np.searchsorted(total, total - weight + 0.5 * total[-1])
    first = np.flatnonzero(last < len(value))
    best = first[np.argmin(value[last[first]] - value[first])]
    half = slice(best, last[best] + 1)
    length = float(value[last[best]] - value[best])
    return _median(value[half], weight[half]), length / (2.0 * 0.6744897501960817)  # half a normal lies within 0.674 s


def _median(value: Float, weight: Float) -> float:
    order = np.argsort(value, kind="stable")
    total = np.cumsum(weight[order])
    return float(value[order[np.searchsorted(total, 0.5 * total[-1])]])
