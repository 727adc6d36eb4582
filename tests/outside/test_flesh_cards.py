"""Family cards' flesh against the published numbers that their sources name."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.job.cards import load_family
from padwright.core.stages.body.flesh import Flesh, flesh_layer

CHEEK_KPA, CHEEK_SD_KPA = 64.8, 17.1  # doi 10.1007/s10439-024-03581-2, abstract: 28 people


def layers(family: str) -> tuple[Flesh, Flesh, Flesh]:
    """Soft, usual and firm flesh of a family, a layer of 1 mm each: what it is squeezed by is its strain."""
    card = load_family(family).flesh
    soft, usual, firm = (flesh_layer(1.0, kpa, card.stiffening) for kpa in card.modulus_kpa)
    return soft, usual, firm


def strains(family: str, kpa: float) -> list[float]:
    return [float(each.squeezed_mm(np.array(kpa))) for each in layers(family)]


def test_a_heel_pad_keeps_what_it_keeps_when_standing() -> None:
    """0.62 +/- 0.09 of its thickness (69 feet, PubMed 16513397, abstract) at a peak of 139 kPa (Cavanagh 1987)."""
    soft, usual, firm = strains("insole", 139.0)
    assert 1.0 - usual == pytest.approx(0.62, abs=0.045)
    assert 1.0 - soft < 0.62 - 0.09 and 1.0 - firm > 0.62 + 0.09


def test_flesh_under_a_sit_bone_is_squeezed_by_half_to_six_tenths_under_what_seats_press() -> None:
    """By half to six tenths on hard and soft seats (doi 10.1682/JRRD.2009.07.0105), peak 52 to 149 kPa on a hard one
    (doi 10.1155/2021/4496416); abstracts. The hard seat is the end of six tenths.
    """
    _, usual, _ = layers("seat_pad")
    assert 52.0 < float(usual.curve.stress(np.array(0.6))) < 149.0
    assert float(usual.curve.stress(np.array(0.5))) < 52.0
    for kpa in (52.0, 149.0):
        soft, _, firm = strains("seat_pad", kpa)
        assert firm < 0.6 < soft


def test_a_fingertip_is_pressed_by_two_to_three_of_its_six_millimeters() -> None:
    """About 5 N on 120 mm2 (Serina 1997, cited, not read). 15 %: a card is for palm and fingers."""
    soft, usual, firm = strains("grip", 1000.0 * 5.0 / 120.0)
    assert 0.85 * 2.0 < 6.0 * usual < 3.0
    assert 6.0 * firm < 2.0 and 6.0 * soft > 0.5 * (2.0 + 3.0)
    assert load_family("grip").flesh.modulus_kpa[2] == 200.0  # a fingertip has 70 to 200


@pytest.mark.parametrize(("family", "held"), [("liner_pad", (1.5, 6.0)), ("nose_pad", (2.0, 8.0))])
def test_thin_flesh_over_bone_is_the_cheek_s_times_what_holds_it(family: str, held: tuple[float, float]) -> None:
    """The usual one takes the least hold, the firm one the most, the soft one none at two deviations below."""
    soft, usual, firm = load_family(family).flesh.modulus_kpa
    assert usual == pytest.approx(held[0] * CHEEK_KPA, rel=0.1)  # rounded
    assert firm == pytest.approx(held[1] * CHEEK_KPA, rel=0.05)
    assert CHEEK_KPA - 2.0 * CHEEK_SD_KPA == pytest.approx(soft, rel=0.25)


@pytest.mark.parametrize("family", ["seat_pad", "insole", "grip", "liner_pad", "nose_pad"])
def test_how_flesh_stiffens_is_told_or_owned_as_assumed(family: str) -> None:
    """Fung's form with 5 to 8: squeezed by half, flesh is then 5 to 13 times as stiff as unpressed on the mean."""
    card = load_family(family).flesh
    firmer = np.expm1(0.5 * card.stiffening) / (0.5 * card.stiffening)
    assert 4.0 < firmer < 14.0
    assert "curve:" in card.source or "stiffening: assumed" in card.source
