"""Stage 3: lay the impression scan on the base scan, from any pose or by picked pairs, or say why it cannot be told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import ScanError, SolveError
from ..geometry.frames import motion_between, moved, rigid, rotation_angle_deg
from ..mesh import Float, TriMesh
from ..progress import Progress, Steps
from .align_certainty import Check, Motion, check_held_back, pinned_motions
from .align_refine import Fit, Ready, explained, make_ready, match_both, refine, split_held_back
from .align_samples import Cloud, make_cloud, make_grid
from .align_search import Pair, Poses, descend, distinct, even_rotations, score

STARTS = 1500
"""Start rotations: about 22 degrees apart; the one-sided fit's basin is wider (own measurement, docs/03-align.md)."""

RIVAL = 0.95
"""A distinct pose with this share of the best score fits nearly as well (own measurement, docs/03-align.md)."""

LEAST_SCORE = 0.05
"""Below this the best pose explains too little of the scans to be believed (own measurement, docs/03-align.md)."""

HELD_BACK = 0.2
"""Share of the points that never enters the fit and only checks it (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class OtherPose:
    """A pose that was found and not taken.

    Attributes
    ----------
    matrix : (4, 4) float
        Impression to base.
    score : float
    apart_mm : float
        Mean distance of the impression's surface from where the taken pose puts it.
    turn_deg : float
    """

    matrix: Float
    score: float
    apart_mm: float
    turn_deg: float


@dataclass(frozen=True, eq=False)
class Alignment:
    """Where the impression lies on the base, with the evidence.

    Attributes
    ----------
    matrix : (4, 4) float
        Impression frame to base frame, mm; a rotation (determinant +1) and a translation.
    rms_mm, p95_mm : float
        Of the gaps between averaged points on what both scans show.
    overlap : float
        Share of the impression's surface that lies on the base.
    noise_mm : float
        Standard deviation of a gap, judged from the side that clay does not touch.
    score : float
        Share of both scans explained, less what contradicts; comparable between poses of one pair of scans only.
    motions : tuple of Motion
        The six motions and how well each is pinned.
    check : Check
        By points that took no part in the fit.
    others : tuple of OtherPose
        The next best distinct poses, best first; none when picked pairs were given.
    margin : float
        1 - (score of the best other pose) / (own score); 1 when there is none.
    method : str
        "automatic" or "pairs".
    pair_misses_mm : tuple of float
        What is left at each picked pair.
    notes : tuple of str
    """

    matrix: Float
    rms_mm: float
    p95_mm: float
    overlap: float
    noise_mm: float
    score: float
    motions: tuple[Motion, ...]
    check: Check
    others: tuple[OtherPose, ...]
    margin: float
    method: str
    pair_misses_mm: tuple[float, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Scans:
    """Both scans as centred clouds with trees, and who takes part in the fit.

    Attributes
    ----------
    base, impression : Ready
    base_middle, impression_middle : (3,) float, mm
    base_fit, impression_fit, base_held, impression_held : Cloud
    size : float, mm
    """

    base: Ready
    impression: Ready
    base_middle: Float
    impression_middle: Float
    base_fit: Cloud
    impression_fit: Cloud
    base_held: Cloud
    impression_held: Cloud
    size: float

    def in_scans(self, centred: Float) -> Float:
        """Return a pose of the centred clouds as one of the scans."""
        turn = centred[:3, :3]
        return rigid(turn, self.base_middle + centred[:3, 3] - turn @ self.impression_middle)

    def in_clouds(self, matrix: Float) -> Float:
        """Return a pose of the scans as one of the centred clouds."""
        turn = matrix[:3, :3]
        return rigid(turn, turn @ self.impression_middle + matrix[:3, 3] - self.base_middle)


def prepare(base: TriMesh, impression: TriMesh, seed: int) -> Scans:
    """Return both scans ready for fitting.

    Raises
    ------
    ScanError
        When a scan is too small, or their sizes do not go together.
    """
    rng = np.random.default_rng(seed)
    for mesh, name in ((base, "base scan"), (impression, "impression scan")):
        if len(mesh.faces) < 20 or not mesh.area > 0:
            raise ScanError(f"The {name} has {len(mesh.faces)} triangles: too few to align.", hint="Check the file.")
    sizes = [float(np.sqrt(mesh.area)) for mesh in (base, impression)]
    ratio = sizes[1] / sizes[0]
    if not 1.0 / 3.0 < ratio < 3.0:
        raise ScanError(
            f"The impression scan is {ratio:.2g} times the size of the base scan ({sizes[1]:.0f} against "
            f"{sizes[0]:.0f} mm, root of their surfaces).",
            hint="Check the units and the check lengths of both scans.",
        )
    # 150 cells along the root of the surface: some 20,000 points a scan; never finer than scan noise is wide.
    cell = float(np.clip(sizes[0] / 150.0, 0.5, 5.0))
    ready, middles, parts = [], [], []
    for mesh, name in ((base, "base scan"), (impression, "impression scan")):
        cloud = make_cloud(mesh, cell, rng, name)
        middle = cloud.points.mean(axis=0)
        cloud = Cloud(cloud.points - middle, cloud.normals, cloud.is_edge, cell)
        fit, held = split_held_back(cloud, HELD_BACK, rng)
        ready.append(make_ready(cloud))
        middles.append(middle)
        parts.append((cloud.taken(fit), cloud.taken(held)))
    size = float(np.sqrt(np.square(ready[0].cloud.points).sum(axis=1).mean()))
    return Scans(ready[0], ready[1], middles[0], middles[1], parts[0][0], parts[1][0], parts[0][1], parts[1][1], size)


def align_scans(base: TriMesh, impression: TriMesh, *, seed: int = 0) -> Steps[Alignment]:
    """Find the pose of the impression scan on the base scan from nothing.

    Parameters
    ----------
    base, impression : TriMesh
        Cleaned, consistently turned, in mm after scale correction; may be open, in any pose.
    seed : int
        Of the points drawn.

    Returns
    -------
    Alignment

    Raises
    ------
    ScanError
        When a scan is too small or the sizes do not go together.
    SolveError
        When several distinct poses fit nearly as well, a motion is loose, or nothing fits.
    """
    yield Progress(0.0, "Preparing both scans")
    scans = prepare(base, impression, seed)
    candidates = yield from _search(scans)
    yield Progress(0.75, f"Refining {len(candidates)} poses")
    fits: list[tuple[float, Fit]] = []
    base_at, impression_at = scans.base_fit.taken(slice(0, 3000)), scans.impression_fit.taken(slice(0, 3000))
    tolerance = 0.0
    for rank, start in enumerate(candidates):
        fit = refine(scans.base, scans.impression, start, scans.size, base_at=base_at, impression_at=impression_at)
        tolerance = tolerance or scoring_tolerance(fit.noise_mm)
        value = explained(scans.base, scans.impression, fit.matrix, tolerance, base_at, impression_at)[0]
        fits.append((value, fit))
        yield Progress(0.75 + 0.15 * (rank + 1) / len(candidates), "Refining poses")
    fits.sort(key=lambda found: -found[0])
    best = fits[0][1]
    yield Progress(0.9, "Refining the best pose on all points")
    fit = refine(
        scans.base,
        scans.impression,
        best.matrix,
        scans.size,
        base_at=scans.base_fit,
        impression_at=scans.impression_fit,
        start_width=max(0.5, best.width_mm),
    )
    points = scans.impression.cloud.points[:: max(1, len(scans.impression.cloud.points) // 500)]
    others: list[OtherPose] = []
    taken = [fit.matrix]
    apart = distinct_mm(scans)
    for value, other in fits[1:]:
        if all(motion_between(other.matrix, known, points) > apart for known in taken):
            taken.append(other.matrix)
            turn = rotation_angle_deg(other.matrix[:3, :3] @ fit.matrix[:3, :3].T)
            gone = motion_between(other.matrix, fit.matrix, points)
            others.append(OtherPose(scans.in_scans(other.matrix), value, gone, turn))
    yield Progress(0.95, "Checking with held-back points")
    result, loosest = judge(base, impression, scans, fit, tolerance, others, "automatic", (), ())
    _refuse_if_unsure(result, loosest)
    return result


def scoring_tolerance(noise: float) -> float:
    """Return the gap, mm, up to which two points count as one surface: three standard deviations of the noise, mm."""
    return max(0.25, 3.0 * noise)


def distinct_mm(scans: Scans) -> float:
    """Return the mean motion of the surface, mm, from which two poses count as two: 2 % of the part, at least 1 mm.

    Common practice, no source: below it, two finds are one pose seen through noise.
    """
    return max(1.0, 0.02 * scans.size)


def _search(scans: Scans) -> Steps[list[Float]]:
    yield Progress(0.05, "Building the nearest-point grids")
    margin = 0.25 * scans.size
    pair = Pair(
        make_grid(scans.base.cloud, 500_000, margin),
        make_grid(scans.impression.cloud, 500_000, margin),
        scans.base_fit.taken(slice(0, 3000)),
        scans.impression_fit.taken(slice(0, 3000)),
        scans.size,
    )
    # Widths follow the part: 25 mm was right for a seat of 135 mm root-mean-square radius.
    wide = 0.18 * scans.size
    found: Poses | None = None
    turns = even_rotations(STARTS)
    rounds = 6
    for part in range(rounds):
        yield Progress(0.1 + 0.5 * part / rounds, "Trying poses from everywhere")
        some = turns[part::rounds]
        ran = descend(pair, Poses(some, np.zeros((len(some), 3), np.float32)), 120, 120, 12, wide, 0.16 * wide)
        found = ran if found is None else found.joined(ran)
    assert found is not None
    found = found.taken(np.argsort(-score(pair, found, 400, 400, 0.022 * scans.size), kind="stable"))
    points = scans.impression_fit.points[:100]
    kept = distinct(found.taken(slice(0, 500)), points, 0.04 * scans.size, 100)
    yield Progress(0.62, f"Looking closer at {len(kept)} poses")
    close = descend(pair, found.taken(kept), 600, 600, 15, 0.06 * scans.size, 1.0)
    close = close.taken(np.argsort(-score(pair, close, 3000, 3000, 1.5), kind="stable"))
    kept = distinct(close, points, 0.02 * scans.size, 10)
    return [
        rigid(close.rotation[index].astype(np.float64), close.translation[index].astype(np.float64)) for index in kept
    ]


def judge(
    base: TriMesh,
    impression: TriMesh,
    scans: Scans,
    fit: Fit,
    tolerance: float,
    others: list[OtherPose],
    method: str,
    pair_misses: tuple[float, ...],
    notes: tuple[str, ...],
) -> tuple[Alignment, str]:
    """Return the alignment with its evidence, and its loosest motion in words (empty when all are pinned)."""
    gaps = []
    for match in match_both(
        scans.base, scans.impression, fit.matrix, tolerance + 5.0, scans.base_fit, scans.impression_fit
    ):
        gaps.append(match.gap[match.is_seen & (np.abs(match.gap) < tolerance)])
    gap = np.abs(np.concatenate(gaps)) if sum(map(len, gaps)) else np.array([np.inf])
    value, overlap, _ = explained(
        scans.base, scans.impression, fit.matrix, tolerance, scans.base_fit, scans.impression_fit
    )
    motions, loosest = pinned_motions(
        scans.base, scans.impression, fit, scans.size, scans.base_fit, scans.impression_fit
    )
    held = [
        Cloud(moved(rigid(np.eye(3), middle), cloud.points), cloud.normals, cloud.is_edge, cloud.cell)
        for cloud, middle in (
            (scans.base_held, scans.base_middle),
            (scans.impression_held, scans.impression_middle),
        )
    ]
    matrix = scans.in_scans(fit.matrix)
    # Triangles carry the scan's whole noise, averaged points about half of it: twice the tolerance.
    check = check_held_back(base, impression, matrix, held[0], held[1], 2.0 * tolerance)
    margin = 1.0 - (max(0.0, others[0].score) / value if value > 0 else 1.0) if others else 1.0
    alignment = Alignment(
        matrix=matrix,
        rms_mm=float(np.sqrt(np.square(gap).mean())),
        p95_mm=float(np.quantile(gap, 0.95)),
        overlap=overlap,
        noise_mm=fit.noise_mm,
        score=value,
        motions=motions,
        check=check,
        others=tuple(others[:8]),
        margin=margin,
        method=method,
        pair_misses_mm=pair_misses,
        notes=notes,
    )
    return alignment, loosest


_ADVICE = "Pick three or more point pairs on both scans (screw heads, corners, pen marks) and align by pairs."


def _refuse_if_unsure(found: Alignment, loosest: str) -> None:
    if found.score < LEAST_SCORE:
        raise SolveError(
            f"No pose fits: the best explains {100 * max(0.0, found.score):.0f} % of the two scans.",
            hint="Check that both scans show the same base at the same scale. " + _ADVICE,
        )
    rivals = [other for other in found.others if other.score > RIVAL * found.score]
    if rivals:
        first = rivals[0]
        loose = f" Loose motion: {loosest}." if loosest else ""
        raise SolveError(
            f"{len(rivals) + 1} distinct poses fit the scans nearly as well (the second within "
            f"{100 * (1 - first.score / found.score):.1f} %); they differ by a turn of {first.turn_deg:.0f} degrees "
            f"and {first.apart_mm:.0f} mm.{loose}",
            hint=_ADVICE,
        )
    if loosest:
        raise SolveError(f"The base does not pin the impression down: {loosest} stays loose.", hint=_ADVICE)
