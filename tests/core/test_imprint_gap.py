"""Where the pad lies below or above the imprint, and what of the body it carries there."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.patches import avalle
from tests.support.slabs import reading_of, sheet, tube

from padwright.core.base.progress import drain
from padwright.core.stages.load.contact import LoadResult, check_load
from padwright.core.stages.load.load_case import ContactPatch, LoadCase, patch_of
from padwright.core.stages.pad.pad import BuiltPad, PadSettings, build_pad
from padwright.core.stages.pad.relief import PlacedRelief

DOWN = (0.0, 0.0, -1.0)
HALF = (48.0, 38.0)
GROOVE = PlacedRelief("channel", np.array([[-20.0, 8.0, 12.0], [20.0, 8.0, 12.0]]), width_mm=6.0, depth_mm=4.0)


def clay(x, y):
    """A slab 12 mm thick with steep flanks and one dent of 5 mm."""
    edge = np.minimum(36.0 - np.abs(x), 26.0 - np.abs(y))
    return np.clip(edge / 1.5 + 0.5, 0.0, 1.0) * (12.0 - 5.0 * np.exp(-(x**2 + y**2) / 200.0))


def pad_of(**settings) -> BuiltPad:
    base, impression = sheet(lambda x, y: 0 * x, HALF, 1.2), sheet(clay, HALF, 1.2)
    return drain(build_pad(base, impression, reading_of(base, impression, DOWN), PadSettings(**settings)))


def inner(pad: BuiltPad) -> np.ndarray:
    return pad.is_through & (np.abs(pad.mesh.vertices[:, :2]) < (30.0, 20.0)).all(axis=1)


def pressed(pad: BuiltPad, force_n: float = 60.0) -> tuple[ContactPatch, LoadResult]:
    in_tail = (np.abs(pad.mesh.vertices[:, :2] - (0.0, 8.0)) < (24.0, 8.0)).all(axis=1)
    is_contact = pad.is_through & (np.abs(pad.mesh.vertices[:, :2]) < (34.0, 24.0)).all(axis=1)
    patch, _ = patch_of(
        pad.mesh, is_contact, pad.thickness, in_tail.astype(int), pad.press_direction, gap_mm=pad.gap_mm
    )
    return patch, check_load(LoadCase(force_n=force_n), patch, [avalle(3.0)] * 2, zone_names=["rest", "tail"])


@pytest.fixture(scope="module")
def plain() -> BuiltPad:
    return pad_of()


@pytest.mark.parametrize("cover", [0.0, 1.5])
def test_where_the_pad_is_the_imprint_or_room_for_a_cover_there_is_no_gap(cover):
    pad = pad_of(cover_mm=cover)
    # A thousandth of a millimeter: what is left of moving the vertices onto the surface.
    assert np.abs(pad.gap_mm[inner(pad)]).max() < 2e-3


def test_over_a_groove_the_gap_is_its_depth():
    pad = pad_of(reliefs=[GROOVE])
    x, y, _ = pad.mesh.vertices.T
    floor = inner(pad) & (np.abs(x) < 15.0) & (np.abs(y - 8.0) < 0.7)
    # The groove's floor is round (its width is less than twice its depth), so off its middle it is a bit less deep.
    assert floor.sum() > 20
    assert np.abs(pad.gap_mm[floor] - 4.0).max() < 0.3
    far = inner(pad) & (np.abs(y - 8.0) > 6.0)
    assert np.abs(pad.gap_mm[far]).max() < 2e-3


def test_where_the_pad_was_made_thicker_it_stands_into_the_body():
    pad = pad_of(least_thickness_mm=9.0)
    x, y, _ = pad.mesh.vertices.T
    middle = inner(pad) & (np.hypot(x, y) < 2.0)
    # 7 mm of clay in the middle of the dent; the base side is 0.4 mm off the base: 9.4 mm stand there, and up to 0.15
    # grid steps more, which the thickened layer is given so that no place comes out thinner than asked.
    stands_in = clay(x, y)[middle] - pad.gap_mm[middle]
    assert 9.4 <= stands_in.min() and stands_in.max() < 9.4 + 0.25 * pad.step_mm
    patch, result = pressed(pad)
    first = patch.gaps < 0.2
    assert np.hypot(*patch.position[first, :2].T).max() < 5.0
    assert result.pressure_kpa[first].min() > result.pressure_kpa[~first].mean()


def test_around_a_grip_the_gap_is_the_distance():
    base = tube(lambda z, a: 10.0 + 0 * z + 0 * a, 80.0, 1.2)
    clay_on_it = np.array([20.0, 60.0])

    def outside(z, a):
        return 10.0 + 6.0 * ((z > clay_on_it[0]) & (z < clay_on_it[1])) + 0 * a

    impression = tube(outside, 80.0, 1.2)
    ring = np.array([[16.0 * np.cos(a), 16.0 * np.sin(a), 40.0] for a in np.linspace(0, 2 * np.pi, 90)])
    settings = PadSettings(
        least_thickness_mm=3.0, rim_radius_mm=1.0, reliefs=[PlacedRelief("channel", ring, width_mm=5.0, depth_mm=2.0)]
    )
    pad = drain(build_pad(base, impression, reading_of(base, impression, None), settings))
    z = pad.mesh.vertices[:, 2]
    groove, far = pad.is_through & (np.abs(z - 40.0) < 0.5), pad.is_through & (np.abs(z - 30.0) < 4.0)
    assert np.abs(pad.gap_mm[groove] - 2.0).max() < 0.25
    assert np.abs(pad.gap_mm[far]).max() < 2e-3


def test_a_groove_takes_pressure_off(plain):
    with_groove = pad_of(reliefs=[GROOVE])
    (_, before), (patch, after) = pressed(plain), pressed(with_groove)
    tail = [result.zones[1] for result in (before, after)]
    assert tail[1].mean_pressure_kpa.value < 0.8 * tail[0].mean_pressure_kpa.value
    assert tail[1].share.value < tail[0].share.value
    assert (after.pressure_kpa[patch.gaps > 2.0] == 0.0).all()
    assert after.contact_area_cm2.value < before.contact_area_cm2.value - 1.5
    assert any("nothing bears there" in note for note in after.notes)
    assert not any("nothing bears there" in note for note in before.notes)


def test_the_deeper_and_wider_the_groove_the_less_its_zone_bears():
    shares = []
    for width, depth in ((3.0, 1.0), (6.0, 3.0), (10.0, 5.0)):
        relief = PlacedRelief("channel", GROOVE.points, width_mm=width, depth_mm=depth)
        shares.append(pressed(pad_of(reliefs=[relief]))[1].zones[1].share.value)
    assert shares[0] > shares[1] > shares[2]
