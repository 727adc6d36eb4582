"""Published pressures against what their sources say, in the sources' own units; docs/sources.md says what was read."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.stages.load.pressure_lines import LINES, pressure_lines

MMHG = 13595.1 * 9.80665 * 1e-6
"""kPa: density of mercury in kg/m3, standard gravity in m/s2, 1 mm."""

# doi 10.1589/jpts.29.57, tables: men and women over 60, men and women of 20; on a chair without a cushion, mmHg, cm2.
CHAIR = {"people": (50, 50, 49, 62), "mean": (47.5, 47.8, 56.3, 48.6), "deviation": (7.0, 6.6, 12.9, 12.0)}
CHAIR_AREA = (661.7, 728.1, 829.5, 813.0)


def pooled(people: np.ndarray, mean: np.ndarray, deviation: np.ndarray) -> tuple[float, float]:
    """Return mean and standard deviation of all, of groups with theirs."""
    middle = float((people * mean).sum() / people.sum())
    squares = float(((people - 1) * deviation**2 + people * (mean - middle) ** 2).sum())
    return middle, float(np.sqrt(squares / (people.sum() - 1)))


CHAIR_MEAN, CHAIR_DEVIATION = (each * MMHG for each in pooled(*(np.array(each) for each in CHAIR.values())))
PUBLISHED = {
    "32 mmHg": (32 * MMHG, 0.0),
    "chair without a cushion, mean": (CHAIR_MEAN, CHAIR_DEVIATION),
    "saddle with a nose, mean between the sit bones": (315.2 * MMHG, 39 * MMHG),
    "standing, heel": (139.0, 0.0),
    "standing, forefoot": (53.0, 0.0),
    "walking at 1.5 m/s, heel": (517.0, 158.0),
    "hand, skin flow stops": (50.0, 0.0),
    "hand, discomfort at the ball of the thumb": (100.0, 0.0),
}


def test_each_pressure_is_the_published_one() -> None:
    assert [line.name for line in LINES] == list(PUBLISHED)
    for line in LINES:
        mean, deviation = PUBLISHED[line.name]
        # The cards give two decimals of a kPa, or as many as the source.
        assert line.kpa == pytest.approx(mean, rel=1e-3), line.name
        assert line.plus_minus_kpa == pytest.approx(deviation, rel=5e-3), line.name


def test_the_range_said_of_chairs_is_that_of_the_groups() -> None:
    text = next(line.text for line in LINES if line.name.startswith("chair"))
    low, high = (f"{each * MMHG:.1f}" for each in (min(CHAIR["mean"]), max(CHAIR["mean"])))
    assert f"lowest mean is {low} kPa, the highest {high}" in text
    assert f"{sum(CHAIR['people'])} people" in text
    assert (round(min(CHAIR_AREA), -1), round(max(CHAIR_AREA), -1)) == (660, 830) and "660 to 830 cm2" in text


def test_pressure_times_area_is_the_share_of_weight_that_the_seat_card_says() -> None:
    from padwright.core.job.cards import load_family

    mass = (64.3, 57.9, 69.1, 57.1)  # the same tables, kg
    shares = [p * MMHG * a * 0.1 / (m * 9.80665) for p, a, m in zip(CHAIR["mean"], CHAIR_AREA, mass, strict=True)]
    default = load_family("seat_pad").defaults["load", "share"]
    assert f"{100 * min(shares):.0f} to {100 * max(shares):.0f} % as mean pressure times contact" in default.source
    assert min(shares) < default.value < max(shares)


def test_published_pressures_name_their_source_and_judge_nobody() -> None:
    lines = pressure_lines("seat_pad")
    assert all(line.source and line.kpa > 0 for line in lines)
    assert not any(word in line.text.lower() for line in lines for word in ("safe", "danger", "allowed", "fail"))
    assert {line.name for line in pressure_lines("insole")} != {line.name for line in lines}
