"""What a mat may be wrong by widens what is worked out from it, by as much as a mat that is wrong so would move it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.load.contact import LoadResult, check_load
from padwright.core.stages.load.load_case import ContactPatch, LoadCase
from padwright.core.stages.load.mat_error import WAYS, erred, error_ways, with_error
from padwright.core.stages.mats.mat_pose import plane_of
from support.patches import avalle, patch, sheet

ACCURACY = 0.1
CURVES = [avalle(3.0), avalle(5.0)]


def seat(accuracy: float = ACCURACY) -> ContactPatch:
    """Return a patch that bore two heaps, the left one harder, as a mat showed it; the zones are its halves."""
    on = patch(sheet(180.0, 120.0, 6.0), zone=lambda x, y: (x > 0.0).astype(int), thickness=18.0)
    x, y = on.position[:, 0], on.position[:, 1]
    kpa = 4.0 + 30.0 * np.exp(-((x + 45.0) ** 2 + y**2) / 900.0) + 22.0 * np.exp(-((x - 45.0) ** 2 + y**2) / 900.0)
    kpa *= 400e3 / float(kpa @ on.area_mm2)
    ways = error_ways(on.position, on.area_mm2, kpa, plane_of(on.press_direction), accuracy)
    return replace(on, clay_kpa=np.stack([kpa, kpa]), mat_ways=ways)


CASES = {
    "a body of flesh": LoadCase(force_n=400.0, flesh=flesh_layer(40.0, 8.0, 7.0)),
    "one that is held straight": LoadCase(force_n=400.0, tilt="held", flesh=flesh_layer(40.0, 8.0, 7.0)),
    "a rigid one whose load has its middle where the mat's was": LoadCase(force_n=400.0),
}


def measures(result: LoadResult) -> dict[str, tuple[float, float, float]]:
    """Return value, low and high of what hangs on how the body bore."""
    found = {"peak": result.peak_pressure_kpa, "mean": result.zones[0].mean_pressure_kpa}
    found |= {"share": result.zones[0].share, "other share": result.zones[1].share, "sinkage": result.sinkage_mm}
    return {name: (each.value, each.low, each.high) for name, each in found.items()}


def test_the_ways_are_as_large_as_the_mat_is_good_and_change_no_force():
    on = seat()
    kpa, ways = on.clay_kpa[0], on.mat_ways
    load = kpa * on.area_mm2
    assert np.sqrt((ways**2).sum(axis=0) @ load / load.sum()) == pytest.approx(np.log(1.1), rel=1e-12)
    assert np.abs(ways @ load).max() < 1e-9 * load.sum()  # nothing in the middle of the load
    for one in np.eye(WAYS):
        assert erred(kpa, on.area_mm2, ways, one) @ on.area_mm2 == pytest.approx(load.sum(), rel=1e-12)
    # Where it bears hardest the first way makes it higher; the others make one side heavier than the other.
    harder, *sides = (erred(kpa, on.area_mm2, ways, one) for one in np.eye(WAYS))
    assert harder.max() > 1.05 * kpa.max()
    middle = [load @ on.position / load.sum(), *(each * on.area_mm2 @ on.position / load.sum() for each in sides)]
    assert np.abs(middle[1] - middle[0]).max() > 1.0 and np.abs(middle[2] - middle[0]).max() > 1.0  # mm


@pytest.mark.parametrize("name", CASES)
def test_low_and_high_grow_by_what_mats_wrong_by_so_much_would_give(name):
    """Independent errors add as squares: as logarithms, for shares as they are (`contact_spread`)."""
    case, on = CASES[name], seat()
    found = measures(check_load(case, on, CURVES))
    exact = measures(check_load(case, replace(on, mat_ways=None), CURVES))
    moved = []
    for one in np.eye(WAYS):
        for sign in (-1.0, 1.0):
            kpa = erred(on.clay_kpa[0], on.area_mm2, on.mat_ways, sign * one)
            wrong = replace(on, clay_kpa=np.stack([kpa, kpa]), mat_ways=None)
            moved.append(measures(check_load(case, wrong, CURVES)))
    grown = 0
    for number, (value, low, high) in found.items():
        scale = (lambda each: each) if "share" in number else np.log
        assert value == exact[number][0]
        steps = np.array([scale(each[number][0]) - scale(value) for each in moved]).reshape(WAYS, 2)
        down, up = scale(value) - scale(exact[number][1]), scale(exact[number][2]) - scale(value)
        down = np.hypot(down, np.linalg.norm(np.minimum(steps.min(axis=1), 0.0)))
        up = np.hypot(up, np.linalg.norm(np.maximum(steps.max(axis=1), 0.0)))
        # What the pad around a contact adds is worked out anew for a wrong mat and kept for a bound: 2 % of the width.
        wanted = [scale(value) - down, scale(value) + up]
        assert [scale(low), scale(high)] == pytest.approx(wanted, abs=0.02 * (down + up) + 1e-9)
        grown += high - low > 1.02 * (exact[number][2] - exact[number][1]) + 1e-9
    assert grown >= 2


def test_a_mat_that_is_taken_as_exact_changes_no_bound():
    for case in CASES.values():
        on = seat(0.0)
        assert measures(check_load(case, on, CURVES)) == measures(check_load(case, replace(on, mat_ways=None), CURVES))


def test_a_load_with_a_point_of_its_own_and_a_rigid_body_hang_on_no_mat():
    case, on = LoadCase(force_n=400.0, point_mm=(0.0, 0.0, 0.0)), seat()
    assert measures(check_load(case, on, CURVES)) == measures(check_load(case, replace(on, mat_ways=None), CURVES))


def test_a_number_of_the_mat_moves_by_each_way_in_squares():
    on = seat()
    kpa, area, ways = on.clay_kpa[0], on.area_mm2, on.mat_ways
    is_left = on.zone == 0

    def share(each: np.ndarray) -> float:
        return float(each[is_left] @ area[is_left]) / float(each @ area)

    found = with_error(share, kpa, area, ways, "why")
    steps = [[share(erred(kpa, area, ways, sign * one)) - share(kpa) for sign in (-1, 1)] for one in np.eye(WAYS)]
    assert found.value == share(kpa) and found.note == "why"
    assert found.high - found.value == pytest.approx(np.sqrt(sum(max(*each, 0.0) ** 2 for each in steps)))
    # On two halves, each half a way from the middle on average, 10 % end to end is about 2.5 points of a half.
    assert 0.015 < found.high - found.value < 0.05
