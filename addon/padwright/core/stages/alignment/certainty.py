"""How firmly a pose stands: each of its six motions, and a check on points that took no part in the fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import eigh

from ...base.mesh import Float, TriMesh
from ...geometry.frames import inverse_rigid, moved
from ...geometry.near_faces import nearest_beside
from ...geometry.query import NearestSurface
from .cloud import Cloud
from .noise import gap_noise
from .prepared_scans import Scans
from .refine import BothScans, RefinedPose, held_directions, levers, used_rows

LOOSE_MM, LOOSE_SHARE, LOOSE_NOISE = 1.0, 0.02, 2.0
"""A motion is loose when two standard errors of it move the clay by more than 1 mm, or 2 % of the part's
root-mean-square radius where that is less, and by more than two standard deviations of a gap. What is held, but by
noisy scans, is told with its standard error; what nothing holds comes out far beyond (own measurement,
docs/models/align.md)."""

_UNHELD = 1e8
"""Variance, mm2, that stands for a motion nothing holds."""

_SHALLOW_MM = 15.0
"""Deeper inside a part its far side may be nearer (common practice, no source)."""

_AXES = (("length", "along"), ("width", "across"), ("height", "through"))


@dataclass(frozen=True, eq=False)
class Motion:
    """How well one of the six motions of the impression against the base is pinned down."""

    name: str  # in words: "slide along the length", "turn about the height"
    axis: Float  # (3,); in the base's frame
    standard_error: float  # mm for a slide, degrees for a turn; from noise alone, infinite when nothing pins it
    reach_mm: float  # how far two standard errors move the impression's surface (root mean square)
    is_loose: bool


@dataclass(frozen=True, eq=False)
class Pinned:
    """How firmly a pose stands."""

    motions: tuple[Motion, ...]  # the six motions about the base's middle
    loosest: str  # in words the loosest motion of all; empty when none is loose
    # Of the pose as a whole: how far the impression's surface is off (root mean square), infinite when something is not
    # held at all.
    standard_error_mm: float
    noise_reach_mm: float  # distance over which the gaps' noise falls to 1/e


@dataclass(frozen=True)
class Check:
    """What points say that took no part in the fit, measured to the other scan's own triangles."""

    points: int  # how many were asked, of both scans
    on_points: int  # how many of them lie on the other scan, within `tolerance_mm`
    median_mm: float  # their middle unsigned distance
    bias_mm: float  # their middle signed distance; positive: the impression stands off
    tolerance_mm: float
    share_on: float  # share of the impression's points that lie on the base
    # Share of all points that lie where none can be: inside the base, or, of the base, outside the clay.
    share_inside: float


def part_axes(cloud: Cloud) -> Float:
    """Return the part's length, width and height axes as rows, (3, 3), right-handed, from the spread of its points."""
    centered = cloud.points - cloud.points.mean(axis=0)
    axes = np.linalg.eigh(centered.T @ centered)[1].T[::-1].copy()
    for row in axes[:2]:
        row *= np.sign(row[np.abs(row).argmax()])
    axes[2] = np.cross(axes[0], axes[1])
    return axes


def pinned_motions(both: BothScans, fit: RefinedPose) -> Pinned:
    """Return how well each motion about the base's middle is pinned down by the samples that took part in the fit.

    Notes
    -----
    Covariance H^-1 B H^-1 (the sandwich of Huber 1967 and White 1980). H is the sum of row times row, the two rows of a
    product from the two scans' normals: their noise is independent and averages out, where the noise of one alone would
    make even a round bar look pinned. B is the covariance of the sum of row times gap with what neighbors share
    (`gap_noise`). H is lowered by the mean of the biweight's derivative over that of its weight: that is by how much
    less the estimating equation changes with the pose than its weights say.
    """
    size, matches = both.size, both.matches(fit.matrix, both.within(fit.width_mm))
    row, met, own, weight, gap, met_at = used_rows(matches, fit.width_mm, size)
    noise = gap_noise(met_at, gap, row, weight, 2.0 * both.base.cloud.cell)
    share = 1.0 - np.sqrt(weight)  # (gap / width)^2
    lowered = float(np.clip(((1.0 - share) * (1.0 - 5.0 * share)).sum() / max(1e-12, weight.sum()), 0.5, 1.0))

    lever = levers(moved(fit.matrix, both.impression.cloud.points), size)
    shift = np.einsum("nik,nij->kj", lever, lever) / len(lever)

    # Directions of motion in which one unit moves the surface by 1 mm (root mean square), from loose to firm.
    cross = (met * weight[:, None]).T @ own
    _, direction = eigh((cross + cross.T) / 2.0, shift)
    mean, is_held = held_directions(met, own, weight, direction)
    inner = np.where(is_held, direction / np.where(is_held, lowered * mean, 1.0), 0.0)
    covariance_in = inner.T @ noise.of_sum @ inner + np.diag(np.where(is_held, 0.0, _UNHELD))
    variance = np.diag(covariance_in)
    covariance = direction @ covariance_in @ direction.T

    axes = part_axes(both.base.cloud)
    limit = max(min(LOOSE_MM, LOOSE_SHARE * size), LOOSE_NOISE * fit.noise_mm)
    motions = []
    for kind in ("slide", "turn"):
        for axis, (name, word) in zip(axes, _AXES, strict=True):
            unit = np.concatenate([np.zeros(3), axis]) if kind == "slide" else np.concatenate([axis, np.zeros(3)])
            error = float(np.sqrt(max(0.0, unit @ covariance @ unit)))
            reach = 2.0 * error * float(np.sqrt(unit @ shift @ unit))
            spread = error if kind == "slide" else float(np.degrees(error / size))
            label = f"slide {word} the {name}" if kind == "slide" else f"turn about the {name}"
            is_open = reach > 1e3
            motions.append(Motion(label, axis, float("inf") if is_open else spread, reach, reach > limit))
    worst = int(variance.argmax())
    is_loose = 2.0 * np.sqrt(variance[worst]) > limit
    # In this frame a unit along each direction moves the surface by 1 mm, whatever the others do.
    whole = float(np.sqrt(variance.sum()))
    return Pinned(
        tuple(motions),
        _in_words(direction[:, worst], shift, axes) if is_loose else "",
        whole if is_held.all() else float("inf"),
        noise.reach_mm,
    )


def _in_words(direction: Float, shift: Float, axes: Float) -> str:
    turning = np.concatenate([direction[:3], np.zeros(3)])
    sliding = np.concatenate([np.zeros(3), direction[3:]])
    is_turn = turning @ shift @ turning >= sliding @ shift @ sliding
    part = direction[:3] if is_turn else direction[3:]
    name, word = _AXES[int(np.abs(axes @ part).argmax())]
    return f"a turn about its {name}" if is_turn else f"a slide {word} its {name}"


def check_held_back(base: TriMesh, impression: TriMesh, scans: Scans, pose: Float, tolerance: float) -> Check:
    """Return what held-back points say about a pose of the centered clouds; `tolerance` in mm.

    Notes
    -----
    Distances go to the scan's triangles (libigl), not to the averaged points and planes that the fit used. A point
    whose nearest surface faces the other way or is the border of a hole is not asked. Signs are those of the nearest
    face. Points that the averaged ones show on the clay's side, clear of the other scan, need no look at triangles.
    """
    matrix, cell = scans.in_scans(pose), scans.both.base.cloud.cell
    held = replace(scans.both, base_at=scans.base_held, impression_at=scans.impression_held)
    of_impression, of_base = held.matches(pose, _SHALLOW_MM + 2.0 * cell)
    signed, wrong = [], 0
    share_on = 0.0
    for target, cloud, middle, match, motion, outward in (
        (base, scans.impression_held, scans.impression_middle, of_impression, matrix, 1.0),
        (impression, scans.base_held, scans.base_middle, of_base, inverse_rigid(matrix), -1.0),
    ):
        asked = np.flatnonzero(np.isfinite(match.distance) & (match.gap < tolerance + 2.0 * cell))
        place = moved(motion, cloud.points[asked] + middle)
        if outward > 0:  # its tree is asked by later stages too
            found = NearestSurface.of(target).find(place)
        else:
            found = nearest_beside(target, place)
        normal = target.face_normals[found.face]
        is_border = target.is_on_border[target.faces[found.face]].any(axis=1)
        gap = outward * np.einsum("nk,nk->n", place - found.point, normal)
        alike = np.einsum("nk,nk->n", cloud.normals[asked] @ motion[:3, :3].T, normal) > 0.5
        on = (found.distance < tolerance) & alike & ~is_border
        # Deep inside a thin part the nearest face may be the far side's; only shallow contradictions are sure ones.
        wrong += int(((gap < -2.0 * tolerance) & (found.distance < _SHALLOW_MM) & alike & ~is_border).sum())
        signed.append(gap[on])
        if outward > 0:
            share_on = float(on.sum()) / max(1, len(cloud.points))
    gaps = np.concatenate(signed)
    count = len(scans.base_held.points) + len(scans.impression_held.points)
    return Check(
        points=count,
        on_points=len(gaps),
        median_mm=float(np.median(np.abs(gaps))) if len(gaps) else float("inf"),
        bias_mm=float(np.median(gaps)) if len(gaps) else float("inf"),
        tolerance_mm=tolerance,
        share_on=share_on,
        share_inside=wrong / max(1, count),
    )
