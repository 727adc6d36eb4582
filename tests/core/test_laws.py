"""Laws and their constants written out a second time, from the pages that state them: an error of 10 % in one fails.

`scripts/study_mutation.py` plants such errors and names what no test sees.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from scipy import constants, optimize

from padwright.core.base import units
from padwright.core.stages.body import weight
from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.load import felt
from padwright.core.stages.load.bulging_layers import COLUMN_LIMIT, disc_ratio, solid_ratio
from padwright.core.stages.material import material_model
from padwright.core.stages.material.curves import StressCurve, layered_ratio
from padwright.core.stages.material.fill import fill_curve, stiffness_ratio
from padwright.core.stages.material.hardness import MEASURED_DOWN, MEASURED_UP
from padwright.core.stages.material.lattices import LATTICES
from padwright.core.stages.material.material_model import NINETY
from support.block_elements import held_ratio

DOCS = Path(__file__).resolve().parents[2] / "docs"


def page(name: str) -> str:
    """Return a page as one line, without its emphasis."""
    return re.sub(r"\s+", " ", (DOCS / name).read_text("utf-8").replace("*", ""))


def test_units_are_those_of_the_international_system() -> None:
    assert units.N_PER_KG == weight.GRAVITY == constants.g
    assert units.MM_PER_UNIT == {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": pytest.approx(1000.0 * constants.inch)}


@pytest.mark.parametrize("pattern", ["gyroid", "honeycomb", "square_grid"])
@pytest.mark.parametrize("density", [0.1, 0.2, 0.3])
def test_a_fills_curve_by_hand(pattern: str, density: float) -> None:
    """docs/models/fill.md: giving way, then rising as (e/(1-e))^2.5, both terms alike where the cells shut."""

    def first(strain: float) -> float:
        if pattern == "gyroid":
            return give * (1 - np.exp(-strain / give))
        # Effective width: Winter's and Koiter's, each no more than the straight line; the mean of their logarithms.
        ratio = strain / give
        winter = np.sqrt(ratio) - 0.22 if ratio > 0.453 else ratio
        koiter = 1.2 * ratio**0.6 - 0.65 * ratio**0.2 + 0.45 * ratio**-0.2 if ratio > 1.0 else ratio
        return give * np.sqrt(winter * koiter)

    curve = fill_curve(pattern, density, 1000.0, 0.48)
    shut = 1 - 1.4 * density
    modulus = 1000.0 * stiffness_ratio(pattern, density, 0.48)
    assert curve.densification == pytest.approx(shut, rel=1e-12)
    assert curve.poisson == (0.37 if pattern == "gyroid" else 0.0)
    give = 0.10 if pattern == "gyroid" else LATTICES[pattern].gives_at(density, 0.48)
    for strain in (0.01, 0.05, 0.15, 0.3, 0.6, 0.9):
        rise = first(shut) * ((strain / (1 - strain)) / (shut / (1 - shut))) ** 2.5
        # Stress is taken straight between points 0.0025 apart, 0.01 from 0.2 on: 0.3 % of a curve this bent.
        assert float(curve.stress(np.array(strain))) == pytest.approx(modulus * (first(strain) + rise), rel=0.01)


def test_a_solid_is_all_solid() -> None:
    assert stiffness_ratio("solid", 0.3, 0.48) == 1.0 and stiffness_ratio("none", 0.3, 0.48) == 0.0
    curve = fill_curve("solid", 1.0, 1000.0, 0.48)
    assert (curve.densification, curve.poisson) == (0.6, 0.48)  # a rubber is hard by then: assumed
    assert float(curve.stress(np.array(0.5))) == pytest.approx(1000.0 / 3 * (4 - 0.5), rel=1e-3)


def test_walls_of_a_grid_buckle_like_long_plates() -> None:
    """4 pi^2 / (12 (1 - nu^2)) (t/s)^2 with t/s = rho/2: 2.4 % at 15 %, four times that at 30 %."""
    assert LATTICES["square_grid"].gives_at(0.15, 0.48) == pytest.approx(0.02405, rel=2e-3)
    assert LATTICES["square_grid"].gives_at(0.30, 0.0) == pytest.approx(np.pi**2 / 3 * 0.15**2, rel=1e-12)


def test_bounds_of_a_solid_region_are_two_discs() -> None:
    """docs/models/contact.md: as it is, slipping; and one thickness wider all round, held. Of a disc both are discs."""
    for radius, thickness, poisson in ((30.0, 10.0, 0.48), (12.0, 8.0, 0.45)):
        bounds = solid_ratio(poisson, thickness, np.pi * radius**2, 2 * np.pi * radius)
        assert bounds.low == pytest.approx(disc_ratio(radius / thickness, poisson, is_held=False), rel=1e-12)
        assert bounds.high == pytest.approx(disc_ratio(radius / thickness + 1, poisson, is_held=True), rel=1e-12)
        assert bounds.value == pytest.approx(np.sqrt(bounds.low * bounds.high), rel=1e-12)
    # Incompressible and slipping: a block twice as high, held, is 1 + 2 (a/4h)^2; small discs keep Young's modulus.
    assert disc_ratio(2.0, 0.4999999, is_held=False) == pytest.approx(1 + 2 * (2.0 / 4) ** 2, rel=1e-5)
    # A series below z = 1e-3: (c/8) (G/E) (a/h)^2 over 1, c = 12 held, 3 slipping; G/E = 1 / (2 (1 + nu)).
    for is_held, c in ((True, 12.0), (False, 3.0)):
        excess = disc_ratio(5e-4, 0.48, is_held=is_held) - 1.0
        assert excess == pytest.approx(c / 8.0 / (2.0 * 1.48) * 5e-4**2, rel=1e-6)
    # The column rule is 8 % too stiff at 0.37 and 25 % at 0.45: it ends between them.
    assert 0.37 < COLUMN_LIMIT < 0.45


def test_a_wall_in_a_layer_is_a_plate() -> None:
    curve = StressCurve(np.array([0.0, 0.5]), np.array([0.0, 100.0]), 0.8, 0.37, 1.0)
    assert layered_ratio(curve) == pytest.approx(1 / (1 - 0.48**2), rel=1e-12)
    half = StressCurve(np.array([0.0, 0.5]), np.array([0.0, 100.0]), 0.8, 0.0, 0.5)
    assert layered_ratio(half) == pytest.approx(0.5 + 0.5 * 1.29938, rel=1e-4)


def test_plates_that_hold_by_the_page() -> None:
    """docs/models/calibration.md: 1 + r x^2 / (x^2 + 2.04 x + 6.11 r), r = M/E - 1."""
    assert "R = 1 + r x² / (x² + 2.04 x + 6.11 r)" in page("models/calibration.md")
    for poisson, ratio in ((0.30, 1.34615), (0.48, 8.78378)):
        r = ratio - 1
        for x in (0.8, 2.0, 4.0):
            assert held_ratio(poisson, x) == pytest.approx(1 + r * x * x / (x * x + 2.04 * x + 6.11 * r), rel=1e-4)


def test_a_thumb_on_a_half_space_and_on_a_column_by_hand() -> None:
    """Deep pads: F = 2 E a d / (1 - nu^2); shallow ones: a column of the thumb's area. 50 N on 2 cm2."""
    radius = np.sqrt(200.0 / np.pi)
    soft = StressCurve(np.array([0.0, 0.9]), np.array([0.0, 90.0]), 0.95, 0.3)  # 100 kPa
    deep = 50_000.0 * (1 - 0.3**2) / (2 * 100.0 * radius)
    assert felt.thumb_mm(soft, 200.0) == pytest.approx(deep, rel=0.02)  # in steps of 0.4 mm
    bent = fill_curve("gyroid", 0.2, 40_000.0, 0.48)  # gives way, and at the strain near the thumb
    eta = 2 / np.pi / (1 - 0.37**2) / 1.76937 / (radius / 30.0)
    stiffer = np.sqrt(1 + (eta * (1 - (radius / 60.0) ** 4)) ** 2)

    def force(depth: float) -> float:
        return 200.0 * 1.76937 * float(bent.stress(np.array(stiffer * depth / 30.0))) - 50_000.0

    assert felt.thumb_mm(bent, 30.0) == pytest.approx(optimize.brentq(force, 0.1, 15.0), abs=0.06)  # its steps
    firm = StressCurve(np.array([0.0, 0.9]), np.array([0.0, 1800.0]), 0.95, 0.3)  # 2000 kPa
    column = 50_000.0 / (200.0 * 2000.0 * 1.34615) * 3.0
    assert felt.thumb_mm(firm, 3.0) == pytest.approx(column, rel=0.03)
    assert felt.thumb_mm(bent, 30.0, "high") < felt.thumb_mm(bent, 30.0) < felt.thumb_mm(bent, 30.0, "low")


@pytest.mark.parametrize("stiffening", [0.0, 6.0])
def test_flesh_by_hand(stiffening: float) -> None:
    flesh = flesh_layer(15.0, 50.0, stiffening)
    for strain in (0.05, 0.3, 0.7, 0.88):
        stress = 50.0 * (np.expm1(stiffening * strain) / stiffening if stiffening else strain)
        assert float(flesh.curve.stress(np.array(strain))) == pytest.approx(stress, rel=2e-3)
    assert flesh.thickness_mm == 15.0 and flesh.curve.densification == 0.9


def test_the_assumed_spreads_are_those_the_page_states() -> None:
    text = page("models/fill.md")
    model = material_model.model_from_card(_Card())
    modulus, fill, knee, wrinkle = np.exp(NINETY * np.sqrt(np.diag(model.covariance)))
    assert f"from 1/{fill:.2f} to {fill:.2f} nine times in ten" in text and fill == pytest.approx(1.25)
    assert (knee, wrinkle) == (pytest.approx(2.0), pytest.approx(2.0)) and "from half to double" in text
    assert f"{MEASURED_DOWN:.1f} down and {MEASURED_UP:.1f} up" in text and modulus == pytest.approx(MEASURED_DOWN)
    assert modulus**model.upward == pytest.approx(MEASURED_UP)
    assert f"the logarithm {material_model.OWN_SPREAD:.2f}, as between calibrated blocks" in text
    assert f"with {material_model.OWN_UNFITTED:.2f} more where nothing was calibrated" in text
    assert f"and {material_model.OWN_OUTSIDE:.2f} more outside" in text
    assert NINETY == pytest.approx(1.6448536, rel=1e-7)  # normal law, 95th percentile


def test_what_is_said_in_the_hand_rests_on_what_the_page_states() -> None:
    text = page("models/contact.md")
    assert f"({felt.THUMB_N:g} N on {felt.THUMB_CM2:g} cm², {10 * felt.THUMB_N / felt.THUMB_CM2:g} kPa)" in text
    steps = ", ".join(f"{limit:g}" for limit, _ in felt.STEPS_MM)
    assert f"(below {steps} mm)" in text
    least, most = felt.FOAM_KPA
    assert f"gives {100 * felt.FOAM_STRAIN:g} % under {least:g} to {most:g} kPa" in page("07-know-the-material.md")
    assert (felt.CUSHION_MM, felt.THUMB_MOST, felt.THUMB_LEAST_MM) == (4.0, 0.8, 8.0)  # our own choice


class _Card:
    hardness, modulus_mpa, modulus_spread, poisson = "60A", 3.62, 0.5, 0.48
    calibration = fold_calibration = None


def test_no_factor_lifts_a_fill_over_what_its_solid_can_carry():
    # Walls along the load carry at most what the solid does (Voigt), an isotropic fill its bound (Hashin-Shtrikman).
    for structure in ("honeycomb", "square_grid"):
        assert LATTICES[structure].ceiling(0.2, 0.48) == 1.0
    assert LATTICES["gyroid"].ceiling(0.2, 0.48) == pytest.approx(0.11452, rel=1e-4)
