"""The pad is as accurate as its scans, however coarse their triangles, and says what was measured on it."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.slabs import noisy, reading_of, sheet

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.geometry.implicit import Grid
from padwright.core.geometry.samples import surface_samples
from padwright.core.stages.pad.fit_numbers import surface_gap
from padwright.core.stages.pad.pad import BuiltPad, build_pad
from padwright.core.stages.pad.pad_settings import BaseOnly, PadSettings
from padwright.core.stages.pad.pad_surface import BASE, BODY, extract_surface
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.zones.zone_sources import Outline, Rest
from padwright.core.stages.zones.zones import ZoneRequest, plan_zones

DOWN = np.array([0.0, 0.0, -1.0])
HALF = (60.0, 45.0)


def flat(x, y):
    return 0.0 * x


def clay(x, y):
    """A slab 20 mm thick with steep flanks and a dent of 6 mm."""
    edge = np.minimum(45.0 - np.abs(x), 30.0 - np.abs(y))
    return np.where(edge > 0.0, 20.0 - 6.0 * np.exp(-((x - 10.0) ** 2 + y**2) / (2.0 * 15.0**2)), 0.0)


def box(half, low, high) -> TriMesh:
    corner = np.array([[x, y, z] for x in (-half[0], half[0]) for y in (-half[1], half[1]) for z in (low, high)])
    faces = [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6], [0, 2, 6]]
    return TriMesh(corner, np.array([*faces, [0, 6, 4], [1, 5, 7], [1, 7, 3]]))


@pytest.fixture(scope="module")
def coarse() -> tuple[BuiltPad, TriMesh]:
    base, impression = sheet(flat, HALF, 7.5), sheet(clay, HALF, 7.5)
    reading = read_impression(base, impression, press_direction=DOWN, compare_sides=False)
    return drain(build_pad(base, impression, reading, PadSettings())), impression


def test_coarse_triangles_do_not_set_the_pads_accuracy(coarse):
    pad, _ = coarse
    assert pad.averaging_mm <= 2.0 and pad.step_mm <= 1.5
    inner = (pad.side == BASE) & (np.abs(pad.mesh.vertices[:, :2]) < (40.0, 25.0)).all(axis=1)
    # The base is flat; evening the triangles moves a vertex along it, and back onto it to a hundredth of a step.
    assert np.abs(pad.mesh.vertices[inner, 2] - 0.4).max() < 0.015
    assert np.allclose(pad.base_gap_mm, 0.4, atol=0.02)
    assert any("base scan is coarse: its triangles are 7.5 mm across" in note for note in pad.notes)
    assert any("impression scan is coarse" in note for note in pad.notes)


def test_a_zone_keeps_its_area_on_coarse_scans(coarse):
    pad, impression = coarse
    points = np.array([[-35.0, -20.0, 20.0], [-10.0, -20.0, 20.0], [-10.0, 20.0, 20.0], [-35.0, 20.0, 20.0]])
    requests = [ZoneRequest("zone", 4, Outline(points)), ZoneRequest("rest", 2, Rest())]
    zone = plan_zones(pad, None, requests, impression=impression).zones[0]
    # 25 x 40 mm; its corners are rounded over 2.5 mm, and its border is known to half a triangle of the pad.
    assert zone.area_mm2 == pytest.approx(1000.0, abs=0.75 * 130.0)


def test_fine_scans_are_not_called_coarse_and_the_gap_is_that_of_the_finished_mesh():
    base, impression = noisy(sheet(flat, HALF, 1.5), 0.2, 1), noisy(sheet(clay, HALF, 1.5), 0.2, 2)
    pad = drain(build_pad(base, impression, reading_of(base, impression, DOWN), PadSettings(cover_mm=0.5)))
    assert not any("coarse" in note for note in pad.notes)
    low, middle, high = pad.base_gap_mm
    # The scan's triangles scatter by 0.2 mm at their corners, by less within; what averaging leaves adds to it.
    assert middle == pytest.approx(0.4, abs=0.03)
    assert 0.15 < 0.5 * (high - low) < 1.645 * np.hypot(0.2, 0.1)
    assert pad.body_gap_mm[1] == pytest.approx(0.0, abs=0.05)
    shifted = surface_gap(pad.mesh.vertices[pad.side == BASE] + [0.0, 0.0, 1.0], base, base.boundary_edges, 0.0)
    assert shifted[1] == pytest.approx(1.4, abs=0.05)


def test_samples_stand_for_the_whole_surface_and_stay_few():
    far = np.array([[0.0, 0.0, 0.0], [1e6, 0.0, 0.0], [0.0, 1e6, 0.0]])
    samples = surface_samples(TriMesh(far, np.array([[0, 1, 2]])), 1.0, np.zeros(3), np.full(3, 50.0))
    assert samples.area.sum() == pytest.approx(5e11, rel=1e-9)
    # The box alone takes 50 x 50 / 0.3 pieces; the surface around it doubles 20 times to a million mm.
    assert len(samples.point) < 60_000
    inside = (samples.point[:, :2] < 50.0).all(axis=1)
    assert samples.area[inside].sum() == pytest.approx(2500.0, rel=0.05)


def test_of_several_bodies_the_main_one_stays_and_small_hollows_are_filled():
    grid = Grid.around(np.full(3, -20.0), np.full(3, 20.0), 1.0)
    x, y, z = (axis + start for axis, start in zip(grid.axes, grid.origin, strict=True))
    field = (np.sqrt(x**2 + y**2 + z**2) - 12.0).astype(np.float32)
    plain, none = extract_surface(field, grid)
    field[38, 38, 38] = -0.2
    field[20, 20, 20] = 0.2
    mesh, left_out = extract_surface(field, grid)
    assert none == 0.0 and 0.0 < left_out < 1.0
    assert mesh.is_closed and len(mesh.vertices) == len(plain.vertices)
    # A hollow as large as a base within the pad belongs to it.
    hollow = np.maximum(np.sqrt(x**2 + y**2 + z**2) - 12.0, 6.0 - np.sqrt(x**2 + y**2 + z**2)).astype(np.float32)
    shell, _ = extract_surface(hollow, grid)
    # Marching cubes on 1 mm takes chords of a sphere of 6 mm: some 1 % of its volume.
    assert shell.volume == pytest.approx(4.0 / 3.0 * np.pi * (12.0**3 - 6.0**3), rel=0.01)


def test_rim_and_field_are_told_apart():
    base, impression = sheet(flat, HALF, 1.5), sheet(clay, HALF, 1.5)
    pad = drain(build_pad(base, impression, reading_of(base, impression, DOWN), PadSettings()))
    # The dent leaves 14 mm, less the gap of 0.4; the kernel takes 0.1 mm of a dent this wide.
    assert pad.least_thickness_mm == pytest.approx(13.6, abs=0.15)
    # At the sharp shoulder of the slab, 19.6 mm over the gap, the kernel stands out by less than half its width.
    assert pad.rim_thickness_mm < 18.5 < pad.greatest_thickness_mm < 19.6 + 0.5 * pad.averaging_mm


@pytest.mark.parametrize("seed", [1, 2])
def test_the_field_is_nowhere_thinner_than_asked(seed):
    def pressed(x, y):
        return np.maximum(clay(x, y) - 15.0 * np.exp(-((x + 15.0) ** 2 + y**2) / 100.0), 0.0)

    base, impression = noisy(sheet(flat, HALF, 1.2), 0.2, seed), noisy(sheet(pressed, HALF, 1.2), 0.2, seed + 10)
    pad = drain(build_pad(base, impression, reading_of(base, impression, DOWN), PadSettings(least_thickness_mm=8.0)))
    assert pad.thickened_cm2 > 1.0
    assert 8.0 <= pad.least_thickness_mm < 8.3


def envelope_pad(least: float, **settings) -> BuiltPad:
    wanted = PadSettings(envelope=box((20.0, 15.0), -5.0, 22.4), rim_radius_mm=0.0, base_edge_radius_mm=0.0,
                         least_thickness_mm=least, **settings)  # fmt: skip
    return drain(build_pad(sheet(flat, HALF, 2.0), None, BaseOnly(DOWN), wanted))


def test_an_envelope_has_a_thickness_and_is_held_against_what_was_asked():
    pad = envelope_pad(4.0)
    assert pad.least_thickness_mm == pytest.approx(22.0, abs=0.1)
    with pytest.raises(InputError, match=r"less base and body, is nowhere 100 mm thick; the most is 22\.0 mm"):
        envelope_pad(100.0)


def test_an_envelope_thinner_in_places_is_told():
    base = sheet(lambda x, y: np.where(x > 5.0, 19.0, 0.0), HALF, 1.0)
    wanted = PadSettings(envelope=box((20.0, 15.0), -5.0, 22.4), rim_radius_mm=0.0, base_edge_radius_mm=0.0)
    pad = drain(build_pad(base, None, BaseOnly(DOWN), wanted))
    # Beside the sharp step the kernel, 1.2 mm wide, stands out by up to half its width.
    assert pad.least_thickness_mm == pytest.approx(3.0, abs=0.5 * pad.averaging_mm)
    (note,) = [note for note in pad.notes if "thinner than the 4 mm asked" in note]
    area = float(note.split("Over ")[1].split(" cm2")[0])
    # 15 x 30 mm lie over the step, less two grid steps along the outline that count as its rim.
    assert 2.5 < area < 4.5


def test_an_envelope_around_a_handle_has_a_thickness_too():
    from tests.support.slabs import tube

    base = tube(lambda z, a: 12.0 + 0.0 * z, 90.0, 1.5)
    wanted = PadSettings(envelope=box((20.0, 20.0), 20.0, 70.0), rim_radius_mm=0.0, base_edge_radius_mm=0.0)
    pad = drain(build_pad(base, None, BaseOnly(None), wanted))
    # From the middle of a side of the box to the handle, less the gap.
    assert pad.least_thickness_mm == pytest.approx(20.0 - 12.4, abs=0.3)
    assert (pad.side == BODY).any()
