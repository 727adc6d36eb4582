"""How the scan of a print lies on the part: found from any pose, held against rivals and its mirror image."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.distance import pdist

from ...base.errors import InputError, SolveError
from ...base.mesh import Float, Int, TriMesh
from ...base.progress import Progress, Steps, nested
from ...geometry.frames import motion_between, moved, rigid, rotation_angle_deg
from ...geometry.query import NearestSurface
from ..alignment.candidates import SMALL_TURN_DEG, turn_words
from ..alignment.poses import likely_poses
from ..alignment.prepared_scans import prepare
from ..alignment.rivals import ALIKE_SHARE, BLOCK, SURE
from .fit import SAMPLES, PartOnBed, PrintFit, ScanSample, as_asked, fit_print, gaps_of, scan_sample

MOST_OFF = 0.012
"""Gaps that stay, as a share of the part's root-mean-square radius, above which the scan shows another thing, 0.7 mm on
a pad of 17 cm (own measurement, docs/models/compare.md)."""

LEAST_SHARE = 0.4
"""Least share of the scan's surface, and of the part's that it can show, that lies on the other (the same)."""

_START, _START_MM = 0.06, 2.0
"""Gaps that take part at first: a share of the part's radius and so many mm more."""

_FEWEST, _FEW = 800, 2500
_HOPELESS = 2.5
"""A pose of one size whose gaps stay so many times what may be is not looked at closer: bend and sizes apart explain no
more (own choice)."""
_SIZES_APART = 0.03
"""The scan's size counts as another than the part's from here on, and both are tried (common practice, no source)."""

_MIRROR = np.diag([-1.0, 1.0, 1.0, 1.0])


@dataclass(frozen=True, eq=False)
class PrintPose:
    """One way in which the scan lies on the part."""

    fit: PrintFit  # of the scan times `factor`
    factor: float  # by what the scan was multiplied before, so that it has about the part's size
    is_mirrored: bool  # of the scan's mirror image (x turned over before anything else)
    values: Float  # (n,); what each point, of the scan and of the part, adds to the score
    is_counted: Float  # (n,); 0 where the other was not seen
    score: float
    is_rival: bool = False  # the scan cannot tell it from the best


@dataclass(frozen=True, eq=False)
class FoundPrint:
    """How the scan lies on the part."""

    taken: PrintPose
    number: int  # of the pose taken, from 1
    poses: tuple[PrintPose, ...]  # the best and its rivals
    doubts: tuple[str, ...]


def find_print(part: PartOnBed, scan: TriMesh, *, seed: int = 0, pose: int | None = None) -> Steps[FoundPrint]:
    """Find how a scan of the print, mm, turned outward, lies on the part; `pose` takes a rival by its number.

    Raises SolveError when it fits no way, or only mirrored; InputError when there is no pose of that number.
    """
    sample, asked, every = yield from try_poses(part, scan, seed)
    if not every:
        raise _no_fit("no pose fits at all")
    yield Progress(0.95, "Holding poses against each other")
    blocks = _blocks(part, sample, asked)
    best = every[0]
    own_best = next((each for each in every if not each.is_mirrored), best)
    if best.is_mirrored and _beside(best, own_best, blocks, part).is_rival:
        best = own_best  # fits as well: of two that cannot be told apart the one that is not mirrored
    judged = [best, *(_beside(best, each, blocks, part) for each in every if each is not best)]
    _refuse_misfit(best, part)
    if best.is_mirrored:
        raise SolveError(
            "The scan shows the mirror image of the part.",
            hint="Was the part for the other side printed (part.mirror), or does the scan program mirror? Compare with "
            "the folder of the part that was printed, or save the scan again without mirroring.",
        )
    fitting = [each for each in judged if each is best or each.is_rival]
    own = [each for each in fitting if not each.is_mirrored]
    number = 1 if pose is None else pose
    if not 1 <= number <= len(own):
        there = "only pose 1" if len(own) == 1 else f"poses 1 to {len(own)}"
        raise InputError(f"Pose {number} was asked for, but {there} fit this scan.", hint="Leave --pose out.")
    return FoundPrint(own[number - 1], number, tuple(own), _doubts(part, own, fitting, number))


def try_poses(part: PartOnBed, scan: TriMesh, seed: int) -> Steps[tuple[ScanSample, ScanSample, list[PrintPose]]]:
    """Return samples of the scan and of the part, and all poses tried, the best first, mirrored ones among them."""
    rng = np.random.default_rng(seed)
    sample = scan_sample(scan, SAMPLES, rng)
    asked = scan_sample(part.mesh, SAMPLES // 2, rng)
    trial = _PoseSearch(part, scan, sample, asked, seed, is_mirrored=False)
    over = ScanSample(sample.points * [-1, 1, 1], sample.normals * [-1, 1, 1], sample.spacing_mm)
    mirror_trial = _PoseSearch(part, scan.transformed(_MIRROR), over, asked, seed, is_mirrored=True)
    yield from nested(trial.search(), 0.0, 0.5)
    if trial.is_good:  # an even part fits turned about, or mirrored, where it fits at all
        first = trial.best
        trial.turn(first.fit.matrix, first.factor, -1.0)
        yield Progress(0.6, "Holding the scan against the part's mirror image")
        mirror_trial.turn(first.fit.matrix @ _MIRROR, first.factor, 1.0)
    else:
        yield from nested(mirror_trial.search(), 0.5, 0.95)
    return sample, asked, sorted((*trial.found, *mirror_trial.found), key=lambda each: -each.score)


def _doubts(part: PartOnBed, own: list[PrintPose], fitting: list[PrintPose], number: int) -> tuple[str, ...]:
    told = []
    taken = own[number - 1]
    others = [f"{at}: {_turn_words(part, taken, each)}" for at, each in enumerate(own, 1) if at != number]
    if others:
        told.append(
            f"The scan fits the part {len(own)} ways about as well; pose {number} was taken, the others are "
            f"{'; '.join(others)}. Sizes hold either way; places may be those of the other end or side. If you know "
            "that another is right, take it by its number (--pose)."
        )
    if any(each.is_mirrored for each in fitting):
        told.append(
            "The scan fits the part's mirror image about as well: the part is too even to tell whether the scan is "
            "mirrored, and left from right."
        )
    return tuple(told)


def _no_fit(why: str) -> SolveError:
    return SolveError(
        f"The scan does not show this part: {why}.",
        hint="Is it the scan of this print, and the folder of the part that was printed? Check the scan's unit, and "
        "cut away what is not the print.",
    )


def _refuse_misfit(best: PrintPose, part: PartOnBed) -> None:
    most = MOST_OFF * part.size_mm
    if best.fit.noise_mm > most:
        raise _no_fit(
            f"laid on it as well as can be, half of its surface is off by more than {0.67 * best.fit.noise_mm:.2f} mm "
            f"({0.67 * most:.2f} may be)"
        )
    if best.score < LEAST_SHARE:
        raise _no_fit(
            f"laid on it as well as can be, the two share {100 * max(best.score, 0.0):.0f} % of their surface"
        )


class _PoseSearch:
    """Poses of one scan, or of its mirror image, tried on the part, each with how well it fits."""

    def __init__(
        self, part: PartOnBed, scan: TriMesh, sample: ScanSample, asked: ScanSample, seed: int, *, is_mirrored: bool
    ) -> None:
        self.part, self.scan, self.sample, self.asked = part, scan, sample, asked
        self.seed, self.is_mirrored = seed, is_mirrored
        self.found: list[PrintPose] = []

    @property
    def best(self) -> PrintPose:
        return max(self.found, key=lambda each: each.score)

    @property
    def is_good(self) -> bool:
        """One of the poses shows the part."""
        return any(
            each.score >= LEAST_SHARE and each.fit.noise_mm <= MOST_OFF * self.part.size_mm for each in self.found
        )

    def search(self) -> Steps[None]:
        """Try poses from everywhere, and sizes of the scan until one shows the part."""
        factors = _factors(self.part, self.sample)
        for number, factor in enumerate(factors):
            yield Progress(number / len(factors), "Trying poses from everywhere")
            scans = prepare(self.part.mesh, self.scan.scaled(factor), self.seed)
            for start in (yield from nested(likely_poses(scans), number / len(factors), (number + 0.8) / len(factors))):
                self._settle(scans.in_scans(start), factor)
            if self.is_good:
                return

    def turn(self, matrix: Float, factor: float, sign: float) -> None:
        """Try a pose turned by half a turn (`sign` -1) about the part's axes, or mirrored (1) across their planes."""
        spread = np.cov((self.part.mesh.vertices - self.part.middle).T)
        axes = [*np.linalg.eigh(spread)[1].T, *np.eye(3)[:2]]
        for axis in axes:
            change = sign * (np.eye(3) - 2.0 * np.outer(axis, axis))
            self._settle(rigid(change, self.part.middle - change @ self.part.middle) @ matrix, factor)

    def _settle(self, start: Float, factor: float) -> None:
        part, sample = self.part, self.sample
        sized = ScanSample(sample.points * factor, sample.normals, sample.spacing_mm * factor)
        wide = _START * part.size_mm + _START_MM
        fit = fit_print(part, sized.first(_FEWEST), start, width_mm=wide, with_shape=1, is_rough=True)
        if any(_apart(part, fit, each.fit) < 0.03 * part.size_mm for each in self.found):
            return
        if self.found and fit.noise_mm > _HOPELESS * MOST_OFF * part.size_mm:
            return
        # From a fit of one size the gaps left are those of the ends, a few times the noise.
        wide = max(wide / 2.0, 3.0 * fit.width_mm)
        fit = fit_print(part, sized.first(_FEW), fit.matrix, width_mm=wide, is_rough=True)
        scan = self.scan.scaled(factor)
        self.found.append(_scored(part, scan, sized, self.asked, fit, factor, self.is_mirrored))


def _factors(part: PartOnBed, sample: ScanSample) -> list[float]:
    """Return by what to multiply the scan: 1, and where its longest extent says otherwise, that too."""
    far = [float(pdist(points[:: max(1, len(points) // 1500)]).max()) for points in (part.mesh.vertices, sample.points)]
    ratio = far[0] / far[1]
    return [1.0] if abs(ratio - 1.0) < _SIZES_APART or not 1 / 3 < ratio < 3 else [ratio, 1.0]


def _apart(part: PartOnBed, one: PrintFit, other: PrintFit) -> float:
    corners = part.middle + np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * part.half
    return motion_between(np.linalg.inv(one.matrix), np.linalg.inv(other.matrix), corners)


def _scored(
    part: PartOnBed,
    scan: TriMesh,
    sample: ScanSample,
    asked: ScanSample,
    fit: PrintFit,
    factor: float,
    is_mirrored: bool,
) -> PrintPose:
    """Return the pose with how well it explains both: shares of points within three times the gaps' usual size."""
    tolerance = 3.0 * min(fit.noise_mm, MOST_OFF * part.size_mm)
    gap, _, _, is_alike = gaps_of(part, sample.moved(fit.matrix), fit.values)
    forward = np.where(is_alike, np.maximum(0.0, 1.0 - np.square(gap / tolerance)), 0.0)
    placed = TriMesh(as_asked(moved(fit.matrix, scan.vertices) - part.middle, fit.values) + part.middle, scan.faces)
    near = NearestSurface(placed).find(asked.points)
    normal = placed.face_normals[near.face]
    back_gap = np.einsum("nk,nk->n", asked.points - near.point, normal)
    is_on = np.einsum("nk,nk->n", asked.normals, normal) > 0.5
    backward = np.where(is_on, np.maximum(0.0, 1.0 - np.square(back_gap / tolerance)), 0.0)
    is_border = placed.is_on_border[placed.faces[near.face]].any(axis=1)
    counted = np.concatenate([np.ones(len(gap)), (~is_border).astype(float)])
    share = backward[~is_border].mean() if (~is_border).any() else 0.0
    values = np.concatenate([forward / len(gap), backward / len(backward)])
    return PrintPose(fit, factor, is_mirrored, values, counted, 0.5 * float(forward.mean() + share))


def _blocks(part: PartOnBed, sample: ScanSample, asked: ScanSample) -> Int:
    """Return the block that each point lies in, the scan's, then the part's: neighbors count as one witness."""
    edge = BLOCK * part.size_mm
    place = np.concatenate([np.floor(each.points / edge).astype(np.int64) for each in (sample, asked)])
    which = np.repeat([0, 1], [len(sample.points), len(asked.points)])
    _, number = np.unique(np.column_stack([which, place]), axis=0, return_inverse=True)
    return np.asarray(number.reshape(-1), dtype=np.int32)


def _beside(best: PrintPose, other: PrintPose, blocks: Int, part: PartOnBed) -> PrintPose:
    """Return the other pose with whether the scan tells it from the best: a paired test over blocks."""
    less = np.where((best.is_counted > 0) & (other.is_counted > 0), best.values - other.values, 0.0)
    per_block = np.bincount(blocks, less)
    behind, error = float(per_block.sum()), float(np.sqrt(np.square(per_block).sum()))
    is_rival = behind <= SURE * error and other.score >= ALIKE_SHARE * best.score
    if other.is_mirrored == best.is_mirrored:
        turn = other.fit.matrix[:3, :3] @ best.fit.matrix[:3, :3].T
        if rotation_angle_deg(turn) < SMALL_TURN_DEG and _apart(part, best.fit, other.fit) < 0.05 * part.size_mm:
            is_rival = False  # the same pose, not quite settled
    return replace(other, is_rival=is_rival)


def _turn_words(part: PartOnBed, taken: PrintPose, other: PrintPose) -> str:
    """Return how a pose lies beside the one taken: "turned 180 degrees about its height"."""
    return turn_words(taken.fit.matrix, other.fit.matrix, _axes(part), _apart(part, taken.fit, other.fit))


def _axes(part: PartOnBed) -> Float:
    """Return the part's length, width and height as rows; on the bed they are x and y, the longer first, and z."""
    x, y, z = np.eye(3)
    return np.stack([x, y, z] if part.half[0] >= part.half[1] else [y, -x, z])
