"""The numbered poses an alignment found, in words, and how the person takes one where the scans cannot tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError, SolveError
from ...base.mesh import Float, TriMesh
from ...geometry.frames import rotation_angle_deg

NEAR_AXIS_DEG = 20.0
"""A turn's axis within this angle of one of the part's axes is told by that axis' name (common practice, no source)."""

SMALL_TURN_DEG = 10.0  # below it, two distinct poses differ by a slide more than by a turn; common practice, no source


@dataclass(frozen=True, eq=False)
class Candidate:
    """One pose of the impression on the base, among those that fit."""

    # 1 is the best, then those that fit about as well, then the others, each best first: `[alignment] pose`.
    number: int
    matrix: Float  # (4, 4); impression to base, mm
    # Share of both scans explained, less what contradicts; comparable between poses of one pair of scans only.
    score: float
    explains: float  # its score over the best one's
    # behind, behind_error: how much less than the best it explains where both can be judged, and the standard error of
    # that difference over blocks of neighbors; 0 for the best.
    behind: float
    behind_error: float
    is_rival: bool  # the scans cannot tell it from the best
    apart_mm: float  # mean distance of the impression's surface from where the best pose puts it
    turn_deg: float  # from the best pose
    words: str  # how it lies, for the person: "turned 180 degrees about its length"

    @property
    def sentence(self) -> str:
        """Number, how it lies, and how well it fits, for a list."""
        if self.number == 1:
            return f"{self.number}: {self.words}"
        return f"{self.number}: {self.words}; explains {100.0 * max(0.0, self.explains):.0f} % as much"


class UnsurePoseError(SolveError):
    """Several distinct poses fit; the person can take one.

    Its `candidates` are the best and its rivals, in the order of their numbers, which start at 1 without a gap; with a
    candidate's matrix the `impression` lies on the `base`, both mm.
    """

    def __init__(
        self, message: str, *, hint: str, candidates: tuple[Candidate, ...], base: TriMesh, impression: TriMesh
    ) -> None:
        super().__init__(message, hint=hint)
        self.candidates = candidates
        self.base = base
        self.impression = impression


def turn_words(best: Float, other: Float, axes: Float, apart_mm: float) -> str:
    """Return how a pose lies beside the best one, both (4, 4), impression to base.

    The axes, (3, 3), are the part's length, width and height as rows, in the base's frame; `apart_mm` is the mean
    distance of the surface between both.
    """
    turn = other[:3, :3] @ best[:3, :3].T
    angle = rotation_angle_deg(turn)
    if angle < SMALL_TURN_DEG:
        return f"shifted by {apart_mm:.0f} mm"
    # The axis is the eigenvector to the eigenvalue 1; it is well defined at half a turn too.
    value, vector = np.linalg.eigh(0.5 * (turn + turn.T))
    axis = vector[:, int(np.abs(value - 1.0).argmin())]
    along = axes @ axis
    nearest = int(np.abs(along).argmax())
    about = f"its {('length', 'width', 'height')[nearest]}"
    if np.degrees(np.arccos(min(1.0, float(np.abs(along[nearest]))))) > NEAR_AXIS_DEG:
        about = "a slanted axis"
    # Twice the sine of the angle times the axis; half a turn has no two ways.
    sense = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]]) @ axes[nearest]
    way = " the other way" if sense < 0.0 and angle < 180.0 - SMALL_TURN_DEG else ""
    return f"turned {angle:.0f} degrees{way} about {about}"


def taken(candidates: tuple[Candidate, ...], number: int) -> Candidate:
    """Return the candidate the person asked for.

    Raises InputError when there is none of that number.
    """
    if not 1 <= number <= len(candidates):
        there = "only pose 1" if len(candidates) == 1 else f"poses 1 to {len(candidates)}"
        raise InputError(
            f"Pose {number} was asked for, but {there} fit these scans.",
            hint="Leave the pose out to see which there are.",
        )
    return candidates[number - 1]
