"""Made-up readings on blocks of folded walls: the law itself, a print that differs, a scale and calipers that err."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from padwright.core.base.mesh import Float
from padwright.core.base.units import N_PER_KG
from padwright.core.stages.material.coupons.coupons import PlannedCoupon
from padwright.core.stages.material.coupons.fold_coupons import FoldCoupon
from padwright.core.stages.material.coupons.fold_shapes import skins_volume_mm3, walls_volume_mm3
from padwright.core.stages.material.coupons.held import held_excess
from padwright.core.stages.material.coupons.reading_notes import height_sd
from padwright.core.stages.material.coupons.readings import Readings
from padwright.core.stages.material.curves import StressCurve
from padwright.core.stages.material.folds.fold_print import folds_before
from padwright.core.stages.material.folds.law import stress_kpa
from padwright.core.stages.material.folds.softening import HALVED_AT, HALVED_LOW, Softening
from padwright.core.stages.material.folds.walls import Walls
from padwright.core.stages.material.material_model import NINETY, MaterialModel

STRAIN = np.linspace(0.0, 0.6, 301)


@dataclass(frozen=True)
class TruePrint:
    """What a filament and a printer do: factors on what was asked for, and degrees."""

    modulus: float = 1.0
    width: float = 1.0
    slope_deg: float = 0.0
    law: float = 1.0
    softening: float = 1.0
    density: float = 1.0
    own: tuple[float, ...] = ()  # factor of each block
    bend: float = 0.0  # logarithm by which the law is off for each 10 degrees of slope more than 35
    steps: float = 0.0  # logarithm by which walls of 3 beads bear more than those of 2, which no unknown stands for

    def unknowns(self) -> Float:
        """Return them as the fit has them (6,)."""
        factors = np.log([self.modulus, self.width, self.law, self.softening])
        return np.array([factors[0], factors[1], self.slope_deg, factors[2], factors[3], self.bend])


def drawn(rng: np.random.Generator, blocks: int, model: MaterialModel) -> TruePrint:
    """Return a print drawn from what is believed before, each side as wide as it is, each block's own 6 %."""
    middle, covariance = folds_before(model)
    sure = rng.normal(0.0, 1.0, 6)
    moved = middle + sure * np.sqrt(np.diag(covariance))
    moved[0] = middle[0] + float(sure[0] * np.sqrt(model.covariance[0, 0])) * (model.upward if sure[0] > 0.0 else 1.0)
    softer = np.log(HALVED_LOW / HALVED_AT) / NINETY
    moved[4] = sure[4] * np.sqrt(covariance[4, 4]) if sure[4] > 0.0 else -sure[4] * softer
    width, law, softening = (float(np.exp(moved[at])) for at in (1, 3, 4))
    return TruePrint(
        float(np.exp(moved[0])), width, float(moved[2]), law, softening, float(np.exp(rng.normal(0.0, 0.02))),
        tuple(np.exp(rng.normal(0.0, 0.06, blocks)).tolist()), float(moved[5]),
    )  # fmt: skip


def true_kpa(walls: Walls, strain: Float, card_kpa: float, poisson: float, true: TruePrint) -> Float:
    """Return the stress of walls asked for, as they come out, kPa (n, m)."""
    printed = walls.changed(
        width_mm=walls.array("width_mm") * true.width, slope_deg=walls.array("slope_deg") + true.slope_deg
    )
    wide = np.clip((walls.array("width_mm") - 0.9) / 0.45, 0.0, 1.0)
    law = true.law * np.exp(true.bend * (walls.array("slope_deg") - 35.0) / 10.0 + true.steps * wide)
    stress = stress_kpa(printed, strain, card_kpa * true.modulus, poisson, Softening(HALVED_AT * true.softening))
    return np.asarray(law[:, None] * stress)


def block_stress(coupon: FoldCoupon, card_kpa: float, poisson: float, true: TruePrint) -> Float:
    """Return what a block bears, kPa of the ground its walls bear for, over `STRAIN`."""
    return true_kpa(coupon.walls, STRAIN, card_kpa, poisson, true)[0]


def pressed(
    blocks: tuple[PlannedCoupon, ...],
    card_kpa: float,
    poisson: float,
    true: TruePrint,
    rng: np.random.Generator,
    *,
    density_g_cm3: float = 1.21,
    weighed: bool = True,
    step_mm: float = 0.1,
    misread: float = 0.0,
) -> Readings:
    """Return the readings of one person: loads that press each block as far as the sheet says, heights to a step.

    Solid blocks follow neo-Hooke between plates that hold their ends somewhere between slipping and sticking. `misread`
    is the share of heights that are 1 to 3 mm off.
    """
    hold = rng.random()
    rows: list[tuple[int, float, float]] = []
    masses: dict[int, float] = {}
    for place, block in enumerate(blocks):
        coupon = block.coupon
        own = true.own[place] if true.own else 1.0
        if isinstance(coupon, FoldCoupon):
            stress, core, read_kg, held = (
                block_stress(coupon, card_kpa, poisson, true),
                coupon.shape.core_mm,
                0.003,
                0.015,
            )
            walls, skins = walls_volume_mm3(coupon.shape), skins_volume_mm3(coupon.shape, coupon.number)
            mass = (walls * true.width + skins) / 1000.0 * density_g_cm3 * true.density
            masses[coupon.number] = float(round(mass + rng.normal(0.0, 0.1)))
        else:
            stretch = 1.0 - STRAIN
            stress = card_kpa * true.modulus * (stretch**-2 - stretch) / 3.0
            plain = StressCurve(STRAIN, stress, 0.6, poisson)
            stress = stress * (1.0 + hold * held_excess(plain, coupon.edge_mm / coupon.geometry.thickness_mm))
            core, read_kg, held = coupon.geometry.thickness_mm, 0.7, 0.0
        bears = own * stress * coupon.geometry.area_mm2 / 1000.0 / N_PER_KG
        tall = coupon.geometry.thickness_mm + rng.normal(0.0, 0.2)
        reach = min(0.3, float(STRAIN[np.searchsorted(bears, 35.0) - 1]))
        for strain in (0.0, *np.linspace(reach / 5.0, reach, 5)):
            load = float(np.interp(strain, STRAIN, bears))
            shown = load * (1.0 + rng.normal(0.0, held)) + rng.normal(0.0, read_kg) if strain else 0.0
            height = tall - strain * core + rng.normal(0.0, 0.07)
            if strain and misread and rng.random() < misread:
                height += rng.choice([-1.0, 1.0]) * rng.uniform(1.0, 3.0)
            rows.append((coupon.number, max(shown, 0.0), round(height / step_mm) * step_mm))
    number, load, height = (np.array(each) for each in zip(*rows, strict=True))
    return Readings(
        number.astype(np.int32), load, height, np.full(len(load), height_sd(step_mm, 1)),
        np.arange(len(load), dtype=np.int32) + 2,
        "made_up.csv", (), masses if weighed else {}, step_mm,
    )  # fmt: skip
