"""One segment of a folded wall, pressed as far as it goes: a rod that bends and shortens, in a table.

The segment has length 1 and bending stiffness E' I = 1; both ends keep their angle to the press (foot and fold, by
mirror symmetry), one may move sideways. A force f runs along the press through it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.ndimage import map_coordinates
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc, roots_legendre

from ....base.mesh import Float
from .softening import Softening

_SLOPE_SCALE, _SLOPES = np.radians(2.0), 18
_LEAST_SLOPE, _MOST_SLOPE = np.radians(0.05), np.radians(80.0)
_THINNEST, _THICKEST, _SLENDERNESSES = 0.01, 0.8, 16
_STRAIN_SCALE, _MOST_STRAIN, _STRAINS = 0.002, 0.95, 44
_TURNED = np.radians(92.0)  # how far the middle of a segment is followed, from upright
_STEPS = 30
_POINTS, _WEIGHTS = roots_legendre(16)


def solve_segment(slope: Float, slenderness: Float, turned: Float, law: Softening) -> tuple[Float, ...]:
    """Return force, strain along the press and strain of the outer fibres at the ends of a segment.

    `slope` is its angle to the press at rest, `slenderness` thickness over length, `turned` the angle its middle has
    come to; radians, arrays that broadcast.

    Notes
    -----
    With phi the angle of the strip to the press, M' = -f sin phi. Multiplied by the curvature this has the integral
    U(phi') = f (cos phi - cos phi_m), U the complementary energy of bending, phi_m where the curvature is 0: in the
    middle. So the length is one integral over phi, from which f follows, and the height another. On top of it the strip
    shortens by slenderness^2/12 f, counted along the press [own derivation; without softening it is the elastica, in
    closed form by elliptic integrals].
    """
    slope, slenderness, turned = np.broadcast_arrays(slope, slenderness, turned)
    slope, slenderness, turned = (each[..., None] for each in (slope, slenderness, turned))
    angle = 0.25 * np.pi * (_POINTS + 1.0)
    phi = slope + (turned - slope) * np.sin(angle)
    weight = 0.25 * np.pi * _WEIGHTS * np.cos(angle) * (turned - slope)
    drop = 2.0 * np.sin(0.5 * (turned + phi)) * np.sin(0.5 * (turned - phi))  # cos phi - cos phi_m

    def excess(log_force: Float) -> Float:
        """Logarithm of the half length that a force leaves, over one half."""
        bend = law.curvature(np.exp(log_force)[..., None] * drop, slenderness)
        return np.asarray(np.log(2.0 * (weight / np.maximum(bend, 1e-300)).sum(-1)))

    last = np.log(np.broadcast_to(10.0, drop.shape[:-1]))
    left_over = excess(last)
    log_force = last + 2.0 * left_over  # exact where nothing but bending counts
    for _ in range(12):
        now = excess(log_force)
        slant = np.where(np.abs(log_force - last) > 1e-12, (now - left_over) / (log_force - last + 1e-300), -0.5)
        step = np.clip(-now / np.clip(slant, -2.0, -0.25), -2.0, 2.0)
        last, left_over, log_force = log_force, now, log_force + step
        if float(np.abs(step).max()) < 1e-10:
            break
    force = np.exp(log_force)[..., None]
    bend = law.curvature(force * drop, slenderness)
    # cos(slope) - z', so that small strains keep their digits.
    lost = 2.0 * np.sin(0.5 * (slope + phi)) * np.sin(0.5 * (phi - slope))
    lost = lost + force * slenderness**2 / 12.0
    strain = 2.0 * (weight * lost / bend).sum(-1) / np.cos(slope[..., 0])
    whole = 2.0 * np.sin(0.5 * (turned + slope)) * np.sin(0.5 * (turned - slope))
    end = law.curvature(force * whole, slenderness)
    return force[..., 0], strain, 0.5 * (slenderness * end)[..., 0]


@dataclass(frozen=True, eq=False)
class SegmentTable:
    """Force and strain of the outer fibres of a segment by slope, slenderness and strain; linear between nodes."""

    log_secant: Float  # (slopes, slendernesses, strains); logarithm of force over strain
    log_outer: Float  # the same; of the outer fibres' strain over strain

    def _look_up(self, table: Float, slope: Float, slenderness: Float, strain: Float) -> Float:
        slope, slenderness, strain = np.broadcast_arrays(slope, slenderness, strain)
        places = np.stack([_at_slope(slope), _at_slenderness(slenderness), _at_strain(strain)])
        return np.asarray(np.exp(map_coordinates(table, places, order=1, mode="nearest", prefilter=False)))

    def secant(self, slope: Float, slenderness: Float, strain: Float) -> Float:
        """Return force over strain; arrays that broadcast, radians."""
        return self._look_up(self.log_secant, slope, slenderness, strain)

    def outer(self, slope: Float, slenderness: Float, strain: Float) -> Float:
        """Return the strain of the outer fibres at a segment's ends."""
        return self._look_up(self.log_outer, slope, slenderness, strain) * strain


def _at_slope(slope: Float) -> Float:
    start = np.arcsinh(_LEAST_SLOPE / _SLOPE_SCALE)
    span = np.arcsinh(_MOST_SLOPE / _SLOPE_SCALE) - start
    return np.asarray((np.arcsinh(slope / _SLOPE_SCALE) - start) / span * (_SLOPES - 1))


def _at_slenderness(slenderness: Float) -> Float:
    return np.asarray(np.log(slenderness / _THINNEST) / np.log(_THICKEST / _THINNEST) * (_SLENDERNESSES - 1))


def _at_strain(strain: Float) -> Float:
    return np.asarray(np.arcsinh(strain / _STRAIN_SCALE) / np.arcsinh(_MOST_STRAIN / _STRAIN_SCALE) * (_STRAINS - 1))


def _slope_nodes() -> Float:
    ends = np.arcsinh(np.array([_LEAST_SLOPE, _MOST_SLOPE]) / _SLOPE_SCALE)
    return np.asarray(_SLOPE_SCALE * np.sinh(np.linspace(ends[0], ends[1], _SLOPES)))


@lru_cache(maxsize=16)
def segment_table(law: Softening) -> SegmentTable:
    """Return the table of a solid that softens so; it is made once, in some tenths of a second."""
    slopes = _slope_nodes()[:, None, None]
    slendernesses = np.geomspace(_THINNEST, _THICKEST, _SLENDERNESSES)[None, :, None]
    turned = slopes + (_TURNED - slopes) * np.geomspace(3e-6, 1.0, _STEPS)
    force, strain, outer = solve_segment(slopes, slendernesses, turned, law)
    nodes = _STRAIN_SCALE * np.sinh(np.linspace(0.0, np.arcsinh(_MOST_STRAIN / _STRAIN_SCALE), _STRAINS))
    wanted = np.log(np.maximum(nodes, 1e-6))
    secants, outers = np.zeros((2, _SLOPES, _SLENDERNESSES, _STRAINS))
    for place in np.ndindex(_SLOPES, _SLENDERNESSES):
        # A rod that softens may carry less as it goes on; a curve must not fall, and the load check's do not.
        rising = np.log(np.maximum.accumulate(force[place])), np.log(np.maximum.accumulate(outer[place]))
        known = np.log(np.maximum.accumulate(strain[place]) * (1.0 + 1e-12 * np.arange(_STEPS)))
        below = wanted < known[0]  # all is in proportion there
        for table, log in ((secants, rising[0]), (outers, rising[1])):
            table[place] = np.where(below, log[0] - known[0], np.interp(wanted, known, log) - wanted)
    return SegmentTable(secants, outers)


def elastica_strain(slope: Float, turned: Float) -> Float:
    """Return the strain of a segment that only bends, its middle turned to an angle; radians, arrays that broadcast.

    Notes
    -----
    The elastica with sin(phi/2) = k sin(psi): 1 - (2 (E(k) - E(psi, k)) / (K(k) - F(psi, k)) - 1) / cos(slope), where
    k = sin(turned/2), sin(psi) = sin(slope/2) / k (own derivation; any text on large deflections).
    """
    parameter = np.sin(0.5 * turned) ** 2
    start = np.arcsin(np.clip(np.sin(0.5 * slope) / np.sqrt(parameter), 0.0, 1.0))
    length = ellipk(parameter) - ellipkinc(start, parameter)
    height = 2.0 * (ellipe(parameter) - ellipeinc(start, parameter)) / length - 1.0
    return np.asarray(1.0 - height / np.cos(slope))


_WIDTHS = 60


@lru_cache(maxsize=1)
def _turned_strains() -> Float:
    """Return `elastica_strain` over slopes and the cosine of the middle, (slopes, widths)."""
    slope = np.linspace(_LEAST_SLOPE, _MOST_SLOPE, _WIDTHS)[:, None]
    turned = np.arccos(np.linspace(0.0, 1.0, _WIDTHS))[None, :]
    return elastica_strain(slope, np.maximum(turned, slope + 1e-3))


def turned_strain(slope: Float, cosine: Float) -> Float:
    """Return the strain at which the cosine of a segment's middle has come down to a value, (n,)."""
    places = np.stack([(slope - _LEAST_SLOPE) / (_MOST_SLOPE - _LEAST_SLOPE), np.asarray(cosine)]) * (_WIDTHS - 1)
    return np.asarray(map_coordinates(_turned_strains(), places, order=1, mode="nearest", prefilter=False))
