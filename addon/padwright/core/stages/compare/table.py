"""A print scanned where it lies: the table under it is found and taken away, and the piece that is the print told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from ...base.errors import ScanError
from ...base.mesh import Bool, Float, Int, TriMesh
from ..scans.topology import edge_table, face_pieces

_TRIES = 300
_LEVEL = 0.94  # cosine: a face of the table leans less than 20 degrees (common practice, no source)
_BELOW, _LEAST_TABLE, _LEAST_REST = 0.03, 0.08, 0.1
"""Shares of the surface: at most so much lies below a table, a table has at least so much, what stands on it, too
(own choice)."""
_WIDER = 1.03
"""A table reaches beyond what lies on it: its outline holds so much more (own choice; a tray's floor does not)."""
_LEAST_CUT_MM, _CUT_NOISE = 1.0, 4.0
_LARGE = 0.05
"""Pieces under this share of the largest are crumbs here."""


@dataclass(frozen=True, eq=False)
class OnTable:
    """What is left of a scan once the table is gone."""

    mesh: TriMesh  # all of it
    piece: Int  # (m,); of each face, 0 the piece taken for the print, then the others, the largest first
    cut_mm: float  # how far above the table it was cut; 0 where there was none
    notes: tuple[str, ...]

    @property
    def main(self) -> TriMesh:
        """The piece taken for the print."""
        return self.mesh.submesh(self.piece == 0)


def without_table(scan: TriMesh, extent_mm: float, *, seed: int = 0) -> OnTable:
    """Return a scan, turned outward, without the table it lies on; `extent_mm` is the length of the part's diagonal.

    Notes
    -----
    Planes through drawn faces, the one with most surface first (RANSAC: Fischler & Bolles 1981, doi
    10.1145/358669.358692). A table looks towards all the rest and reaches beyond it; a flat side of the part looks away
    from the rest, so it stays. Of what is left the print is the piece of about its size; where none is, the largest.

    Raises ScanError when nothing is left.
    """
    plane = _table(scan, np.random.default_rng(seed), extent_mm)
    notes: list[str] = []
    mesh, cut = scan, 0.0
    if plane is not None:
        normal, offset, noise = plane
        cut = max(_LEAST_CUT_MM, _CUT_NOISE * noise)
        height = scan.vertices @ normal - offset
        mesh = scan.submesh((height[scan.faces] > cut).all(axis=1))
        gone = 100.0 * (1.0 - mesh.area / scan.area)
        notes.append(
            f"The scan shows a table ({gone:.0f} % of its surface); it was taken away up to {cut:.1f} mm above it, and "
            "the print's lowest rim with it."
        )
    if len(mesh.faces) == 0:
        raise ScanError("The scan shows nothing but a flat table.", hint="Is it the scan of the print?")
    piece, more = _pieces(mesh, extent_mm)
    return OnTable(mesh, piece, cut, (*notes, *more))


def _table(scan: TriMesh, rng: np.random.Generator, extent_mm: float) -> tuple[Float, float, float] | None:
    """Return normal, offset and noise of the table's plane, the normal towards what lies on it; None without one."""
    area = scan.face_areas
    middle = scan.triangles.mean(axis=1)
    chosen = rng.choice(len(area), size=min(len(area), 20_000), p=area / area.sum())
    at, facing = middle[chosen], scan.face_normals[chosen]
    tolerance = max(0.8, 0.004 * extent_mm)
    best: tuple[float, Float, float] | None = None
    for first in rng.integers(0, len(at), _TRIES):
        # One face's normal is noise; the plane through its like neighbors' points is not.
        normal, offset = facing[first], float(at[first] @ facing[first])
        for _ in range(3):
            height = at @ normal - offset
            is_on = (np.abs(height) < 3.0 * tolerance) & (facing @ normal > _LEVEL)
            if is_on.sum() < 50:
                break
            center = at[is_on].mean(axis=0)
            fitted = np.linalg.svd(at[is_on] - center, full_matrices=False)[2][2]
            normal = fitted * np.sign(fitted @ normal)
            offset = float(center @ normal)
        height = at @ normal - offset
        is_on = (np.abs(height) < tolerance) & (facing @ normal > _LEVEL)
        share = float(is_on.mean())
        if share < _LEAST_TABLE or (best is not None and share <= best[0]):
            continue
        below = float((height < -3.0 * tolerance).mean())
        above = float((height > 3.0 * tolerance).mean())
        if below > _BELOW or above < _LEAST_REST:
            continue
        if _outline(at[is_on], normal) >= _WIDER * _outline(at[height > 3.0 * tolerance], normal):
            best = share, normal, offset
    if best is None:
        return None
    _, normal, offset = best
    height = at @ normal - offset
    is_on = (np.abs(height) < tolerance) & (facing @ normal > _LEVEL)
    return normal, offset, float(1.4826 * np.median(np.abs(height[is_on])))


def _outline(points: Float, normal: Float) -> float:
    """Return the area, mm2, of the convex outline of points (n, 3), seen along a normal."""
    if len(points) < 4:
        return 0.0
    basis = np.linalg.svd(normal[None])[2][1:]
    flat = points @ basis.T
    return float(ConvexHull(flat, qhull_options="QJ").volume)


def _pieces(mesh: TriMesh, extent_mm: float) -> tuple[Int, tuple[str, ...]]:
    count, label = face_pieces(len(mesh.faces), edge_table(mesh.faces, len(mesh.vertices)).pairs)
    area = np.bincount(label, mesh.face_areas, count)
    order = np.argsort(-area, kind="stable")
    large = [int(each) for each in order if area[each] >= _LARGE * area[order[0]]][:20]
    off = [abs(float(np.log(max(_diagonal(mesh, label == each), 1e-9) / extent_mm))) for each in large]
    # The largest unless another has the part's size and it has not: a table's rest may be larger than the print.
    taken = large[0] if off[0] < np.log(1.4) else large[int(np.argmin(off))]
    rank = np.zeros(len(area), dtype=np.int32)
    rank[[taken, *(int(each) for each in order if each != taken)]] = np.arange(len(area))
    others = sum(area[each] for each in large if each != taken)
    notes = (
        (f"Besides the print the scan shows other pieces ({100 * others / area.sum():.0f} % of what is left).",)
        if others
        else ()
    )
    return rank[label], notes


def _diagonal(mesh: TriMesh, is_in: Bool) -> float:
    """Return the longest extent of some faces along their own main axes together, mm: a box's diagonal."""
    points = mesh.vertices[np.unique(mesh.faces[is_in])]
    _, axes = np.linalg.eigh(np.cov(points.T) if len(points) > 3 else np.eye(3))
    return float(np.linalg.norm(np.ptp(points @ axes, axis=0)))
