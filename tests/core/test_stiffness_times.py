"""A zone's `stiffness_times`: what trials taught, on top of its level, in settings, blends and folded walls."""

from pathlib import Path

import numpy as np
import pytest

from padwright.core.base.progress import drain
from padwright.core.job.cards import load_family
from padwright.core.job.read import job_from_tables
from padwright.core.run.memory import StageMemory
from padwright.core.stages.zones.blends import BlendWish
from padwright.core.stages.zones.zone_sources import Outline, Rest
from padwright.core.stages.zones.zones import PlanZone, ZoneRequest, plan_zones
from support.flat_pads import flat_tables
from support.pad_shapes import box_pad

SEAT = load_family("seat_pad")


def circle(radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), np.full(60, 12.0)], axis=1)


@pytest.mark.parametrize("times", [0.5, 1.0, 1.3, 3.0])
@pytest.mark.parametrize("level", [1.0, 2.5, 4.0])
def test_a_zone_is_to_be_so_many_times_its_level_also_beyond_the_levels(level: float, times: float) -> None:
    zone = PlanZone("a", "a", level, stiffness_times=times)
    assert zone.target_kpa(SEAT) == pytest.approx(times * SEAT.target_modulus_kpa(level), rel=1e-12)


def test_steps_lie_between_zones_of_one_level_that_trials_parted() -> None:
    requests = (ZoneRequest("inner", 2.0, Outline(circle(15.0)), 1.6), ZoneRequest("rest", 2.0, Rest(), 0.9))
    plan = plan_zones(box_pad(), None, requests, blends=(BlendWish(2, 8.0),))
    found = {zone.name: zone.stiffness_times for zone in plan.zones}
    assert found["inner"] == 1.6 and found["rest"] == 0.9
    steps = [zone.stiffness_times for zone in plan.zones if zone.between]
    ratio = 0.9 / 1.6
    assert steps == pytest.approx([1.6 * ratio ** (1 / 3), 1.6 * ratio ** (2 / 3)], rel=1e-12)
    assert all(zone.level == 2.0 for zone in plan.zones)


def test_zones_alike_in_level_and_in_what_trials_taught_have_no_steps_between() -> None:
    requests = (ZoneRequest("inner", 2.0, Outline(circle(15.0)), 1.6), ZoneRequest("rest", 2.0, Rest(), 1.6))
    plan = plan_zones(box_pad(), None, requests, blends=(BlendWish(2, 8.0),))
    assert [zone.name for zone in plan.zones] == ["inner", "rest"]


@pytest.mark.parametrize("kind", ["settings", "folds"])
def test_a_part_is_as_stiff_as_its_level_times_what_trials_taught(tmp_path: Path, kind: str) -> None:
    """Of settings and of folded walls alike, without a load; the other zone keeps its own."""
    tables = flat_tables(tmp_path, (120.0, 90.0, 20.0), (0.0, 0.0, 0.0), fill={"kind": kind})
    reached = {}
    for times in (1.0, 0.7):
        tables["zones"][1]["stiffness_times"] = times
        part = drain(StageMemory().reach(job_from_tables(tables), tmp_path, "load"))
        assert part.firmness is not None
        reached[times] = {each.name: each for each in part.firmness.chosen.values()}
        wished = 0.7 * part.family.target_modulus_kpa(2.0) if times < 1.0 else part.family.target_modulus_kpa(2.0)
        assert reached[times]["rest"].target_kpa == pytest.approx(wished, rel=1e-12)
        if kind == "settings":  # the fill share comes in tenths of a percent: 2 %
            assert reached[times]["rest"].reached_kpa == pytest.approx(wished, rel=0.02)
    assert reached[0.7]["middle"].target_kpa == reached[1.0]["middle"].target_kpa
    assert reached[0.7]["rest"].reached_kpa < 0.8 * reached[1.0]["rest"].reached_kpa or kind == "folds"
