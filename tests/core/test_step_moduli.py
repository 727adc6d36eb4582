"""Blend steps lie between what their zones are printed as, and never get softer on the way to the firmer zone."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.stages.material.step_moduli import choose_all


def chooser(low: float, high: float, steps: int = 60):
    """Return a printer that reaches moduli on a ladder from low to high, kPa."""
    ladder = np.geomspace(low, high, steps)

    def choose(target: float) -> SimpleNamespace:
        reached = float(ladder[np.abs(np.log(ladder / target)).argmin()])
        binding = "too soft to print" if target < 0.98 * low else "too firm to print" if target > 1.02 * high else None
        return SimpleNamespace(target_kpa=target, reached_kpa=reached, binding=binding)

    return choose


def test_a_relief_that_cannot_be_printed_soft_is_still_the_softest():
    chosen = choose_all(
        {0: 200.0, 1: 1200.0, 2: 300.0, 3: 500.0, 4: 800.0},
        {2: (0, 1, 0.25), 3: (0, 1, 0.5), 4: (0, 1, 0.75)},
        {0: chooser(540.0, 3000.0), **{number: chooser(150.0, 3000.0) for number in (1, 2, 3, 4)}},
    )
    reached = [chosen[number].reached_kpa for number in (0, 2, 3, 4, 1)]
    assert reached == sorted(reached)
    # A quarter of the way on the logarithm; the ladder's rungs are 5 % apart.
    assert reached[1] == pytest.approx(reached[0] ** 0.75 * reached[4] ** 0.25, rel=0.03)


@pytest.mark.parametrize("seed", range(30))
def test_firmness_never_falls_from_the_softer_zone_to_the_firmer(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 9))
    targets = {0: rng.uniform(50, 1500), 1: rng.uniform(50, 1500)}
    share = {number + 2: (number + 1) / (count + 1) for number in range(count)}
    targets |= dict.fromkeys(share, 700.0)
    made = {number: chooser(rng.uniform(40, 500), 4000.0, 200) for number in targets}
    chosen = choose_all(targets, {number: (0, 1, each) for number, each in share.items()}, made)
    assert list(chosen) == list(targets)
    order = [0, *share, 1] if chosen[0].reached_kpa <= chosen[1].reached_kpa else [1, *reversed(share), 0]
    reached = [chosen[number].reached_kpa for number in order]
    softest = [made[number](1.0).reached_kpa for number in order]
    for before, after in zip(range(len(order) - 2), range(1, len(order) - 1), strict=True):
        # Where the firmer zone is softer than a step can be printed, no order is left to keep.
        assert reached[after] >= min(reached[before], reached[-1]) * 0.99 or softest[after] > reached[-1]


def test_a_step_without_one_of_its_zones_keeps_its_own_level():
    chosen = choose_all({1: 900.0, 2: 300.0}, {2: (0, 1, 0.5)}, {1: chooser(50, 2000), 2: chooser(50, 2000)})
    assert chosen[2].target_kpa == 300.0
