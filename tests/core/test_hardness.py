"""Hardness to modulus: the published relations give their published values, and the spread holds what was measured."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.material_cards import load_material, material_names
from padwright.core.stages.material.hardness import (
    MEASURED_FACTOR,
    cone_kpa,
    error_function_kpa,
    flat_punch_kpa,
    gent_kpa,
    logarithmic_kpa,
    moduli_kpa,
    spread_factor,
)
from padwright.core.stages.material.material_model import UNKNOWNS, MaterialModel, model_from_card


@pytest.mark.parametrize(
    ("shore", "mpa"), [(60, 3.62051), (70, 5.5445), (80, 9.3925), (85, 13.2406), (90, 20.937), (95, 44.025)]
)
def test_gents_relation(shore, mpa):
    assert gent_kpa(shore) == pytest.approx(1000.0 * mpa, rel=1e-4)
    # The same relation as it is also printed, E = (15.73 + 2.15 S) / (100 - S) MPa, constants rounded.
    assert gent_kpa(shore) == pytest.approx(1000.0 * (15.73 + 2.15 * shore) / (100.0 - shore), rel=5e-3)


def test_the_flat_punch_lies_a_third_over_gent():
    for shore in (40, 60, 85):
        assert flat_punch_kpa(shore) / gent_kpa(shore) == pytest.approx(1.3265, rel=2e-3)


@pytest.mark.parametrize(
    ("shore", "scale", "mpa"),
    [(60, "A", 5.884), (95, "A", 39.102), (45, "D", 39.10), (60, "D", 88.0), (64, "D", 109.3)],
)
def test_the_logarithm_is_to_base_ten(shore, scale, mpa):
    # With e in place of 10, as one popular page has it, 60D would be 7 MPa.
    assert logarithmic_kpa(shore, scale) == pytest.approx(1000.0 * mpa, rel=1e-3)


def test_relations_that_are_solved_for_the_modulus():
    assert error_function_kpa(60) == pytest.approx(3489.0, rel=1e-3)
    assert error_function_kpa(95) == pytest.approx(18_920.0, rel=1e-3)
    assert [cone_kpa(shore) / 1000.0 for shore in (45, 54, 64)] == pytest.approx([46.5, 79.8, 154.4], rel=2e-3)


def test_the_spread_is_what_the_relations_disagree_by():
    for hardness, ratio in (("60A", 1.69), ("85A", 2.2), ("95A", 3.1)):
        assert max(moduli_kpa(hardness)) / min(moduli_kpa(hardness)) == pytest.approx(ratio, rel=0.03)
    assert spread_factor("95A", 0.5) == pytest.approx(np.sqrt(39.102 * 1.493 / 18.92), rel=0.02)
    assert spread_factor("60A", 0.9) == pytest.approx(1.9)


@pytest.mark.parametrize(("shore", "mpa"), [(50, 1.59), (63, 2.5), (80, 6.3)])
def test_moduli_of_data_sheets_lie_within_the_spread(shore, mpa):
    # TPU, makers' data after DIN 53504 / ASTM D412: PMC10406103, table 2.
    assert 1.0 < gent_kpa(shore) / (1000.0 * mpa) <= MEASURED_FACTOR <= spread_factor(f"{shore}A", 0.5)


def test_the_printed_95a_lies_within_the_spread_of_its_card():
    # 43.8 MPa, ASTM D638: doi 10.29137/ijerad.1855607.
    solid = model_from_card(load_material("tpu_95a")).solid
    assert solid.low < 43_800.0 < solid.high
    assert solid.basis == "assumed"


@pytest.mark.parametrize("hardness", ["", "soft", "5A", "99A", "10D", "90D", "85B"])
def test_a_hardness_that_is_none_is_told(hardness):
    with pytest.raises(InputError, match="hardness"):
        moduli_kpa(hardness)


def test_every_card_gives_a_model_whose_band_is_the_spread():
    for name in material_names():
        card = load_material(name)
        solid = model_from_card(card).solid
        factor = spread_factor(card.hardness, card.modulus_spread)
        assert solid.high / solid.value == pytest.approx(factor)
        assert solid.value / solid.low == pytest.approx(factor)


def test_a_model_refuses_what_is_no_covariance():
    with pytest.raises(InputError, match="covariance"):
        MaterialModel(1e4, 0.48, covariance=np.diag([1.0, 1.0, 1.0, -1.0]))
    uneven = np.eye(4)
    uneven[0, 1] = 0.5
    with pytest.raises(InputError, match="covariance"):
        MaterialModel(1e4, 0.48, covariance=uneven)
    with pytest.raises(InputError, match=f"{len(UNKNOWNS)} unknowns"):
        MaterialModel(1e4, 0.48, unknowns=np.zeros(3))
    with pytest.raises(InputError, match="cannot have"):
        MaterialModel(-1.0, 0.48)
