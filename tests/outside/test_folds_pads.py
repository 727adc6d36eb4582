"""Whole small pads as the product lays them out, in shell elements, against what it says of them."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from padwright.core.base.progress import drain
from padwright.core.stages.folds.layout import FoldWishes, lay_out
from support.fold_shells import PadShells
from support.laid_pads import LaidPad
from support.pad_shapes import box_pad

KPA = 18.0


@cache
def pad() -> tuple[LaidPad, PadShells]:
    """A box of 120 x 100 mm with a core of 20 mm and walls that lean alike wherever they have room."""
    wishes = FoldWishes(width_mm=1.35, pitch_mm=6.0, body_skin_mm=1.35, base_skin_mm=1.35)
    layout = drain(lay_out(box_pad((120.0, 100.0, 22.7), step=4.0), wishes))
    slope = np.where(layout.is_core, np.minimum(31.0, layout.slope_limit_deg), 0.0)
    laid = LaidPad(layout, slope)
    return laid, laid.shells(cell_mm=3.0, size_mm=4.0)


def near(places: np.ndarray, laid: LaidPad, radius_mm: float) -> np.ndarray:
    """Which places lie about the middle."""
    return np.hypot(*(places - laid.places.mean(axis=0)).T) < radius_mm


def test_in_the_middle_it_gives_as_told() -> None:
    """10 %: three elements from foot to fold are 6 % too stiff."""
    laid, shells = pad()
    give = shells.give_mm(KPA)[near(shells.skin[0].points[:, :2], laid, 12.0)].mean()
    told = laid.told_give_mm(KPA)[near(laid.runs.node_mm, laid, 12.0)].mean()
    assert told == pytest.approx(give, rel=0.1)


def test_on_the_whole_it_gives_as_told_and_columns_side_by_side_would_give_a_seventh_more() -> None:
    """Walls even out along their run: beside a stiff rim they give less than columns would. 10 % as above."""
    laid, shells = pad()
    give = np.average(shells.give_mm(KPA), weights=shells.node_mm2)
    told = np.average(laid.told_give_mm(KPA), weights=laid.runs.area_mm2)
    assert told == pytest.approx(give, rel=0.1)
    assert np.mean(KPA / laid.told_kpa_mm) > 1.13 * give


def test_a_place_pressed_alone_gives_as_told() -> None:
    """A disk of 22 mm in the middle, and one that lies along the walls' run from there. 20 %: the skin bends across the
    walls, over 10 mm about, which the product leaves out. Columns would give half as much again.
    """
    laid, shells = pad()
    flat, runs = shells.skin[0].points[:, :2], laid.runs
    for off in (0.0, 25.0):
        here, there = (
            np.hypot(*(at - laid.places.mean(axis=0) - np.array([0.0, off])).T) < 22.0 for at in (flat, runs.node_mm)
        )
        force = KPA * np.array([shells.node_mm2[here].sum(), runs.area_mm2[there].sum()])
        give = np.average(shells.give_mm(np.where(here, KPA, 0.0))[here], weights=shells.node_mm2[here]) / force[0]
        told = np.average(laid.told_give_mm(np.where(there, KPA, 0.0))[there], weights=runs.area_mm2[there]) / force[1]
        assert told == pytest.approx(give, rel=0.2)
        inside = np.hypot(*(laid.places - laid.places.mean(axis=0) - np.array([0.0, off])).T) < 22.0
        assert (KPA / laid.told_kpa_mm)[inside].mean() / force[1] > 1.4 * give


def test_it_stands_as_told() -> None:
    """No way aside comes before the walls' own ways; the sheet says it bears more than those, and at least twice."""
    laid, shells = pad()
    margins, aside = shells.sway_margin(KPA, 2)
    assert (aside < 0.05).all()
    assert laid.sway(KPA).margin.value > margins[-1] > 1.5


def test_a_rim_is_as_dense_in_walls_as_told() -> None:
    """Under a level plate the frame's strip, 12 mm wide, bears what is told: 20 %, its corners and the rows' ends. With
    walls a pitch apart everywhere it would be told a quarter less.
    """
    laid, shells = pad()
    layout = laid.layout
    area = shells.node_mm2
    place = layout.columns.nearest(shells.skin[0].points[:, :2])
    is_rim = layout.border.distance_mm[place] < 12.0
    borne = shells.plate_kpa_mm() * area
    told = laid.told_kpa_mm
    told_rim = layout.border.distance_mm.flat[laid.cells] < 12.0
    share = borne[is_rim].sum() / area[is_rim].sum()
    assert told[told_rim].mean() == pytest.approx(share, rel=0.2)
    even = layout.pitch_mm / layout.pitch_at_mm.flat[laid.cells]
    assert even[told_rim].mean() > 1.2
    assert even[layout.border.distance_mm.flat[laid.cells] > 25.0].mean() == pytest.approx(1.0, abs=0.05)
