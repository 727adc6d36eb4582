"""Openings, channels and drawn footprints on a sleeve around a rod, against formulas."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from tests.support.slabs import reading_of, sheet, tube

from padwright.core.base.progress import drain
from padwright.core.stages.pad.pad import BuiltPad, build_pad
from padwright.core.stages.pad.pad_settings import BaseOnly, PadSettings
from padwright.core.stages.pad.pad_surface import BODY
from padwright.core.stages.pad.relief import PlacedRelief
from padwright.core.stages.reading.starts import across, laid_on, line_within

ROD, CLAY, GAP = 14.0, 24.0, 0.4
TURN = 2.0 * np.pi * np.arange(32) / 32


def rod(z, a):
    return ROD + 0.0 * z


def clay(z, a):
    return ROD + (CLAY - ROD) * np.clip(z - 15.0, 0, 1) * np.clip(75.0 - z, 0, 1)


def made(**settings) -> BuiltPad:
    base, impression = tube(rod, 90, 1.2), tube(clay, 90, 1.2)
    asked = PadSettings(least_thickness_mm=3.0, rim_radius_mm=1.0, base_edge_radius_mm=1.0, **settings)
    return drain(build_pad(base, impression, reading_of(base, impression, None), asked))


@pytest.fixture(scope="module")
def plain() -> BuiltPad:
    return made()


def ring(across_mm: float, along_mm: float, radius: float) -> np.ndarray:
    """Return an ellipse laid on the sleeve's side towards +x."""
    y = across_mm * np.cos(TURN)
    return np.stack([np.sqrt(radius**2 - y**2), y, 45.0 + along_mm * np.sin(TURN)], axis=1)


def within(across_mm: float, along_mm: float) -> float:
    """Return the sleeve's volume on one side within an ellipse seen along x, mm3."""

    def slice_mm2(y: float) -> float:
        through = np.sqrt(CLAY**2 - y**2) - np.sqrt(max((ROD + GAP) ** 2 - y**2, 0.0))
        return float(2.0 * along_mm * np.sqrt(1.0 - (y / across_mm) ** 2) * through)

    return float(quad(slice_mm2, -across_mm, across_mm)[0])


def handles(pad: BuiltPad) -> int:
    return 1 - (len(pad.mesh.vertices) - len(pad.mesh.faces) // 2) // 2


@pytest.mark.parametrize(
    ("across_mm", "along_mm", "radius"),
    [
        (5, 5, CLAY),  # narrower than the pad is thick
        (12, 12, CLAY),
        (5, 5, 27.0),  # drawn in the air
        (8, 8, ROD),  # drawn on the base
        (18, 8, CLAY),  # wider than the rod
        (5, 20, CLAY),
    ],
)
def test_an_opening_goes_through_one_side_whole(plain, across_mm, along_mm, radius):
    pad = made(reliefs=[PlacedRelief("opening", ring(across_mm, along_mm, radius), edge_radius_mm=1.0)])
    assert handles(plain) == 1 and handles(pad) == 2  # a sleeve, and a sleeve with one hole
    # Rounding of two edges takes at most (1 - pi / 4) mm2 each along the ellipse's girth; the grid a hundredth.
    girth = 2.0 * np.pi * max(across_mm, along_mm)
    taken = plain.mesh.volume - pad.mesh.volume
    expected = within(across_mm, along_mm)
    assert 0.99 * expected < taken < 1.01 * expected + 2.0 * 0.22 * girth * 1.5  # steep where the sleeve turns away


@pytest.mark.parametrize(("width", "depth"), [(6.0, 4.0), (6.0, 8.0), (12.0, 4.0)])
@pytest.mark.parametrize("radius", [22.0, CLAY, 26.0])
def test_a_channel_is_as_deep_and_wide_as_asked_wherever_near_the_surface_it_was_drawn(plain, width, depth, radius):
    line = np.stack([np.full(5, radius), np.zeros(5), np.linspace(30.0, 60.0, 5)], axis=1)
    pad = made(reliefs=[PlacedRelief("channel", line, width_mm=width, depth_mm=depth, edge_radius_mm=1.0)])
    x, y, z = pad.mesh.vertices.T
    floor = np.hypot(x, y)[(np.abs(y) < 1.0) & (x > ROD + 1.0) & (np.abs(z - 45.0) < 10.0)]
    assert floor.mean() == pytest.approx(CLAY - depth, abs=0.5)  # a third of a grid step
    # Between a groove with a half round bottom and a rectangle with round ends and rounded edges.
    taken, low = plain.mesh.volume - pad.mesh.volume, 30.0 * (width * depth - (1 - np.pi / 4) * width**2 / 2)
    assert 0.9 * low < taken < 1.1 * (30.0 * width + np.pi * width**2 / 4) * depth


def test_a_channel_through_a_sleeve_is_told():
    line = np.stack([np.full(5, CLAY), np.zeros(5), np.linspace(30.0, 60.0, 5)], axis=1)
    notes = [
        note
        for depth in (4.0, 14.0)
        for note in made(reliefs=[PlacedRelief("channel", line, width_mm=8.0, depth_mm=depth)]).notes
        if "goes right through" in note
    ]
    assert len(notes) == 1
    told = float(notes[0].split(" cm2")[0].rsplit(" ", 1)[1])
    # 30 mm of 8 mm with round ends, on the base narrower by its radius over the sleeve's.
    assert 0.5 * 2.9 * ROD / CLAY < told < 2.9


def test_a_footprint_around_the_base_keeps_both_sides_and_one_laid_on_it_its_own(plain):
    around = np.stack([0.0 * TURN, 30.0 * np.cos(TURN), 45.0 + 40.0 * np.sin(TURN)], axis=1)
    assert made(outline=around).mesh.volume > 0.99 * plain.mesh.volume
    patch = made(outline=ring(10, 20, CLAY))
    assert patch.mesh.bounds[0, 0] > 0.0
    assert patch.mesh.volume == pytest.approx(within(10, 20), rel=0.06)  # less its rounded rim: 100 mm of it


@pytest.mark.parametrize("press", [(0.0, 0.0, -1.0), None])
def test_a_channel_is_cut_into_an_envelope_that_no_body_meets(press):
    def flat(x, y):
        return 0.0 * x

    def top(x, y):
        return 0.0 * x + 12.0

    base, upper = sheet(flat, (40.0, 40.0), 1.2), sheet(top, (20.0, 20.0), 20.0)
    low = np.array([0.0, 0.0, 18.0])
    lower = upper.vertices - low
    rim = upper.boundary_edges.astype(int)
    count = len(upper.vertices)
    walls = np.concatenate([np.stack([rim[:, 1], rim[:, 0], rim[:, 0] + count], 1),
                            np.stack([rim[:, 1], rim[:, 0] + count, rim[:, 1] + count], 1)])  # fmt: skip
    solid = type(upper)(
        np.concatenate([upper.vertices, lower]), np.concatenate([upper.faces, upper.faces[:, ::-1] + count, walls])
    )
    assert solid.is_closed and solid.volume > 0.0
    line = np.array([[-10.0, 0.0, 12.0], [10.0, 0.0, 12.0]])
    reliefs = [PlacedRelief("channel", line, width_mm=6.0, depth_mm=4.0, edge_radius_mm=1.0)]
    reading = BaseOnly(press_direction=None if press is None else np.array(press))
    pads = [
        drain(build_pad(base, None, reading, PadSettings(envelope=solid, resolution_mm=0.8, reliefs=asked)))
        for asked in ([], reliefs)
    ]
    taken = pads[0].mesh.volume - pads[1].mesh.volume
    # A groove's bottom is rounded by half its width at the most; its ends are half rounds.
    assert 0.8 * 20.0 * (6.0 * 4.0 - 0.43 * 9.0) < taken < 1.1 * (20.0 * 6.0 + np.pi * 9.0) * 4.0
    floor = np.abs(pads[1].mesh.vertices - (0.0, 0.0, 8.0)).max(axis=1) < 1.5
    assert floor.any() and (pads[1].side[floor] == BODY).all()


def test_a_line_starts_within_the_crest_that_it_is_laid_on():
    """A sleeve cut aslant: its flanks reach 20 mm farther than its crest."""
    angle, share = np.meshgrid(np.linspace(-1.4, 1.4, 60), np.linspace(0.0, 1.0, 80), indexing="ij")
    along = share * (60.0 + 25.0 * (1.0 - np.cos(angle)))
    points = np.stack([along, CLAY * np.sin(angle), CLAY * np.cos(angle)], axis=-1).reshape(-1, 3)
    middle = np.array([57.0, 0.0, CLAY])
    frame = across(points, np.array([0.0, 0.0, 1.0]))
    line = laid_on(points, frame, middle, line_within(points, frame, middle, 30.0), 0.0)
    assert np.ptp(line[:, 0]) == pytest.approx(30.0)
    assert line[:, 0].max() < 61.5  # the eight points are up to a mm apart
    short = line_within(points, frame, middle, 500.0)
    assert np.ptp(short[:, 0]) == pytest.approx(60.0, abs=1.5)
