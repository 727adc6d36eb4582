"""Balls pressed into virtual clay against known solutions: plastic indentation, elastic foundation, squeezed films."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.scanned import grid, sphere

from padwright.core.base.mesh import TriMesh
from padwright.core.stages.body.clay_bed import ClayBed, lay_clay
from padwright.core.stages.body.clay_ways import EDGE
from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.body.press_clay import BodyOnClay, press_by_strength, press_to_depth

DOWN, UP = np.array([0.0, 0.0, -1.0]), np.array([0.0, 0.0, 100.0])
RADIUS = 60.0


@pytest.fixture(scope="module")
def bed() -> ClayBed:
    ends = np.arange(-60.0, 60.1, 1.0)
    return lay_clay(grid(ends, ends, lambda x, y: 0.0 * x), DOWN, 20.0)


def laid(bed: ClayBed, body: TriMesh, **more: object) -> BodyOnClay:
    height, _ = bed.seen_below(TriMesh(body.vertices + UP, body.faces))
    return BodyOnClay(bed, height, 20.0, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("depth", [3.0, 6.0, 12.0])
def test_a_ball_in_plastic_clay_makes_the_dent_of_a_hardness_test(bed: ClayBed, depth: float) -> None:
    """Brinell: in a mass of constant flow pressure H, F = H pi a^2 with a^2 = 2 R d - d^2 (Tabor 1951, The Hardness of
    Metals, chapter 2, cited, not read: geometry)."""
    body = laid(bed, sphere(RADIUS, 240, 480), force_n=100.0, flesh=None, heaping=0.0)
    found = press_to_depth(body, depth)
    area = np.pi * (2.0 * RADIUS * depth - depth**2)
    # Places of 1.2 mm tell the radius of the contact to a third of one, and the ramp of 0.05 mm widens it.
    assert 100.0 * found.contact_cm2 == pytest.approx(area, rel=0.02)
    assert 2.0 * EDGE * found.strength_kpa == pytest.approx(100e3 / area, rel=0.02)


@pytest.mark.parametrize("force", [5.0, 20.0, 80.0])
def test_flesh_on_clay_that_does_not_give_way_is_an_elastic_foundation(bed: ClayBed, force: float) -> None:
    """F = pi K d^2 (R - d/3) / h, a^2 = 2 R d - d^2: a ball on springs of stiffness K/h; for small d pi K R d^2 / h and
    2 R d (Johnson 1985, Contact Mechanics, 4.3, cited, not read). Hertz's half-space has a^2 = R d instead: flesh here
    is a layer on bone, not a deep body."""
    modulus, thick = 40.0, 15.0
    body = laid(bed, sphere(RADIUS, 240, 480), force_n=force, flesh=flesh_layer(thick, modulus), heaping=0.0)
    found = press_by_strength(body, 1e4)
    gives = float(found.motion[0]) - float((body.height_mm - bed.top_mm[bed.is_clay]).min())
    assert found.deepest_mm == 0.0
    # The sum over places of 1.2 mm, a fortieth of the contact or less, stands for an integral.
    assert np.pi * modulus * gives**2 * (RADIUS - gives / 3.0) / thick == pytest.approx(1e3 * force, rel=0.02)
    assert found.contact_cm2 * 100.0 == pytest.approx(np.pi * (2.0 * RADIUS * gives - gives**2), rel=0.03)


def test_a_flat_body_on_sticking_clay_bears_as_a_film_between_rough_plates(bed: ClayBed) -> None:
    """p = 2 k (1 + pi/2 + (a - r)/h): F = 2 k pi a^2 (1 + pi/2 + a/(3 h)) (Prandtl 1923; Hill 1950, chapter 8, cited,
    not read)."""
    a, left = 40.0, 8.0
    disc = grid(np.arange(-45.0, 45.1, 0.5), np.arange(-45.0, 45.1, 0.5), lambda x, y: 0.0 * x)
    disc = disc.submesh(np.hypot(*disc.triangles.mean(axis=1)[:, :2].T) < a).flipped()
    body = laid(bed, disc, force_n=300.0, flesh=None, heaping=1.0)
    found = press_to_depth(body, 20.0 - left)
    share = EDGE + a / (3.0 * left)
    # Ways along the sides of triangles are longer than straight ones by up to a tenth: of the share that is 4 %.
    assert found.force_n == pytest.approx(300.0, rel=1e-6)
    assert found.strength_kpa == pytest.approx(300e3 / (2.0 * np.pi * a**2 * share), rel=0.06)


def test_two_balls_share_a_load_by_the_lever(bed: ClayBed) -> None:
    """Two equal balls 60 mm apart, the force a quarter of the way: moments ask for 3 to 1 on plastic clay."""
    one, aside = sphere(25.0, 120, 240), np.array([30.0, 0.0, 0.0])
    both = TriMesh(
        np.concatenate([one.vertices - aside, one.vertices + aside]),
        np.concatenate([one.faces, one.faces + len(one.vertices)]),
    )
    point = bed.axes @ np.array([-15.0, 0.0, 0.0])
    body = laid(bed, both, force_n=60.0, flesh=None, heaping=0.0, point=point)
    found = press_by_strength(body, 10.0)
    is_left = (bed.flat @ bed.axes)[:, 0] < 0.0
    # The middles of the dents move as the body turns: by less than a mm of the 60.
    share = found.pressure_kpa[is_left].sum() / found.pressure_kpa.sum()
    assert share == pytest.approx(0.75, abs=0.03)
