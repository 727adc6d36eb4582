"""Where the pad ends when the clay, or a foam block, goes on far beyond the body."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from tests.support.slabs import sheet, tube

from padwright.core.base.errors import SolveError
from padwright.core.base.progress import drain
from padwright.core.stages.pad.pad import BuiltPad, build_pad
from padwright.core.stages.pad.pad_settings import PadSettings
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.reading.impression_reading import ImpressionReading

HALF = (110.0, 80.0)
RADIUS = 25.0


def flat(x, y):
    return 0.0 * x


def block(x, y):
    """A block 30 mm high into which something round, 50 mm across, sank by 10 mm."""
    edge = np.minimum(100.0 - np.abs(x), 70.0 - np.abs(y))
    sunk = 10.0 * np.clip((RADIUS - np.hypot(x, y)) / 4.0, 0.0, 1.0)
    return np.where(edge > 0.0, 30.0 - sunk, 0.0)


@pytest.fixture(scope="module")
def read() -> tuple:
    base, impression = sheet(flat, HALF, 2.0), sheet(block, HALF, 2.0)
    return base, impression, read_impression(base, impression, press_direction=(0, 0, -1.0), compare_sides=False)


def made(read, margin: float = 8.0, **settings) -> BuiltPad:
    return drain(build_pad(*read, PadSettings(contact_margin_mm=margin, **settings)))


def test_a_pad_pressed_into_a_block_ends_around_the_contact(read):
    pad = made(read, footprint_from="auto")
    # Contact is told from 1.5 mm of depth on, half a mm of the slope's foot is left out: 24.4 mm; the points lie 2 mm
    # apart and the outline on a grid of 1.5 mm.
    reach = np.hypot(pad.mesh.vertices[:, 0], pad.mesh.vertices[:, 1]).max()
    assert reach == pytest.approx(24.4 + 8.0, abs=2.0)
    assert pad.footprint_cm2 == pytest.approx(np.pi * reach**2 / 100.0, rel=0.06)
    (note,) = [note for note in pad.notes if "ends 8 mm around what the body pressed" in note]
    assert "The clay covers 2" in note
    assert pad.mesh.is_closed


@pytest.mark.parametrize(("half_width", "is_refused"), [(12.0, False), (60.0, True)])
def test_a_pad_that_leaves_out_what_the_body_pressed_is_told_or_refused(half_width, is_refused):
    """A furrow from edge to edge, some of it too thin for the thickness asked: nothing thick encloses it."""

    def furrow(x, y):
        deep = np.where(np.abs(x) < half_width, np.where(is_refused | (y > 20.0), 20.0, 5.0), 0.0)
        return np.where((np.abs(x) < 100.0) & (np.abs(y) < 70.0), 30.0 - deep, 0.0)

    base, impression = sheet(flat, HALF, 2.0), sheet(furrow, HALF, 2.0)
    reading = read_impression(base, impression, press_direction=(0, 0, -1.0), compare_sides=False)
    made = build_pad(base, impression, reading, PadSettings(least_thickness_mm=15.0))
    if is_refused:
        with pytest.raises(SolveError, match=r"Only \d+ % of what the body pressed lies on the pad.*15 mm") as caught:
            drain(made)
        assert caught.value.key == ("pad", "least_thickness_mm")
        works = float(re.search(r"Write least_thickness_mm = ([\d.]+):", caught.value.hint)[1])
        assert 4.0 <= works < 15.0
    else:
        (note,) = [note for note in drain(made).notes if "of what the body pressed lies on the pad" in note]
        assert 50.0 < float(note.split(" %")[0].removeprefix("Only ")) < 70.0


def test_a_cover_thicker_than_the_clay_is_blamed_and_not_the_thickness():
    def dished(x, y):
        return np.where((np.abs(x) < 100.0) & (np.abs(y) < 70.0), 30.0 - 18.0 * np.exp(-(x**2 + y**2) / 3000.0), 0.0)

    base, impression = sheet(flat, HALF, 2.0), sheet(dished, HALF, 2.0)
    reading = read_impression(base, impression, press_direction=(0, 0, -1.0), compare_sides=False)
    with pytest.raises(SolveError, match=r"and the cover of 20 mm, is thinner") as caught:
        drain(build_pad(base, impression, reading, PadSettings(least_thickness_mm=3.0, cover_mm=20.0)))
    assert caught.value.key == ("pad", "cover_mm") and "Lower pad.cover_mm (0 to 3 mm is usual)" in caught.value.hint
    assert drain(build_pad(base, impression, reading, PadSettings(least_thickness_mm=3.0, cover_mm=3.0))).mesh.is_closed


def test_clay_cut_to_the_part_stays_whole(read):
    whole = made(read, footprint_from="clay")
    assert whole.footprint_cm2 == pytest.approx(200.0 * 140.0 / 100.0, rel=0.03)
    assert made(read, 60.0, footprint_from="auto").footprint_cm2 == pytest.approx(whole.footprint_cm2, rel=1e-9)
    assert made(read, 40.0, footprint_from="contact").footprint_cm2 < 0.8 * whole.footprint_cm2


def test_without_contact_it_is_refused_only_where_it_was_asked(read):
    base, impression, reading = read
    bare: ImpressionReading = replace(reading, is_contact=np.zeros_like(reading.is_contact))
    with pytest.raises(SolveError, match="no place was pressed deep enough"):
        made((base, impression, bare), footprint_from="contact")
    assert made((base, impression, bare), footprint_from="auto").footprint_cm2 > 250.0


def test_a_sleeve_ends_around_the_contact_too():
    def handle(z, a):
        return 15.0 + 0.0 * z

    def sleeve(z, a):
        along = np.clip((z - 15.0) / 1.5, 0, 1) * np.clip((105.0 - z) / 1.5, 0, 1)
        away = np.hypot(z - 60.0, 24.0 * ((a + np.pi) % (2 * np.pi) - np.pi))
        return 15.0 + along * (9.0 - 4.0 * np.clip((18.0 - away) / 6.0, 0, 1))

    base, impression = tube(handle, 120.0, 1.5), tube(sleeve, 120.0, 1.5)
    reading = read_impression(base, impression, press_direction="inward", clay_thickness_mm=9.0)
    settings = {"least_thickness_mm": 3.0, "rim_radius_mm": 1.5, "footprint_from": "contact"}
    pad = made((base, impression, reading), 6.0, **settings)
    assert pad.mesh.is_closed
    # The contact is about 16 mm around its middle, and the margin 6 mm.
    assert np.abs(pad.mesh.vertices[:, 2] - 60.0).max() == pytest.approx(22.0, abs=3.0)
    assert pad.mesh.vertices[:, 0].min() > 0.0
