"""What the stiffness of a printed region rests on: four unknowns with their spread, guessed or calibrated."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ...base.errors import InputError
from ...base.estimate import Estimate
from ...base.frozen import hold
from ...base.mesh import Float
from ...job.material_cards import FOLD_UNKNOWNS, FoldCalibration, MaterialCard
from .hardness import spread_factors

UNKNOWNS = ("modulus", "fill", "knee", "wrinkle")
"""Logarithms of four factors: of the solid's modulus; of the fill's stiffness law; of the strain at which the fill
gives way; of the strain at which contours wrinkle. All are 0 where nothing is known better."""

NINETY = 1.6448536269514722
"""Standard deviations from the middle of a normal law to its 5th and 95th percentile."""

_FILL_FACTOR = 1.25
"""Law against own periodic finite elements within 15 %, printed walls thicker and thinner than asked: assumed."""

_KNEE_FACTOR = 2.0
_WRINKLE_FACTOR = 2.0
"""No published value was found for printed flexible filament: assumed, from half to double."""


OWN_SPREAD = 0.06
"""Standard deviation of the logarithm by which one region differs in stiffness from the law fitted on others of the
same material: uneven print, structure and fill share. Assumed, the same as between calibrated blocks."""

OWN_UNFITTED = 0.08
"""The same of the fill law where nothing was calibrated: its errors at two fill shares are only partly the same (the
law lies within 15 % of our own finite elements, high at one share and low at another). Assumed."""

OWN_OUTSIDE = 0.15
"""The same of a fill outside the fill shares its law was checked at, or with cells wider than half the pad. Assumed."""


@dataclass(frozen=True, eq=False)
class FoldsAsPrinted:
    """What blocks of folded walls told, beside what was asked for; `folds.fold_print` says what the unknowns do.

    Raises InputError when the covariance is none.
    """

    unknowns: Float  # (6,); best values of `FOLD_UNKNOWNS`
    covariance: Float  # (6, 6); it holds what a new print may differ by
    slopes_deg: tuple[float, float]  # least and most that was pressed
    widths_mm: tuple[float, float]  # least and most wall that was pressed
    most_strain: float  # up to which all blocks were pressed

    def __post_init__(self) -> None:
        size = len(FOLD_UNKNOWNS)
        unknowns = np.array(self.unknowns, dtype=np.float64)
        covariance = np.reshape(np.array(self.covariance, dtype=np.float64), (size, size))
        if not np.allclose(covariance, covariance.T, atol=1e-12) or float(np.linalg.eigvalsh(covariance).min()) < -1e-9:
            raise InputError("The covariance of the folds' unknowns is none: it is uneven or has a negative value.")
        hold(self, unknowns=unknowns, covariance=covariance)

    @classmethod
    def of(cls, found: FoldCalibration) -> FoldsAsPrinted:
        """Return what stands in a card."""
        slopes, widths = found.slopes_deg, found.widths_mm
        return cls(
            np.array(found.unknowns), np.array(found.covariance), (slopes[0], slopes[1]), (widths[0], widths[1]),
            found.most_strain,
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class MaterialModel:
    """The solid's modulus and the four unknowns with their covariance.

    Raises InputError when a number is out of range or the covariance is none.
    """

    modulus_kpa: float  # small-strain modulus of the solid, where the unknowns are 0
    poisson: float  # of the solid
    unknowns: Float = field(default_factory=lambda: np.zeros(len(UNKNOWNS)))  # (4,); best values of `UNKNOWNS`
    # (4, 4); of the modulus on its low side.
    covariance: Float = field(default_factory=lambda: np.zeros((len(UNKNOWNS), len(UNKNOWNS))))
    basis: str = "assumed"  # as in `estimate.BASES`
    upward: float = 1.0  # how many times as far up as down the modulus may lie, in logarithm
    folds: FoldsAsPrinted | None = None  # where blocks of folded walls were pressed

    def __post_init__(self) -> None:
        if not (np.isfinite(self.modulus_kpa) and self.modulus_kpa > 0 and 0.0 <= self.poisson < 0.5):
            raise InputError(f"A solid cannot have {self.modulus_kpa:g} kPa and a Poisson's ratio of {self.poisson:g}.")
        unknowns = np.array(self.unknowns, dtype=np.float64)
        covariance = np.array(self.covariance, dtype=np.float64)
        size = len(UNKNOWNS)
        if unknowns.shape != (size,) or covariance.shape != (size, size):
            raise InputError(f"A material model has {size} unknowns; got {unknowns.shape} and {covariance.shape}.")
        is_even = np.allclose(covariance, covariance.T, atol=1e-12)
        if not is_even or float(np.linalg.eigvalsh(covariance).min()) < -1e-9:
            raise InputError("The covariance of the material's unknowns is none: it is uneven or has a negative value.")
        if not 0.0 < self.upward < 100.0:
            raise InputError(f"A modulus cannot lie {self.upward:g} times as far up as down.")
        hold(self, unknowns=unknowns, covariance=covariance)

    @property
    def covariance_up(self) -> Float:
        """The covariance with the modulus on its high side."""
        scale = np.append(self.upward, np.ones(len(UNKNOWNS) - 1))
        return np.asarray(self.covariance * np.outer(scale, scale))

    def as_far_up(self, move: Float) -> Float:
        """Return a move of the unknowns (4,) with the modulus going `upward` times as far where it goes up."""
        return np.append(move[0] * (self.upward if move[0] > 0.0 else 1.0), move[1:])

    @property
    def solid(self) -> Estimate:
        """Modulus of the solid as far as it is known, kPa."""
        value = self.modulus_kpa * float(np.exp(self.unknowns[0]))
        far = NINETY * float(np.sqrt(self.covariance[0, 0]))
        return Estimate(value, value * float(np.exp(-far)), value * float(np.exp(self.upward * far)), self.basis)


def model_from_card(card: MaterialCard) -> MaterialModel:
    """Return what is known of a card's material.

    A card with a calibration gives what was fitted on its blocks, basis "measured"; any other its modulus, with a
    spread from hardness, wider upward than down, basis "assumed": a published relation between hardness and modulus,
    four of which differ by up to 3 times, says nothing published about this filament. Raises InputError when the card's
    hardness is unknown or the numbers of its calibration are no covariance.
    """
    modulus, size = card.modulus_mpa * 1000.0, len(UNKNOWNS)
    found = card.calibration
    folds = FoldsAsPrinted.of(card.fold_calibration) if card.fold_calibration is not None else None
    if found is not None:
        covariance = np.reshape(np.array(found.covariance), (size, size))
        return MaterialModel(modulus, card.poisson, np.array(found.unknowns), covariance, "measured", folds=folds)
    down, up = spread_factors(card.hardness, card.modulus_spread)
    spread = np.log((down, _FILL_FACTOR, _KNEE_FACTOR, _WRINKLE_FACTOR)) / NINETY
    upward = float(np.log(up) / np.log(down))
    return MaterialModel(
        modulus, card.poisson, covariance=np.diag(spread**2), basis="assumed", upward=upward, folds=folds
    )
