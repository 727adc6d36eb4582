"""A body pressed into virtual clay: balls whose imprint, force and contact are known, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import ndimage

from padwright.core.base.errors import SolveError
from padwright.core.base.mesh import TriMesh
from padwright.core.stages.body.clay_bed import lay_clay
from padwright.core.stages.body.clay_border import clay_share
from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.body.press_clay import BodyOnClay, press_by_strength, press_to_depth
from padwright.core.stages.body.yielding import FleshOnClay
from support.scanned import grid, sphere

DOWN, UP = np.array([0.0, 0.0, -1.0]), np.array([0.0, 0.0, 100.0])
FLESH = flesh_layer(15.0, 30.0, 5.0)
CLAY_MM, BALL_MM = 20.0, 60.0


@pytest.fixture(scope="module")
def bed():
    ends = np.arange(-60.0, 60.1, 1.5)
    return lay_clay(grid(ends, ends, lambda x, y: 0.0 * x), DOWN, CLAY_MM)


@pytest.fixture(scope="module")
def ball(bed):
    body = sphere(BALL_MM, 120, 240)
    height, looks_down = bed.seen_below(TriMesh(body.vertices + UP, body.faces))
    assert looks_down[np.isfinite(height)].all()
    return BodyOnClay(bed, height, CLAY_MM, 100.0, FLESH, 0.0)


def test_clay_is_as_thick_as_it_was_laid_and_stays_off_the_edge(bed):
    assert bed.top_mm[bed.is_clay] == pytest.approx(CLAY_MM)
    reach = np.abs(bed.flat).max()
    assert 54.0 < reach < 60.0
    # A hole of the scan narrower than the clay is thick is bridged, a wider one stays.
    ends = np.arange(-60.0, 60.1, 1.5)
    base = grid(ends, ends, lambda x, y: 0.0 * x)
    for radius, is_bridged in ((6.0, True), (20.0, False)):
        middle = base.triangles.mean(axis=1)
        holed = lay_clay(base.submesh(np.hypot(*middle[:, :2].T) > radius), DOWN, CLAY_MM)
        at_middle = np.hypot(*np.meshgrid(holed.first, holed.second, indexing="ij")) < 3.0
        assert holed.is_clay[at_middle].all() == is_bridged


@pytest.mark.parametrize("margin", [0.0, 4.0, 10.0, np.inf])
def test_the_line_around_the_clay_never_cuts_into_what_was_touched(margin):
    """Noise at the contact's edge, a spike of it, and a contact that runs off the clay."""
    x, y = np.meshgrid(np.arange(-60.0, 60.1, 2.0), np.arange(-60.0, 60.1, 2.0), indexing="ij")
    is_clay = np.abs(x) < 50.0
    rough = np.random.default_rng(1).normal(0.0, 2.0, x.shape)
    is_touched = is_clay & ((np.hypot(x - 25.0, y) < 30.0 + rough) | ((np.abs(y) < 2.0) & (np.abs(x + 10.0) < 20.0)))
    share = clay_share(is_clay, is_touched, 2.0, margin)
    assert (share[is_touched] == 1.0).all() and share.min() == 0.0 and share.max() == 1.0
    # Off the clay's edge the wall stands on its two bare places, but for corners that are evened out.
    away = ndimage.distance_transform_edt(~is_clay)
    assert share[away > 2.5].max() == 0.0
    far = 2.0 * ndimage.distance_transform_edt(~is_touched) - margin
    assert share[far > 10.0].max(initial=0.0) == 0.0


def test_the_load_is_carried_and_a_heavier_body_goes_deeper(ball):
    depths = []
    for force in (60.0, 120.0, 240.0):
        found = press_by_strength(replace(ball, force_n=force), 5.0)
        assert found.force_n == pytest.approx(force, rel=1e-6)  # the balance leaves 1e-9 over
        depths.append(found.deepest_mm)
    assert depths[0] < depths[1] < depths[2]


def test_depth_and_strength_are_two_ways_to_say_one_thing(ball):
    for heaping in (0.0, 0.5, 1.0):
        body = replace(ball, heaping=heaping)
        found = press_to_depth(body, 8.0)
        # Found to 0.005 mm; heaped clay is worked out anew until its pressure changes by 0.2 %, some 0.02 mm.
        assert found.deepest_mm == pytest.approx(8.0, abs=0.03)
        assert press_by_strength(body, found.strength_kpa).deepest_mm == pytest.approx(8.0, abs=0.05)


def test_flesh_flattens_the_imprint_s_edge_and_keeps_its_shape_in_even_clay(ball):
    """In even clay flesh gives alike all over, so the imprint is the ball's own shape, shifted."""
    stone, soft = press_to_depth(replace(ball, flesh=None), 8.0), press_to_depth(ball, 8.0)
    deep = stone.depth_mm > 1.0
    assert np.abs(stone.depth_mm - soft.depth_mm)[deep].max() < 0.05  # how well both depths are found
    assert soft.contact_cm2 > 1.2 * stone.contact_cm2  # held up by unyielding clay around the imprint
    assert stone.flesh_squeezed_mm == 0.0 < soft.flesh_squeezed_mm


def test_heaped_clay_bears_most_where_it_is_left_thin(ball):
    even, heaped = (press_to_depth(replace(ball, heaping=end), 12.0) for end in (0.0, 1.0))
    assert even.peak_kpa / even.mean_kpa < heaped.peak_kpa / heaped.mean_kpa
    in_the_middle = heaped.pressure_kpa[np.argmin(np.hypot(*ball.bed.flat.T))]
    assert in_the_middle == pytest.approx(heaped.pressure_kpa.max(), rel=0.02)


def test_a_load_beside_the_middle_turns_the_body_until_moments_balance(ball):
    at = np.array([3.0, -2.0])
    found = press_by_strength(replace(ball, point=at), 5.7)
    middle = found.pressure_kpa @ ball.bed.flat / found.pressure_kpa.sum()
    assert middle == pytest.approx(at, abs=1e-4)
    assert found.tilt_deg > 1.0
    straight = press_by_strength(ball, 5.7)
    assert straight.tilt_deg == 0.0 and len(straight.motion) == 1


def test_flesh_that_was_loaded_while_scanned_gives_less(ball):
    free = press_to_depth(ball, 8.0)
    loaded = press_to_depth(replace(ball, squeezed_before_kpa=0.8 * free.mean_kpa), 8.0)
    stone = press_to_depth(replace(ball, flesh=None), 8.0)
    assert stone.contact_cm2 < loaded.contact_cm2 < free.contact_cm2
    assert loaded.flesh_squeezed_mm < free.flesh_squeezed_mm


@pytest.mark.parametrize("before", [0.0, 2.0])
@pytest.mark.parametrize("flesh", [FLESH, None])
def test_what_bears_is_the_slope_of_its_energy(flesh, before):
    law = FleshOnClay(flesh, np.full(400, 25.0), before if flesh else 0.0)
    ways = np.linspace(-1.0, 20.0, 400)
    stress, slope, energy, _ = law.respond(ways)
    less, more = law.respond(ways - 1e-6), law.respond(ways + 1e-6)
    # A difference over 2e-6 mm: rounding leaves 1e-7 of it, and single ways lie at a corner.
    assert np.median(np.abs((more[2] - less[2]) / 2e-6 - stress)) < 1e-5
    assert np.median(np.abs((more[0] - less[0]) / 2e-6 - slope)) < 1e-3
    assert (np.diff(stress) >= 0.0).all() and stress[0] == 0.0 and stress[-1] == 25.0
    assert (np.diff(energy) >= -1e-12).all()


def test_clay_that_never_carries_the_load_is_refused(ball):
    with pytest.raises(SolveError, match=r"never carries 100000 N: where the body lies over it, it bears \d+ N"):
        press_by_strength(replace(ball, force_n=1e5), 1.0)


def test_a_load_beside_the_body_is_refused(ball):
    with pytest.raises(SolveError, match="it would tip over"):
        press_by_strength(replace(ball, point=np.array([200.0, 0.0])), 5.0)
