"""The last tenths of a mm: a trimmed two-way point-to-plane fit on what both scans show, and how firm it stands."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float
from ...geometry.frames import inverse_rigid, moved, rigid, rotations_from_vectors
from .cloud import EDGE_CELLS, Cloud
from .search import steps_down

TUKEY = 4.685
"""Cut of the biweight in standard deviations: 95 % efficiency for normal noise (Holland & Welsch 1977,
doi 10.1080/03610927708827533)."""

LEAST_NOISE_MM = 0.02
"""Floor of the noise estimate, so that perfect scans do not divide by zero (common practice, no source)."""

ROUGHER = 3.0
"""Gaps may spread this many times as far as the scans' local roughness foretells: noise with waves of centimeters shows
in the gaps, hardly between neighbors (own measurement, docs/models/align.md: 2.5 times for waves of 2 to 30 mm)."""

ALIKE = 0.8
"""Least cosine between matched normals in the fine fit: 37 degrees (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Ready:
    """A cloud with its search tree."""

    cloud: Cloud
    tree: cKDTree
    around: NDArray[np.intp]  # (n, k); the nearest points of each, itself among them
    noise_mm: float  # standard deviation of its points along their normals, judged from their neighbors


SMOOTHED = 20
"""Points whose normals are averaged: 0.3 mm of noise tilts the normal of one 1.5 mm cell by 10 degrees, of 20 by 2."""


def make_ready(cloud: Cloud) -> Ready:
    """Return the cloud with a search tree, smoothed normals and its own noise.

    Notes
    -----
    A normal becomes the mean of those around it that lie within 45 degrees. Noise in normals would make even a round
    bar look pinned, and slow the fit along loose motions. A point's height over the mean of its six neighbors has
    variance (1 + 1/6) of the noise; the median of its size, times 1.4826, lets a minority of sharply curved places have
    any value.
    """
    tree = cKDTree(cloud.points)
    _, index = tree.query(cloud.points, k=min(SMOOTHED, len(cloud.points)), workers=-1)
    around = cloud.normals[index]
    alike = np.einsum("nkd,nd->nk", around, cloud.normals) > np.sqrt(0.5)
    mean = np.einsum("nkd,nk->nd", around, alike.astype(np.float64))
    mean /= np.linalg.norm(mean, axis=1, keepdims=True)
    some = slice(None, None, max(1, len(cloud.points) // 3000))
    height = np.einsum("nk,nk->n", cloud.points[some] - cloud.points[index[some, 1:7]].mean(axis=1), mean[some])
    noise = float(1.4826 * np.median(np.abs(height)) / np.sqrt(7.0 / 6.0))
    return Ready(replace(cloud, normals=mean), tree, index, noise)


@dataclass(frozen=True, eq=False)
class Matches:
    """Where points of one scan meet the other one's surface; all in the base's frame."""

    gap: Float  # (n,), mm; how far the impression lies outside the base
    point: Float  # (n, 3), mm
    # normal, own_normal: (n, 3); of the surface met, and the point's own: two readings of one direction with
    # independent noise.
    normal: Float
    own_normal: Float
    distance: Float  # (n,), mm; to the nearest point; infinite out of reach
    agree: Float  # (n,); cosine between both normals
    is_seen: Bool  # (n,); True when there is a surface near that faces alike and is not the rim of a hole
    is_near: Bool  # (n,); True when anything but the rim of a hole lies within reach
    is_border: Bool  # (n,); True when the nearest within reach is the rim of a hole or the border of the scan


def _match(asked: Cloud, ready: Ready, matrix: Float, reach: float, factor: float = 1.0) -> Matches:
    """Return where the `asked` cloud, moved by `matrix`, meets the `ready` one, made larger; frames as `ready`."""
    points = moved(matrix, asked.points)
    own = asked.normals @ matrix[:3, :3].T
    distance, index = ready.tree.query(points / factor, distance_upper_bound=reach / factor, workers=-1)
    distance *= factor
    is_near = np.isfinite(distance)
    index = np.where(is_near, index, 0)
    normal = ready.cloud.normals[index]
    apart = points - factor * ready.cloud.points[index]
    agree = np.einsum("nk,nk->n", own, normal)
    is_alike = agree > ALIKE
    # Along the mean of both normals where they agree: |n + m| = sqrt(2 + 2 n.m).
    both = np.where(is_alike[:, None], (normal + own) / np.sqrt(2.0 + 2.0 * np.maximum(agree, 0.0))[:, None], normal)
    gap = np.where(is_near, np.einsum("nk,nk->n", apart, both), reach)
    is_border = is_near & ready.cloud.is_edge[index]
    is_near &= ~is_border
    return Matches(gap, points, normal, own, distance, agree, is_near & is_alike, is_near, is_border)


@dataclass(frozen=True, eq=False)
class BothScans:
    """Both scans, centered, and the samples of them that are asked; the rest of each cloud only answers."""

    base: Ready
    impression: Ready
    base_at: Cloud
    impression_at: Cloud
    size: float  # mm; root mean square radius of the base: makes rotations comparable with translations

    @property
    def noise_mm(self) -> float:
        """What the noise of a gap should be from the two scans' own roughness, mm, where they show one surface."""
        return max(LEAST_NOISE_MM, float(np.hypot(self.base.noise_mm, self.impression.noise_mm)))

    def first(self, count: int) -> BothScans:
        """Return the scans with so many points of each sample, which are in random order."""
        return self.taken(slice(0, count), slice(0, count))

    def taken(self, base: NDArray[Any] | slice, impression: NDArray[Any] | slice) -> BothScans:
        """Return the scans with these points of the samples."""
        return replace(self, base_at=self.base_at.taken(base), impression_at=self.impression_at.taken(impression))

    def in_order(self) -> BothScans:
        """Return the scans with their samples in the scans' own order: near points follow each other.

        What they meet is then at hand in the processor's cache: half the time for looking it up.
        """
        return self.taken(np.argsort(self.base_at.number), np.argsort(self.impression_at.number))

    def within(self, width: float) -> float:
        """Return how far to look, mm, for gaps of a width: points lie up to two cells beside each other."""
        return width + 2.0 * self.base.cloud.cell

    def matches(self, matrix: Float, reach: float, factor: float = 1.0) -> list[Matches]:
        """Return where the impression's sample, moved by a (4, 4), meets the base, then the base's the impression.

        The impression is made `factor` times as large before.
        """
        at = replace(self.impression_at, points=factor * self.impression_at.points)
        forward = _match(at, self.base, matrix, reach)
        back = _match(self.base_at, self.impression, inverse_rigid(matrix), reach, factor)
        at = self.base_at
        backward = replace(
            back, gap=-back.gap, point=at.points, normal=back.normal @ matrix[:3, :3].T, own_normal=at.normals
        )
        return [forward, backward]


def noise_inside(matches: list[Matches], within: float) -> float:
    """Return the noise of the gaps, mm, judged from the negative ones alone: clay makes none of those.

    Notes
    -----
    1.4826 x median of |gap| over -within < gap < 0 (median absolute deviation of a half normal).
    """
    gaps = np.concatenate([match.gap[match.is_seen] for match in matches])
    inside = -gaps[(gaps < 0) & (gaps > -within)]
    if len(inside) < 20:
        return within
    return max(LEAST_NOISE_MM, float(1.4826 * np.median(inside)))


@dataclass(frozen=True, eq=False)
class RefinedPose:
    """A refined pose in centered frames."""

    matrix: Float  # (4, 4)
    noise_mm: float  # standard deviation of one gap between averaged points
    width_mm: float  # gaps beyond it took no part


def refine(
    both: BothScans,
    matrix: Float,
    *,
    start_width: float = 2.0,
    steps: int = 30,
    settled: float = 1e-3,
    pinned: tuple[Float, Float, float] | None = None,
) -> RefinedPose:
    """Return the pose, from a first one (4, 4) on, refined on the surfaces both scans show.

    Parameters
    ----------
    start_width : float, mm
        Gaps up to this take part at first; later 4.685 times the noise found.
    settled : float, mm
        A step that moves the part by less ends the fit.
    pinned : (base points (k, 3), impression points (k, 3), standard deviation in mm), optional
        Picked pairs that hold the motions which the surfaces leave loose.

    Notes
    -----
    Point-to-plane (Chen & Medioni 1992) along the mean of both normals (Rusinkiewicz 2019, doi
    10.1145/3306346.3323037), with Tukey's biweight, i.e. trimmed (Chetverikov 2002), both ways.
    """
    size, expected = both.size, both.noise_mm
    width, noise = start_width, start_width / 2.0
    scale = np.array([1.0 / size] * 3 + [1.0] * 3)
    for _ in range(steps):
        matches = both.matches(matrix, both.within(width))
        noise = noise_inside(matches, width)
        width = min(width, max(TUKEY * min(noise, ROUGHER * expected), 0.6 * width))
        normal_matrix, cross, right_side = np.zeros((6, 6)), np.zeros((6, 6)), np.zeros(6)
        for match in matches:
            row, met, own, weight = gap_rows(match, width, size)
            normal_matrix += (row * weight[:, None]).T @ row
            cross += (met * weight[:, None]).T @ own
            right_side -= (row * weight[:, None]).T @ match.gap
        if pinned is not None:
            _, met, own, weight, *_ = used_rows(matches, width, size)
            normal_matrix, cross, right_side = _without_loose(met, own, weight, normal_matrix, right_side)
            extra, missing = _pair_rows(pinned, matrix, size)
            share = (noise / pinned[2]) ** 2
            normal_matrix += share * extra.T @ extra
            cross += share * extra.T @ extra
            right_side += share * extra.T @ missing
        normal_matrix += 1e-6 * (np.trace(normal_matrix) / 6.0 + 1e-12) * np.eye(6)
        motion = steps_down(normal_matrix, 0.5 * (cross + cross.T), right_side) * scale
        turn = rotations_from_vectors(motion[:3])
        matrix = rigid(turn @ matrix[:3, :3], turn @ matrix[:3, 3] + motion[3:])
        step = float(np.linalg.norm(motion[:3]) * size + np.linalg.norm(motion[3:]))
        if step < settled and width <= TUKEY * noise * 1.01:
            break
    return RefinedPose(_orthogonal(matrix), noise, width)


def gap_rows(match: Matches, width: float, size: float) -> tuple[Float, Float, Float, Float]:
    """Return the point-to-plane rows of the mean, the met and the own normals, each (n, 6), and the weights (n,)."""
    weight = np.where(match.is_seen, np.square(np.maximum(0.0, 1.0 - np.square(match.gap / width))), 0.0)
    met = np.concatenate([np.cross(match.point, match.normal) / size, match.normal], axis=1)
    own = np.concatenate([np.cross(match.point, match.own_normal) / size, match.own_normal], axis=1)
    mean = met + own
    mean /= np.maximum(np.linalg.norm(mean[:, 3:], axis=1), 1e-9)[:, None]
    return mean, met, own, weight


def used_rows(matches: list[Matches], width: float, size: float) -> tuple[Float, ...]:
    """Return `gap_rows` of all matches that count, and with them the gaps (n,) and the points (n, 3), both mm."""
    found = []
    for match in matches:
        *rows, weight = gap_rows(match, width, size)
        found.append([each[weight > 0] for each in (*rows, weight, match.gap, match.point)])
    return tuple(np.concatenate(each) for each in zip(*found, strict=True))


def levers(places: Float, size: float) -> Float:
    """Return by how much each unit of a motion, turns (times `size`) before slides, moves places (n, 3), (n, 3, 6)."""
    found = np.zeros((len(places), 3, 6))
    for axis in range(3):
        found[:, :, axis] = np.cross(np.eye(3)[axis], places) / size
    found[:, :, 3:] = np.eye(3)
    return found


SHARED = 5.0
"""Standard deviations grow by the root of the about 20 points that share one smoothed normal."""


def held_directions(met: Float, own: Float, weight: Float, direction: Float) -> tuple[Float, Bool]:
    """Return how firmly the surfaces hold each direction of motion, (k,), and whether they hold it at all, (k,).

    Rows, (n, 6), are those of the two scans' normals, weighted, (n,); directions are (6, k).

    Notes
    -----
    Where nothing holds a direction, both rows see noise only, of variance s^2, half that of their difference; the sum
    of their weighted products then has standard deviation s^2 sqrt(sum w^2), times `SHARED`. Three of these must be
    exceeded.
    """
    first, second = met @ direction, own @ direction
    firm = (weight[:, None] * first * second).sum(axis=0)
    total = max(float(weight.sum()), 1e-12)
    noise2 = 0.5 * (weight[:, None] * np.square(first - second)).sum(axis=0) / total
    doubt = SHARED * noise2 * float(np.sqrt(np.square(weight).sum()))
    return firm, firm > 3.0 * doubt


def _without_loose(
    met: Float, own: Float, weight: Float, matrix: Float, right_side: Float
) -> tuple[Float, Float, Float]:
    """Return normal matrix, cross matrix and right side with nothing left of directions that no surface holds."""
    cross = (met * weight[:, None]).T @ own
    if not weight.any():
        # The surfaces do not meet at all; there is nothing to hold and nothing to leave out.
        return matrix, cross, right_side
    scale = matrix + 1e-9 * np.trace(matrix) * np.eye(6)
    _, direction = eigh((cross + cross.T) / 2.0, scale)
    _, is_held = held_directions(met, own, weight, direction)
    back = scale @ direction  # directions are orthonormal in `scale`: this is their inverse, transposed
    kept = (direction * is_held) @ back.T
    return kept.T @ matrix @ kept, kept.T @ cross @ kept, kept.T @ right_side


def _pair_rows(pinned: tuple[Float, Float, float], matrix: Float, size: float) -> tuple[Float, Float]:
    base_points, impression_points, _ = pinned
    place = moved(matrix, impression_points)
    return levers(place, size).reshape(-1, 6), (base_points - place).ravel()


def _orthogonal(matrix: Float) -> Float:
    left, _, right = np.linalg.svd(matrix[:3, :3])
    return rigid(left @ right, matrix[:3, 3])


BEYOND_MM = 15.0
"""What lies farther from the other scan is clay (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Explained:
    """How well a pose explains both scans."""

    score: float  # sum of `values`
    overlap: float  # share of the impression's points on the base
    values: Float  # (n,); what each point adds to the score: the impression's, then the base's
    is_judged: Bool  # (n,); False where what lies there was not seen: beyond the border of the other scan


def explained(both: BothScans, matrix: Float, tolerance: float) -> Explained:
    """Return how well a pose explains both scans."""
    return explained_by(both.matches(matrix, BEYOND_MM + tolerance), both, tolerance)


def explained_by(matches: list[Matches], both: BothScans, tolerance: float) -> Explained:
    """Return how well a pose explains both scans, by where they meet within `BEYOND_MM` and the tolerance.

    Notes
    -----
    A point on the other scan counts 1 - (gap / tolerance)^2, one more than twice the tolerance on the wrong side -1;
    all others, the clay, count nothing. Both scans count half.
    """
    values: list[Float] = []
    is_judged: list[Bool] = []
    overlap: list[float] = []
    for match in matches:
        fit = np.where(match.is_seen, np.maximum(0.0, 1.0 - np.square(match.gap / tolerance)), 0.0)
        is_wrong = match.is_near & (match.gap < -2.0 * tolerance)
        value: Float = np.where(is_wrong, fit - 1.0, fit) * (0.5 / max(1, len(fit)))
        values.append(value)
        is_judged.append(~match.is_border)
        # The last cells before a border lie on the other scan too, though they take no part in the fit.
        is_close = match.distance < tolerance + EDGE_CELLS * both.base.cloud.cell
        overlap.append(float((is_close & (np.abs(match.gap) < tolerance) & (match.agree > 0.5)).mean()))
    every = np.concatenate(values)
    return Explained(float(every.sum()), overlap[0], every, np.concatenate(is_judged))


def split_held_back(cloud: Cloud, share: float, rng: np.random.Generator) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the indices of the points for the fit and of those held back for the check, both in random order."""
    order = rng.permutation(len(cloud.points))
    held = round(share * len(order))
    return order[held:], order[:held]
