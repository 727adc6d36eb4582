"""What the pad around a narrow contact adds to the columns below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...base.mesh import Bool, Float, Int
from ..material.curves import StressCurve
from .bulging_layers import COLUMN_LIMIT, Bounds, disc_ratio
from .contact_pieces import ContactPiece, contact_pieces
from .load_case import ContactPatch

HELPED_BELOW, UNSURE_BELOW = 2.0, 6.0
"""Widths (`ContactPiece.slenderness`) from which on the pad beside a contact adds nothing to the value, and nothing to
low and high either: own finite elements of flat punches then stand 1 to 20 %, and 0 to 6 %, above columns."""

EDGE_BAND = 0.25
"""Over a band so many thicknesses wide along a contact's edge the pad may bear as a free block: own finite elements of
spheres and cylinders (Poisson's ratio 0.3 and 0.37), which are 7 to 10 % below columns where a is one to four h."""


@dataclass(frozen=True, eq=False)
class Narrow:
    """What narrow contacts add at every point of a patch; rows are low, value and high."""

    stiffer: Float  # (3, n); factor on a column's stiffness
    # (3, n); how many times as fast the body leaves the pad with the distance from the deepest place of a contact: the
    # pad around is drawn down with it.
    drawn: Float
    deeper_mm: Float  # (n,); how much further the deepest place of the nearest contact has come than this one
    pieces: tuple[ContactPiece, ...]

    @property
    def is_unsure(self) -> bool:
        """Whether low and high differ from the value anywhere."""
        return bool((self.stiffer != self.stiffer[1]).any())

    def part(self, index: Int) -> Narrow:
        """Return it for some of the points."""
        return replace(
            self, stiffer=self.stiffer[:, index], drawn=self.drawn[:, index], deeper_mm=self.deeper_mm[index]
        )

    def columns(self, thickness: Float, gap: Float, at: float) -> tuple[Float, Float]:
        """Return lengths and gaps of the columns; `at` goes from low (-1) over the value (0) to high (1)."""
        end = 2 if at > 0.0 else 0
        drawn, stiffer = (each[1] * (each[end] / each[1]) ** abs(at) for each in (self.drawn, self.stiffer))
        return thickness / (stiffer * drawn), gap + (drawn - 1.0) * self.deeper_mm

    def differs(self, other: Narrow | None, is_loaded: Bool) -> float:
        """Return how far the stiffness is from that of another (None: plain columns), as a share, where it bears."""
        stiffness = self.stiffer[1, is_loaded] * self.drawn[1, is_loaded]
        if other is not None:
            stiffness = stiffness / (other.stiffer[1, is_loaded] * other.drawn[1, is_loaded])
        return float(np.abs(np.log(stiffness)).max(initial=0.0))


def narrow_ratio(width: float, curve: StressCurve, ratio: Bounds, open_share: float = 0.0) -> Bounds:
    """Return by how much the pad around a contact stiffens its columns.

    The width is twice the contact's area over its outline, over the pad's thickness; for a disc radius over thickness.
    `ratio` is what standing in a layer adds to the columns (`layer_ratios`). Along `open_share` of the outline the pad
    ends with the contact: there nothing helps, and at worst the columns are those of a disc with free sides.

    Notes
    -----
    A half-space shows a flat disc the stiffness 2 E* / (pi a) for each area, E* = E / (1 - nu^2) (Boussinesq 1885;
    Johnson 1985, chapter 3, cited, not read), columns r E / h: eta is their quotient, and a very narrow contact feels
    the half-space alone. Together they are less than their sum, since the half-space holds the columns, and no less
    than either. Low is the larger, high the sum, the value the root of the sum of squares between: own axisymmetric
    finite elements lie there (spheres and flat punches, half-width 0.14 to 4 thicknesses, Poisson's ratio 0 to 0.37).
    A nearly solid layer resists mostly by how far it must flow, which the half-space does not: there the value is the
    sum. Low also lets the edge spread (`EDGE_BAND`).
    """
    eta = (1.0 - open_share) * _half_space(width, curve, ratio)
    wide = eta * _closes(width, UNSURE_BELOW)
    if curve.poisson > COLUMN_LIMIT:
        return Bounds(1.0 + wide, max(1.0, wide), 1.0 + wide)
    value = float(np.hypot(1.0, eta * _closes(width, HELPED_BELOW)))
    freed = (1.0 - 1.0 / ratio.value) * min(1.0, 2.0 * EDGE_BAND / width) * _closes(width, UNSURE_BELOW)
    ending = max(1.0 - disc_ratio(width, curve.poisson, is_held=False) / ratio.value, freed)
    low = 1.0 - (1.0 - open_share) * freed - open_share * ending
    return Bounds(value, min(value, max(low, wide)), max(value, 1.0 + wide))


def _half_space(width: float, curve: StressCurve, ratio: Bounds) -> float:
    """Return the stiffness of a half-space under a flat disc over that of the columns."""
    return float(2.0 / np.pi / ((1.0 - curve.poisson**2) * ratio.value * width))


def _closes(width: float, at: float) -> float:
    return max(0.0, 1.0 - (width / at) ** 4)


def narrow_contacts(
    patch: ContactPatch,
    curves: Sequence[StressCurve],
    ratios: Sequence[Bounds],
    *,
    pressure: Float,
    sinkage: Float,
    pad_share: Float,
    before: Narrow | None,
) -> Narrow:
    """Return what the pad around each contact adds, from where the body came to rest.

    Curves and ratios have one entry a zone. Pressure is (n,), kPa; sinkage, (n,), mm, how far each place of the body
    has come past where it would touch, negative where it does not; `pad_share`, (n,), the part of it that the pad
    gave; `before` what the pressures were found with.

    Notes
    -----
    Pressure below a round body: columns have it fall from the middle twice as fast as it does in a half-space, where
    the surface sinks beside the contact too; a paraboloid's peak is 1.5 times as high and its area half as large
    (Hertz 1882). So the gap counts `drawn` times, 1 + (1 - 1/f) / 2 with f the root of 1 + eta^2, which meets the
    peaks of own finite elements to a tenth, for cylinders to a fifth; 1 and 1 + (1 - 1/f) are low and high, the latter
    meets the areas. Under a flat body there is no gap and nothing changes; with flesh the pad's part of the sinkage is
    drawn.
    """
    is_loaded = pressure > 0.0
    label, pieces = contact_pieces(patch, is_loaded, sinkage)
    count = len(patch.area_mm2)
    stiffer, drawn, deeper = np.ones((3, count)), np.ones((3, count)), np.zeros(count)
    if patch.runs is not None or patch.evened is not None:  # those say what the pad around adds
        return Narrow(stiffer, drawn, deeper, pieces)
    nearest = _nearest(patch, label, pieces)
    found = []
    for number, piece in enumerate(pieces):
        own = label == number
        weight = patch.area_mm2[own] / patch.area_mm2[own].sum()
        deepest, mean = float(sinkage[own].max()), float(weight @ sinkage[own])
        roundness = float(np.clip(2.0 * (1.0 - mean / deepest), 0.0, 1.0)) * float(weight @ pad_share[own])
        width = piece.slenderness
        if before is not None:  # as it would be were the pad not drawn down: it shrinks as one over the root of that
            width *= float(np.sqrt(weight @ before.drawn[1, own]))
        pairs = list(zip(curves, ratios, strict=True))
        of_zone = [narrow_ratio(width, curve, ratio, piece.open_share) for curve, ratio in pairs]
        eta = (1.0 - piece.open_share) * np.array([_half_space(width, curve, ratio) for curve, ratio in pairs])
        here = nearest == number
        zone = patch.zone[here]
        every = np.array([[each.low, each.value, each.high] for each in of_zone]).T
        stiffer[:, here] = every[:, zone]
        much = roundness * (1.0 - 1.0 / np.hypot(1.0, eta * _closes(width, HELPED_BELOW)))
        drawn[:, here] = (1.0 + np.outer([0.0, 0.5, 1.0], much))[:, zone]
        deeper[here] = np.maximum(deepest - sinkage[here], 0.0)
        if before is not None:
            deeper[here] /= before.drawn[1, here]
        load = np.bincount(patch.zone[own], pressure[own] * patch.area_mm2[own], len(curves))
        low, value, high = (every @ (load / load.sum())).tolist()
        found.append(replace(piece, stiffer=Bounds(value, low, high)))
    return Narrow(stiffer, drawn, deeper, tuple(found))


def _nearest(patch: ContactPatch, label: Int, pieces: Sequence[ContactPiece]) -> Int:
    """Return the contact each point belongs to or lies next to, by the distance from its rim if it were round."""
    if len(pieces) == 1:
        return np.zeros(len(label), dtype=np.intp)
    away = [np.linalg.norm(patch.position - piece.center_mm, axis=1) - 0.5 * piece.width_mm for piece in pieces]
    return np.where(label >= 0, label, np.argmin(away, axis=0))
