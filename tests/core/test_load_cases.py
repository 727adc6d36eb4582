"""What a job's load and target mean on a part: postures by their share, zones that are not there, the cards' limits."""

from __future__ import annotations

import itertools
from types import SimpleNamespace

import pytest

from padwright.core.job.cards import load_family
from padwright.core.job.schema import FAMILIES, Body
from padwright.core.stages.load.firmness import Firmness
from padwright.core.stages.load.job_loads import load_cases
from padwright.core.stages.load.zone_tuning import tune_zones


def insole(**load) -> SimpleNamespace:
    plain = {"share": 1.0, "posture": "standing on one foot", "body_mass_kg": 80.0, "force_n": None}
    plain |= {"point": None, "cases": ()}
    return SimpleNamespace(
        family=load_family("insole"),
        job=SimpleNamespace(load=SimpleNamespace(**{**plain, **load}), body=Body(press_direction="auto")),
        pad=SimpleNamespace(press_direction=(0.0, 0.0, -1.0)),
    )


@pytest.mark.parametrize(
    ("load", "posture"),
    [
        ({}, "standing on one foot"),
        ({"share": 0.5}, "standing on both feet"),
        ({"share": 1.3}, "walking"),
        ({"share": 0.2}, "bearing 20 % of the body's weight"),
        ({"share": 0.5, "posture": "leaning on the bar"}, "leaning on the bar"),
        ({"force_n": 392.0}, "standing on both feet"),
        ({"force_n": 392.0, "body_mass_kg": None}, "standing on one foot"),
    ],
)
def test_the_posture_goes_with_the_share(load, posture):
    (case,) = load_cases(insole(**load))
    assert case.posture == posture


def test_a_zone_to_relieve_without_a_region_is_told_and_nothing_else_aimed_for():
    part = insole()
    part.zones = SimpleNamespace(zones=[SimpleNamespace(name="rest"), SimpleNamespace(name="crumb")])
    part.job.target = SimpleNamespace(goal="relieve", relieve=("crumb",), caps=())
    plain = Firmness({0: None}, {})
    found = tune_zones(part, plain)
    assert found.tuning is None and found.chosen == plain.chosen
    assert found.notes == ('"crumb" has no region of its own on this pad, so it cannot be relieved.',)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_card_s_own_posture_goes_with_its_own_share(family):
    card = load_family(family)
    share, posture = (card.defaults["load", name].value for name in ("share", "posture"))
    assert card.posture_for(posture, share) == posture
    assert not any(
        one.holds(two.low_share) and one.holds(two.high_share) for one, two in itertools.permutations(card.postures, 2)
    )


@pytest.mark.parametrize("family", FAMILIES)
def test_a_card_s_own_zones_keep_its_own_limits(family):
    card = load_family(family)
    step, ratio = (card.defaults["target", name].value for name in ("level_step_limit", "greatest_modulus_ratio"))
    for one, two in itertools.combinations([zone["level"] for zone in card.zones], 2):
        assert abs(one - two) <= step
        moduli = sorted(card.target_modulus_kpa(level) for level in (one, two))
        assert moduli[1] / moduli[0] <= ratio
