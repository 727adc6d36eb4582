"""Narrow contacts, row by row, against finite elements: a rigid sphere pressed into a bonded layer.

400 kPa, 20 mm thick. Source of the table: own axisymmetric finite elements (four-node elements of averaged dilatation,
contact at nodes), another program than `support/elastic.py`, which presses some of the rows anew.
"""

import numpy as np
import pytest

from padwright.core.stages.material.curves import constrained_ratio
from support.second_opinion import PAD_KPA, PAD_MM, Punch, Round, columns, straight

# Poisson's ratio, radius and depth over the thickness, force N, peak pressure kPa.
ROWS = [
    (0, 0.5, 0.02, 0.47, 53.5),
    (0, 0.5, 0.1, 5.64, 123.9),
    (0, 1, 0.02, 0.68, 37.9),
    (0, 1, 0.1, 8.80, 90.2),
    (0, 2, 0.02, 1.01, 27.2),
    (0, 2, 0.1, 14.27, 67.7),
    (0, 5, 0.02, 1.79, 17.9),
    (0, 5, 0.1, 29.32, 50.1),
    (0, 10, 0.02, 2.88, 13.5),
    (0, 10, 0.1, 54.00, 43.8),
    (0.2, 0.5, 0.02, 0.49, 55.6),
    (0.2, 0.5, 0.1, 5.95, 129.6),
    (0.2, 1, 0.02, 0.71, 39.5),
    (0.2, 1, 0.1, 9.36, 94.7),
    (0.2, 2, 0.02, 1.07, 28.5),
    (0.2, 2, 0.1, 15.33, 71.6),
    (0.2, 5, 0.02, 1.90, 18.9),
    (0.2, 5, 0.1, 32.09, 54.1),
    (0.2, 10, 0.02, 3.09, 14.3),
    (0.2, 10, 0.1, 59.76, 48.2),
    (0.3, 0.5, 0.02, 0.52, 58.7),
    (0.3, 0.5, 0.1, 6.36, 137.5),
    (0.3, 1, 0.02, 0.76, 41.8),
    (0.3, 1, 0.1, 10.10, 100.9),
    (0.3, 2, 0.02, 1.14, 30.2),
    (0.3, 2, 0.1, 16.75, 76.8),
    (0.3, 5, 0.02, 2.05, 20.1),
    (0.3, 5, 0.1, 35.91, 59.3),
    (0.3, 10, 0.02, 3.38, 15.3),
    (0.3, 10, 0.1, 68.26, 54.1),
    (0.37, 0.5, 0.02, 0.55, 61.9),
    (0.37, 0.5, 0.1, 6.82, 145.9),
    (0.37, 1, 0.02, 0.81, 44.2),
    (0.37, 1, 0.1, 10.92, 107.6),
    (0.37, 2, 0.02, 1.22, 31.9),
    (0.37, 2, 0.1, 18.38, 82.6),
    (0.37, 5, 0.02, 2.22, 21.4),
    (0.37, 5, 0.1, 40.62, 65.4),
    (0.37, 10, 0.02, 3.71, 16.5),
    (0.37, 10, 0.1, 79.44, 61.6),
]


def pressed(poisson, radius, depth, force):
    body, deep = Round(poisson, radius, depth), min(4.0 * depth, radius)
    reach = min(np.sqrt(2.0 * radius * deep - deep**2), 0.999 * radius) * PAD_MM
    return columns(reach, [straight(PAD_KPA, poisson)], 1000.0 * force, gap=body.gap)


@pytest.mark.parametrize(("poisson", "radius", "depth", "force", "peak"), ROWS)
def test_depth_and_peak_of_every_row_lie_between_low_and_high(poisson, radius, depth, force, peak):
    found = pressed(poisson, radius, depth, force)
    sinks, largest = found.body_motion_mm, found.largest_pressure_kpa
    assert sinks.low < depth * PAD_MM < sinks.high
    assert largest.low < peak < largest.high
    # The values themselves: half as wide as the pad is thick, columns alone were off by 20 to 120 and 30 to 70 %.
    assert sinks.value == pytest.approx(depth * PAD_MM, rel=0.08)
    assert largest.value == pytest.approx(peak, rel=0.13)


@pytest.mark.parametrize("row", ROWS[::8])
def test_the_table_is_what_the_second_program_finds(row):
    poisson, radius, depth, force, peak = row
    found = Round(poisson, radius, depth).pressed(12)
    # Where the edge of a contact of a few nodes falls is worth some percent of the smallest forces.
    assert found.force_mn / 1000.0 == pytest.approx(force, rel=0.02 if depth > 0.05 else 0.04)
    assert float(found.pressure_kpa[0]) == pytest.approx(peak, rel=0.04)


def test_the_bound_closes_as_the_contact_grows_wide():
    """Spheres of the same depth, ever flatter; for the widest what is left of low to high is below a twelfth."""
    apart = []
    for radius in (1.0, 10.0, 40.0, 160.0, 400.0):
        found = Round(0.3, radius, 0.1).pressed(6)
        told = pressed(0.3, radius, 0.1, found.force_mn / 1000.0).body_motion_mm
        assert told.low <= 0.1 * PAD_MM <= told.high or abs(told.value / (0.1 * PAD_MM) - 1.0) < 0.01
        apart.append(told.high / told.low - 1.0)
    assert (np.diff(apart) < 0.0).all() and apart[-1] < 0.08


@pytest.mark.parametrize("poisson", [0.0, 0.2, 0.37, 0.45, 0.48, 0.495])
@pytest.mark.parametrize("width", [0.15, 0.4, 1.0, 2.5])
def test_flat_punches_narrow_and_wide_soft_and_nearly_solid_lie_between_low_and_high(poisson, width):
    """On nearly solid layers columns with two discs alone let a narrow punch sink up to 2.5 times too far."""
    found = Punch(poisson, width).compare(6)
    assert found.columns.low <= found.elements <= found.columns.high
    assert abs(found.off) < 0.25


def test_a_wide_contact_is_pressed_as_before():
    """A punch of three thicknesses: to the last digit what columns M/h alone say."""
    force = 5000.0
    found = columns(3.0 * PAD_MM, [straight(PAD_KPA, 0.37)], force).body_motion_mm.value
    alone = force / (np.pi * (3.0 * PAD_MM) ** 2) / PAD_KPA / float(constrained_ratio(0.37)) * PAD_MM
    assert found == pytest.approx(alone, rel=1e-9)
