"""Distances between scans, against surfaces of known shape."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.base.progress import drain
from padwright.core.stages.alignment.align import align_scans
from padwright.core.stages.alignment.distances import distances_to_base
from padwright.core.stages.alignment.evidence import alignment_facts
from support.cases import make_case
from support.scanned import grid, sphere

AGREED = SimpleNamespace(rms_mm=0.1)


def test_distances_to_a_ball_are_signed_radii():
    ball = sphere(30.0, 60, 120)
    random = np.random.default_rng(1)
    ways = random.normal(size=(500, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    radius = random.uniform(25.0, 40.0, 500)
    found = distances_to_base(ball, radius[:, None] * ways, AGREED)
    # The facets of the inscribed ball lie up to r (1 - cos(pi / 60)) = 0.04 mm within it. From 1.83 of its longest
    # edges on its corners are asked: from d away by edge^2 / 6 d too far at the most (`FootSurface`).
    edge, away = float(ball.edge_lengths.max()), np.abs(radius - 30.0)
    off = np.abs(found.values_mm) - away
    is_near = away < 1.8 * edge - 0.05
    assert 0.3 < is_near.mean() < 0.7
    assert np.abs(off[is_near]).max() < 0.05
    assert -0.05 < off[~is_near].min() and (off < 0.05 + edge**2 / 6.0 / away).all()
    assert (np.sign(found.values_mm) == np.sign(radius - 30.0)).all()
    assert not found.is_beyond.any()


def test_signs_are_right_beside_a_sharp_ridge():
    # Of a roof with slopes of 2, whose nearest face to a place above the ridge may look away from it.
    roof = grid(np.array([-10.0, 0.0, 10.0]), np.array([-10.0, 0.0, 10.0]), lambda x, y: -2.0 * np.abs(x))
    found = distances_to_base(roof, np.array([[0.0, 0.0, 1.0], [0.4, 0.0, 0.5], [0.0, 0.0, -1.0]]), AGREED)
    assert found.values_mm[:2] == pytest.approx([1.0, np.hypot(0.4, 0.5)])
    assert found.values_mm[2] == pytest.approx(-1.0 / np.sqrt(5.0))  # to the slope, by the right triangle


def test_what_lies_beside_the_scanned_base_is_beyond_it():
    sheet = grid(np.linspace(-10, 10, 9), np.linspace(-10, 10, 9), lambda x, y: 0.0 * x)
    points = np.array([[0.0, 0.0, 0.3], [0.0, 9.9, -0.2], [14.0, 0.0, -0.1], [0.0, 0.0, -3.0]])
    found = distances_to_base(sheet, points, AGREED)
    assert found.is_beyond.tolist() == [False, False, True, False]
    assert found.values_mm == pytest.approx([0.3, -0.2, np.hypot(4.0, 0.1), -3.0])
    assert found.limit_mm == 0.5
    assert (found.share_within, found.share_inside) == pytest.approx((2 / 3, 1 / 3))


@pytest.fixture(scope="module")
def aligned():
    case = make_case("seat", triangles=12_000, noise_mm=0.1, pose="small", turntable=False)
    return case, drain(align_scans(case.base_mm, case.impression_mm))


def test_an_aligned_impression_lies_on_the_base_or_outside(aligned):
    case, found = aligned
    right = distances_to_base(case.base_mm, case.impression_mm.transformed(found.matrix).vertices, found)
    assert right.share_inside < 0.01 and right.share_within > 0.2
    raised = case.impression_mm.transformed(found.matrix).vertices - 5.0 * _up(case)
    assert distances_to_base(case.base_mm, raised, found).share_inside > 0.2


def _up(case):
    return -case.press_direction_in_base


def test_how_sure_it_is_in_words(aligned):
    _, found = aligned
    lines = alignment_facts(found)
    assert lines[0] == f"95 % of the gaps between them are below {found.p95_mm:.2f} mm."
    assert lines[1].startswith("All six motions are held; the least firm is the ")
    assert lines[-1].startswith("How sure: ")


def test_every_loose_motion_is_told(aligned):
    from dataclasses import replace

    _, found = aligned
    motions = tuple(replace(each, is_loose=number < 2, reach_mm=1.5) for number, each in enumerate(found.motions))
    lines = alignment_facts(
        replace(found, motions=motions, loosest=motions[0].name, method="pairs", pair_misses_mm=(0.2, 0.7))
    )
    assert [line for line in lines if line.startswith("Loose")] == [
        f"Loose: {each.name}, up to 1.5 mm." for each in motions[:2]
    ]
    assert lines[-1] == "How sure: by 2 picked pairs, at most 0.70 mm left at one."
