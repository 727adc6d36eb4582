"""The ramps seen with the common kinds of color sight and in gray, by a library for color appearance.

Distances are in CAM02-UCS, where 1 is about what is just told apart side by side (Luo, Cui & Li 2006, doi
10.1002/col.20227); the kinds of color sight are those of Machado, Oliveira & Fernandes 2009, doi 10.1109/TVCG.2009.113,
at full strength, which is dichromacy.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.color_spaces import colorspacious

from padwright.core.base.ramps import FIRMNESS, RAMPS, hex_color, ramp_colors

KINDS = ("normal", "deuteranomaly", "protanomaly", "tritanomaly", "gray")
APART = 10.0  # of levels that lie far from each other in a picture: ten times what is told apart side by side
PARTS = 8  # a reader takes a value from a ramp to about an eighth of it


def seen(colors, kind):
    """Return colors (n, 3), sRGB 0 to 1, in CAM02-UCS as one of a kind sees them."""
    colors = np.asarray(colors, dtype=float)
    if kind == "gray":
        lightness = colorspacious.cspace_convert(colors, "sRGB1", "CAM02-UCS")[:, 0]
        return np.column_stack([lightness, np.zeros((len(colors), 2))])
    if kind != "normal":
        space = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
        colors = np.clip(colorspacious.cspace_convert(colors, space, "sRGB1"), 0.0, 1.0)
    return colorspacious.cspace_convert(colors, "sRGB1", "CAM02-UCS")


def rgb(text):
    return [int(text[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]


def least_apart(points):
    away = np.linalg.norm(points[:, None] - points[None], axis=2)
    return away[np.triu_indices(len(points), 1)].min()


@pytest.mark.parametrize("kind", KINDS)
def test_any_two_levels_are_told_apart_and_the_firmer_is_darker(kind):
    levels = seen([rgb(each) for each in FIRMNESS], kind)
    assert least_apart(levels) > APART
    assert (np.diff(levels[:, 0]) < 0.0).all()


@pytest.mark.parametrize("kind", KINDS)
def test_a_ramp_of_values_runs_light_to_dark_in_steps_that_show(kind):
    for ramp, shares in (
        ("one_way", np.linspace(0.0, 1.0, PARTS + 1)),
        ("least", np.linspace(0.05, 1.0, PARTS + 1)),
        ("two_way", np.linspace(0.5, 1.0, PARTS // 2 + 1)),
        ("two_way", np.linspace(0.5, 0.0, PARTS // 2 + 1)),
    ):
        course = seen(ramp_colors(shares, ramp), kind)
        assert (np.diff(course[:, 0]) < 0.0).all(), (ramp, kind)
        assert least_apart(course) > 4.0, (ramp, kind)  # neighbors: four times what is told apart


@pytest.mark.parametrize("kind", [each for each in KINDS if each != "gray"])
def test_the_two_sides_of_a_two_way_ramp_are_told_apart(kind):
    """In gray they are not: it shows how far from zero, and the words beside a picture say which way."""
    for away in (0.25, 0.375, 0.5):
        assert least_apart(seen(ramp_colors(np.array([0.5 - away, 0.5 + away]), "two_way"), kind)) > APART


@pytest.mark.parametrize("kind", [each for each in KINDS if each != "gray"])
def test_what_is_marked_as_least_is_told_from_all_other_values(kind):
    marked, *others = seen(ramp_colors(np.array([0.0, *np.linspace(0.05, 1.0, 40)]), "least"), kind)
    assert np.linalg.norm(others - marked, axis=1).min() > APART


def test_a_gray_copy_of_a_ramp_that_turns_back_is_found():
    """The rule is no empty one: the same colors in another order break it."""
    turned = seen([rgb(FIRMNESS[each]) for each in (0, 2, 1, 3)], "gray")
    assert not (np.diff(turned[:, 0]) < 0.0).all()


def test_stops_are_the_same_in_words_for_a_page_and_in_numbers():
    for ramp, stops in RAMPS.items():
        told = [rgb(hex_color(color)) for _, color in stops]
        assert np.abs(np.array(told) - [color for _, color in stops]).max() <= 0.5 / 255.0 + 1e-12, ramp
