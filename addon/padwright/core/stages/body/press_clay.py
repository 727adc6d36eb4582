"""A body pressed into virtual clay until the load is carried."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from ...base.errors import SolveError
from ...base.mesh import Bool, Float
from .balance import balance, is_inside
from .clay_bed import ClayBed
from .clay_ways import EDGE, way_to_edge
from .flesh import Flesh
from .yielding import FleshOnClay

MN_PER_N = 1000.0
"""kPa times mm2 is mN."""

_DEEPEST_SHARE = 0.002
"""The deepest imprint is the mean over this share of the contact, so that no spike of a scan sets it. Our choice."""

_MOST_ROUNDS, _SETTLED = 60, 2e-3
"""How often clay that heaps up is worked out anew from where it is left thin, and the change of its pressure, as a
share, that ends it."""

_LEAST_LEFT = 0.02  # of the clay's thickness: how thin it may be where its way out is worked out

_DEPTH_TOLERANCE_MM = 0.005
_STRENGTH_TOLERANCE = 1e-9
_MOST_STEPS = 20


@dataclass(frozen=True, eq=False)
class BodyOnClay:
    """What is pressed, on what: all that a balance needs."""

    bed: ClayBed
    height_mm: Float  # (n,); of the body's lowest place as it was laid, over each place of the clay; infinite: none
    thickness_mm: float  # of the clay as laid
    force_n: float
    flesh: Flesh | None
    heaping: float  # 0: the clay bears evenly; 1: it sticks to film and base and heaps its pressure up
    squeezed_before_kpa: float = 0.0  # what pressed on the flesh while it was scanned
    point: Float | None = None  # (2,), where the force acts in the bed's plane; None: the body moves straight

    def coarser(self) -> BodyOnClay:
        """Return it on every second place of the grid each way."""
        whole = np.full(self.bed.is_clay.shape, np.inf)
        whole[self.bed.is_clay] = self.height_mm
        bed = self.bed.coarser()
        return replace(self, bed=bed, height_mm=whole[::2, ::2][bed.is_clay])


@dataclass(frozen=True, eq=False)
class Imprint:
    """Where the body came to rest; the arrays, (n,), are over the places of the clay."""

    strength_kpa: float  # shear strength of the clay
    depth_mm: Float  # of the imprint
    pressure_kpa: Float
    is_touched: Bool
    motion: Float  # (1 or 3,): mm along the press direction, then by two turns at `reach_mm` from the load point
    reach_mm: float
    point: Float  # (2,), where the force acts
    imbalance: float  # largest part of the load left over
    deepest_mm: float
    flesh_squeezed_mm: float  # mean over what is touched
    place_mm2: float  # area of a place

    @property
    def contact_cm2(self) -> float:
        """Area that the body touches, across the press direction."""
        return float(self.is_touched.sum()) * self.place_mm2 / 100.0

    @property
    def force_n(self) -> float:
        """Pressure times area."""
        return float(self.pressure_kpa.sum()) * self.place_mm2 / MN_PER_N

    @property
    def mean_kpa(self) -> float:
        """Force over contact."""
        return float(self.pressure_kpa[self.is_touched].mean())

    @property
    def peak_kpa(self) -> float:
        """99.5th percentile over the contact, as the load check tells peaks."""
        return float(np.percentile(self.pressure_kpa[self.is_touched], 99.5))

    @property
    def tilt_deg(self) -> float:
        """How far the body turned."""
        return float(np.degrees(np.arctan(np.linalg.norm(self.motion[1:]) / self.reach_mm)))

    def sunk(self, flat: Float) -> Float:
        """Return how far the body moved along the press direction over places of the plane, (k, 2): (k,), mm."""
        arm = (flat - self.point) / self.reach_mm
        return np.asarray(self.motion[0] + arm @ self.motion[1:] if len(self.motion) == 3 else
                          np.full(len(flat), self.motion[0]))  # fmt: skip


def press_to_depth(body: BodyOnClay, depth_mm: float) -> Imprint:
    """Press until the imprint is so deep, mm, in clay just strong enough to carry the load then.

    Raises SolveError where no clay does that.
    """
    return _settled(body, depth_mm, None)


def press_by_strength(body: BodyOnClay, strength_kpa: float) -> Imprint:
    """Press into clay of a shear strength, kPa, until it carries the load; raises SolveError where it never does."""
    return _settled(body, None, strength_kpa)


def _settled(body: BodyOnClay, depth_mm: float | None, strength_kpa: float | None) -> Imprint:
    """Balance the body, then work out what holds the clay back anew, until both agree."""
    work = _Work(body)
    far = np.zeros(work.count)
    found: Imprint | None = None
    for _ in range(_MOST_ROUNDS):
        shape = 2.0 * (EDGE + body.heaping * far)
        found = work.to_depth(shape, depth_mm) if depth_mm is not None else work.by_strength(shape, strength_kpa or 0.0)
        if body.heaping == 0.0:
            break
        left = np.maximum(body.thickness_mm - found.depth_mm, _LEAST_LEFT * body.thickness_mm)
        anew = way_to_edge(body.bed.clay_mesh, left, found.is_touched.astype(np.float64))
        moved = (0.0 if anew is None else anew) - far
        far = far + 0.5 * moved
        if float(np.abs(moved[found.is_touched]).mean()) < _SETTLED * float((EDGE + far[found.is_touched]).mean()):
            break
    assert found is not None
    return found


class _Work:
    """One body on one bed, solved again and again, each time from where the last one ended."""

    def __init__(self, body: BodyOnClay) -> None:
        self.body, bed = body, body.bed
        self.count = len(body.height_mm)
        self.some = np.flatnonzero(np.isfinite(body.height_mm))
        top = bed.top_mm[bed.is_clay]
        self.gap = (body.height_mm - top)[self.some]
        self.area = np.full(len(self.some), bed.step_mm**2)
        self.force = body.force_n * MN_PER_N
        flat = bed.flat[self.some]
        self.point = flat.mean(axis=0) if body.point is None else body.point
        arm = flat - self.point
        self.reach = max(float(np.linalg.norm(arm, axis=1).max()), 1e-9)
        ones = np.ones((len(flat), 1))
        self.lever = ones if body.point is None else np.concatenate([ones, arm / self.reach], axis=1)
        if body.point is not None and not is_inside(arm / self.reach, np.ones(len(arm), dtype=bool)):
            raise SolveError(
                f"The load acts {float(np.linalg.norm(arm, axis=1).min()):.0f} mm beside all of the body that lies "
                "over the clay: it would tip over.",
                hint="Move load.point under the body, or leave it out: then the body comes down straight.",
            )
        self.motion: Float | None = None
        self.before_mm = 0.0
        if body.flesh is not None and body.squeezed_before_kpa > 0.0:
            self.before_mm = float(body.flesh.squeezed_mm(np.array([body.squeezed_before_kpa]))[0])

    def by_strength(self, shape: Float, strength_kpa: float) -> Imprint:
        """Return the imprint in clay that gives way at strength times shape, (n,), kPa."""
        found = self._balanced(shape, strength_kpa)
        if found is None:
            most = strength_kpa * float(shape[self.some] @ self.area) / MN_PER_N
            raise SolveError(
                f"Clay with a shear strength of {strength_kpa:.3g} kPa never carries {self.body.force_n:.0f} N: where "
                f"the body lies over it, it bears {most:.0f} N at the most.",
                hint="Make impression.clay_strength_kpa larger, or leave it out and give the depth of the imprint, "
                "impression.imprint_depth_mm.",
            )
        return found

    def to_depth(self, shape: Float, depth_mm: float) -> Imprint:
        """Return the imprint of a depth; the stronger the clay, the more it carries at that depth."""
        if self.body.point is not None:
            return self._turned_to_depth(shape, depth_mm)

        down = np.array([float(self.gap.min()) + depth_mm]) if self.motion is None else self.motion

        def at(strength: float) -> Imprint:
            """Return the straight way down to the depth in clay of a strength, whatever it carries."""
            nonlocal down
            law = self._law(strength * shape)
            for _ in range(_MOST_STEPS):
                one = self._imprint(law, down, strength, 0.0)
                if abs(one.deepest_mm - depth_mm) <= 0.1 * _DEPTH_TOLERANCE_MM:
                    break
                down = down + (depth_mm - one.deepest_mm)  # the imprint deepens as far as the body comes down
            return one

        def left_over(strength: float) -> float:
            return at(strength).force_n / self.body.force_n - 1.0

        weak = self.force / float(shape[self.some] @ self.area)  # all of the clay would just carry it
        hard = 2.0 * weak
        while left_over(hard) < 0.0:
            hard *= 2.0
        found = at(float(brentq(left_over, 0.5 * weak, hard, rtol=_STRENGTH_TOLERANCE)))
        self.motion = found.motion
        return replace(found, imbalance=abs(found.force_n / self.body.force_n - 1.0))

    def _turned_to_depth(self, shape: Float, depth_mm: float) -> Imprint:
        """Return the imprint of a depth of a body that turns until moments balance."""
        low = self.force / float(shape[self.some] @ self.area)  # below that nothing carries the load
        weak, hard = low, 4.0 * low
        best = self._balanced(shape, hard)
        while best is None or best.deepest_mm > depth_mm:
            weak, hard = hard, 2.0 * hard
            best = self._balanced(shape, hard)
        while hard - weak > _STRENGTH_TOLERANCE * hard and abs(best.deepest_mm - depth_mm) > _DEPTH_TOLERANCE_MM:
            middle = 0.5 * (weak + hard)
            found = self._balanced(shape, middle)
            weak, hard = (middle, hard) if found is None or found.deepest_mm > depth_mm else (weak, middle)
            if found is not None and abs(found.deepest_mm - depth_mm) < abs(best.deepest_mm - depth_mm):
                best = found
        if abs(best.deepest_mm - depth_mm) > 0.02 * depth_mm:
            raise SolveError(
                f"No clay carries {self.body.force_n:.0f} N at load.point with an imprint {depth_mm:.1f} mm deep: "
                f"{best.deepest_mm:.1f} mm came nearest.",
                hint="Move load.point towards the middle of the body, or leave it out.",
            )
        return best

    def _law(self, most_kpa: Float) -> FleshOnClay:
        return FleshOnClay(self.body.flesh, most_kpa[self.some], self.before_mm)

    def _balanced(self, shape: Float, strength_kpa: float) -> Imprint | None:
        """Return the imprint in clay of a strength; None where it does not carry the load."""
        most = strength_kpa * shape
        if float(most[self.some] @ self.area) <= self.force:
            return None
        law = self._law(most)
        start = self.motion
        if start is None:
            start = np.zeros(self.lever.shape[1])
            start[0] = float(np.percentile(self.gap, 10.0))
        reach = 0.2 * (self.body.thickness_mm + float(law.gives_mm.mean()))
        found = balance(law, self.area, self.gap, self.lever, self.force, start, radius=reach, most=300)
        if not found.is_balanced:
            return None
        self.motion = found.motion
        return self._imprint(law, found.motion, strength_kpa, found.residual)

    def _imprint(self, law: FleshOnClay, motion: Float, strength_kpa: float, imbalance: float) -> Imprint:
        sinkage = self.lever @ motion - self.gap
        stress, _, _, imprint = law.respond(sinkage)
        depth, pressure = np.zeros(self.count), np.zeros(self.count)
        depth[self.some], pressure[self.some] = imprint, stress
        is_touched = np.zeros(self.count, dtype=bool)
        is_touched[self.some] = sinkage > 0.0
        squeezed = (np.maximum(sinkage, 0.0) - imprint)[sinkage > 0.0]
        few = max(1, round(_DEEPEST_SHARE * int(is_touched.sum())))
        return Imprint(
            strength_kpa=strength_kpa,
            depth_mm=depth,
            pressure_kpa=pressure,
            is_touched=is_touched,
            motion=motion,
            reach_mm=self.reach,
            point=self.point,
            imbalance=imbalance,
            deepest_mm=float(np.partition(depth, -few)[-few:].mean()),
            flesh_squeezed_mm=float(squeezed.mean()) if self.body.flesh is not None else 0.0,
            place_mm2=float(self.area[0]),
        )
