"""How the print differs from the part as a whole: where it lies, its size along each axis of the bed, its bend.

All of it at once, by a trimmed point-to-plane fit of the scan's points to the part's own triangles, with standard
errors that hold where the noise of neighbors is shared.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, TriMesh
from ...geometry.drawn import drawn_points
from ...geometry.frames import moved, rigid, rotations_from_vectors
from ...geometry.query import Nearest, NearestSurface
from ..alignment.noise import gap_noise
from ..alignment.refine import LEAST_NOISE_MM, SHARED, TUKEY

SAMPLES = 6000
"""Points of the scan that are asked for their place on the part: more tell little: neighbors share their noise."""

ALIKE = 0.6
"""Least cosine between the normals of a point and of where it lies on the part (common practice, no source)."""

_LIKELY_SIZE, _LIKELY_LIFT = 0.03, 0.05
"""Standard deviations of what is known before: 3 % in size along an axis, and of the ends' lift, as a share of their
length. They keep still what the scan does not show (own choice; what it shows outweighs them a hundredfold)."""

_ROUGH_POINTS = 25_000

_AROUND, _EDGE_MM, _EVEN = 24, 3.0, 0.985
"""A face lies on an edge where the mean of the normals of so many faces around it, none further off than so many mm, is
shorter than this: they look more than about 10 degrees apart (own choice; docs/models/compare.md)."""

_STEPS = 40
_SETTLED_MM = 2e-4
_DAMPING = 2e-3  # of the mean diagonal; common practice, no source


@dataclass(frozen=True, eq=False)
class ScanSample:
    """Points spread evenly over a scan, in its own frame, mm."""

    points: Float  # (n, 3)
    normals: Float  # (n, 3)
    spacing_mm: float  # about the distance between neighbors

    def moved(self, matrix: Float) -> ScanSample:
        """Return the sample moved by a rigid (4, 4) matrix."""
        return ScanSample(moved(matrix, self.points), self.normals @ matrix[:3, :3].T, self.spacing_mm)

    def first(self, count: int) -> ScanSample:
        """Return so many of its points, which are in random order."""
        more = float(np.sqrt(max(1.0, len(self.points) / max(1, count))))
        return ScanSample(self.points[:count], self.normals[:count], self.spacing_mm * more)


def scan_sample(mesh: TriMesh, count: int, rng: np.random.Generator) -> ScanSample:
    """Return points of a surface, spread evenly by area, in random order."""
    points, normal = drawn_points(mesh, count, rng)
    length = np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    return ScanSample(points, normal / length, float(np.sqrt(mesh.area / count)))


class RoughSurface:
    """Nearest places by points spread over a mesh: twenty times as fast where the points asked for lie far off."""

    def __init__(self, mesh: TriMesh) -> None:
        total = np.cumsum(mesh.face_areas)
        face = np.searchsorted(total, (np.arange(_ROUGH_POINTS) + 0.5) / _ROUGH_POINTS * total[-1])
        self._face = np.minimum(face, len(mesh.faces) - 1).astype(np.int32)
        self._points = mesh.triangles[self._face].mean(axis=1)
        self._normals = mesh.face_normals[self._face]
        self._spacing = 2.0 * float(np.sqrt(mesh.area / _ROUGH_POINTS))
        self._tree = cKDTree(self._points)

    def find(self, points: Float) -> Nearest:
        """Return about the nearest place of each point, (q, 3), mm: on the plane of a face that is near."""
        distance, index = self._tree.query(points)
        away = points - self._points[index]
        normal = self._normals[index]
        height = np.einsum("nk,nk->n", away, normal)
        aside = np.sqrt(np.maximum(np.square(distance) - np.square(height), 0.0))
        is_across = aside < self._spacing
        place = np.where(is_across[:, None], points - height[:, None] * normal, self._points[index])
        return Nearest(np.where(is_across, np.abs(height), distance), self._face[index], place)


class PartOnBed:
    """The part's outside as asked for, its axes those of the bed, and what the fit asks of it."""

    def __init__(self, mesh: TriMesh) -> None:
        self.mesh = mesh
        self.middle = mesh.bounds.mean(axis=0)
        self.half = 0.5 * np.ptp(mesh.bounds, axis=0)
        self.size_mm = float(np.sqrt(np.square(mesh.vertices - self.middle).sum(axis=1).mean()))
        self.surface = NearestSurface(mesh)
        self.rough = RoughSurface(mesh)
        self.is_edge_face = sharp_faces(mesh)  # (m,)

    def likely(self, with_shape: int) -> Float:
        """Return the standard deviations known before of the sizes and curvatures, (6,), or of a common size, (1,)."""
        if with_shape == 1:
            return np.array([_LIKELY_SIZE])
        lift = _LIKELY_LIFT * 2.0
        reach = np.array([self.half[0], self.half[1], np.sqrt(self.half[0] * self.half[1])])
        return np.concatenate([np.full(3, _LIKELY_SIZE), lift / np.maximum(reach, 1e-6)])


def sharp_faces(mesh: TriMesh) -> Bool:
    """Return which faces, (m,), lie on or beside an edge or a rim rounded by less than a few mm.

    A scan rounds what is sharp, a printer too, and the fit would take that for a change of size.
    """
    middle = mesh.triangles.mean(axis=1)
    far, near = cKDTree(middle).query(middle, k=min(_AROUND, len(middle)), distance_upper_bound=_EDGE_MM)
    is_there = np.isfinite(far)
    index = np.where(is_there, near, 0)
    weight = np.where(is_there, mesh.face_areas[index], 0.0)
    mean = np.einsum("mk,mkd->md", weight, mesh.face_normals[index]) / np.maximum(weight.sum(axis=1), 1e-12)[:, None]
    return np.asarray(np.linalg.norm(mean, axis=1) < _EVEN)


def shape_rows(places: Float) -> Float:
    """Return by how much sizes and curvatures, (6,), move places about the part's middle, (n, 3), as (n, 3, 6).

    Notes
    -----
    A plate whose layers stay as long in their middle and square to it (Kirchhoff 1850): a curvature k along x lifts by
    k x^2 / 2 and slides by -k x z; twist k lifts by k x y.
    """
    x, y, z = places.T
    none = np.zeros(len(places))
    columns = [
        (x, none, none),
        (none, y, none),
        (none, none, z),
        (-x * z, none, 0.5 * x * x),
        (none, -y * z, 0.5 * y * y),
        (-y * z, -x * z, x * y),
    ]
    return np.stack([np.stack(each, axis=1) for each in columns], axis=2)


def as_asked(places: Float, values: Float) -> Float:
    """Return where places of the print about its middle, (n, 3), would lie in the part: sizes and bend undone.

    `values`: (6,), how much larger the part is along x, y and z, as a share, and three curvatures, 1/mm.
    """
    sized = places * (1.0 + values[:3])
    flat = sized
    for _ in range(2):
        flat = sized - np.einsum("nik,k->ni", shape_rows(flat)[:, :, 3:], values[3:])
    return flat


@dataclass(frozen=True, eq=False)
class PrintFit:
    """Where the print lies on the part and how it differs from it as a whole."""

    matrix: Float  # (4, 4); rigid: the scan to the part on the bed
    # (6,): how much larger the part is than the scan along x, y, z of the bed, as a share; curvatures along x, along y
    # and twist, 1/mm, above 0 where ends rise
    values: Float
    covariance: Float  # (6, 6); of these, from noise alone
    noise_mm: float  # standard deviation of a gap that is left
    width_mm: float  # gaps beyond it took no part


def gaps_of(
    part: PartOnBed, at: ScanSample, values: Float, *, is_rough: bool = False
) -> tuple[Float, Float, Float, Bool]:
    """Return the gap (n,), the place as asked (n, 3), the part's normal there (n, 3) and which may take part (n,).

    Those do that face as the part does there, away from its edges. The sample lies in the part's
    frame; places are about its middle.
    """
    about = at.points - part.middle
    place = as_asked(about, values)
    found = (part.rough if is_rough else part.surface).find(place + part.middle)
    normal = part.mesh.face_normals[found.face]
    gap = np.einsum("nk,nk->n", place + part.middle - found.point, normal)
    is_alike = (np.einsum("nk,nk->n", at.normals, normal) > ALIKE) & ~part.is_edge_face[found.face]
    # Beside an edge of the part the plane says less than the distance: such a point is as far off as it is.
    far = np.maximum(found.distance, 1e-9)
    gap = np.where(np.abs(gap) < 0.5 * far, np.copysign(far, gap), gap)
    return gap, place, normal, is_alike


def fit_print(
    part: PartOnBed,
    sample: ScanSample,
    matrix: Float,
    *,
    width_mm: float,
    least_width_mm: float = 0.0,
    with_shape: int = 6,
    values: Float | None = None,
    is_rough: bool = False,
) -> PrintFit:
    """Return the fit from a first pose on, (4, 4): the scan to the part on the bed.

    Parameters
    ----------
    width_mm : float
        Gaps up to this take part at first; later 4.685 times the noise found.
    least_width_mm : float
        They always do up to this: without sizes in the fit it would else settle on one end of a smaller print.
    with_shape : 0, 1 or 6
        What is fitted beside the pose: nothing, one size for all axes, or three sizes and three curvatures.
    values : (6,) float, optional
        Sizes and curvatures to start from.
    is_rough : bool
        By points of the part instead of its triangles: right to some hundredths of a mm, and much faster.

    Notes
    -----
    Point-to-plane (Chen & Medioni 1992, doi 10.1016/0262-8856(92)90066-C) with Tukey's biweight. Covariance H^-1 B H^-1
    (Huber 1967, White 1980) with B from the gaps' own correlation (`gap_noise`).
    """
    values = np.zeros(6) if values is None else values
    width, noise = width_mm, width_mm / 2.0
    spread = part.likely(with_shape) if with_shape else np.zeros(0)
    unit = np.concatenate([np.full(3, 1.0 / part.size_mm), np.ones(3), spread])
    for _ in range(_STEPS):
        at = sample.moved(matrix)
        gap, place, normal, is_alike = gaps_of(part, at, values, is_rough=is_rough)
        near = is_alike & (np.abs(gap) < width)
        if near.sum() < 30:
            break
        noise = max(LEAST_NOISE_MM, float(1.4826 * np.median(np.abs(gap[near]))))
        width = min(width, max(TUKEY * noise, 0.7 * width, least_width_mm))
        weight = _weights(gap, is_alike, width)
        rows = _rows(place, normal, with_shape) * unit
        used = weight > 0
        inner = (rows[used] * weight[used, None]).T @ rows[used]
        right = -(rows[used] * weight[used, None]).T @ gap[used]
        known = np.zeros(len(unit))
        known[6:] = (SHARED * noise) ** 2
        right[6:] -= (SHARED * noise) ** 2 * _chosen(values, with_shape) / spread
        # Damping: keeps still within a step what the scan hardly shows, and is gone once the fit has settled.
        inner += np.diag(known) + _DAMPING * np.trace(inner) / len(unit) * np.eye(len(unit))
        step = np.linalg.solve(inner, right) * unit
        turn = rotations_from_vectors(step[:3])
        # The turn is about the part's middle.
        shift = part.middle + step[3:6] - turn @ part.middle
        matrix = rigid(turn @ matrix[:3, :3], turn @ matrix[:3, 3] + shift)
        values = _changed(values, step[6:], with_shape)
        moved_by = float(np.linalg.norm(step[:3]) * part.size_mm + np.linalg.norm(step[3:6]))
        moved_by += float(np.abs(step[6:] / np.maximum(spread, 1e-12)).max(initial=0.0)) * 0.05 * part.size_mm
        if moved_by < _SETTLED_MM and width <= max(TUKEY * noise * 1.02, least_width_mm):
            break
    left, _, right_turn = np.linalg.svd(matrix[:3, :3])
    matrix = rigid(left @ right_turn, matrix[:3, 3])
    return PrintFit(matrix, values, np.zeros((6, 6)), noise, width)


def with_errors(part: PartOnBed, sample: ScanSample, fit: PrintFit) -> PrintFit:
    """Return a fit of sizes and curvatures with their covariance."""
    at = sample.moved(fit.matrix)
    gap, place, normal, is_alike = gaps_of(part, at, fit.values)
    weight = _weights(gap, is_alike, fit.width_mm)
    used = weight > 0
    gap, place, weight = gap[used], place[used], weight[used]
    unit = np.concatenate([np.full(3, 1.0 / part.size_mm), np.ones(3), part.likely(6)])
    rows = _rows(place, normal[used], 6) * unit
    noise = gap_noise(place, gap, rows, weight, 2.0 * sample.spacing_mm)
    share = 1.0 - np.sqrt(weight)
    lowered = float(np.clip(((1.0 - share) * (1.0 - 5.0 * share)).sum() / max(1e-12, weight.sum()), 0.5, 1.0))
    known = np.zeros(len(unit))
    known[6:] = (SHARED * fit.noise_mm) ** 2
    inner = lowered * (rows * weight[:, None]).T @ rows + np.diag(known) + 1e-9 * np.eye(len(unit))
    spread = noise.of_sum + np.diag(np.square(known))
    back = np.linalg.inv(inner)
    covariance = (back @ spread @ back) * np.outer(unit, unit)
    return PrintFit(fit.matrix, fit.values, covariance[6:, 6:], fit.noise_mm, fit.width_mm)


def _weights(gap: Float, is_alike: Bool, width: float) -> Float:
    return np.where(is_alike, np.square(np.maximum(0.0, 1.0 - np.square(gap / width))), 0.0)


def _rows(place: Float, normal: Float, with_shape: int) -> Float:
    """Return by how much turns, slides and what else is fitted change the gaps."""
    rows = [np.cross(place, normal), normal]
    if with_shape:
        change = shape_rows(place)
        change[:, :, 3:] *= -1.0
        inner = np.einsum("ni,nik->nk", normal, change)
        rows.append(inner if with_shape == 6 else inner[:, :3].sum(axis=1, keepdims=True))
    return np.concatenate(rows, axis=1)


def _chosen(values: Float, with_shape: int) -> Float:
    return values[:with_shape]


def _changed(values: Float, step: Float, with_shape: int) -> Float:
    if with_shape == 1:
        return values + np.concatenate([np.repeat(step, 3), np.zeros(3)])
    return values + step if with_shape else values
