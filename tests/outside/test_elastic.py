"""The finite elements that give a second opinion, held against closed forms, with the order at which they converge."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.special import j0, jn_zeros

from padwright.core.stages.material.curves import constrained_ratio
from support.contact_formulas import incompressible_layer, paraboloid_contact, plane_modulus, punch_force_mn
from support.elastic import Layer, Stack, Zone, edges, steps
from support.layer_elements import pressed_layer


def even(modulus, poisson, thickness, rows):
    return Layer((Zone(np.inf, modulus, poisson),), steps(thickness, thickness / rows))


def wave_gives(layers, number):
    """Return how far the top moves up where a pressure cos(kx) or J0(kr) of 1 kPa is largest; k is `number`.

    Exact: displacements and stresses of one wave obey four linear equations in the height, the same in the plane and
    around an axis; their matrix exponential carries them from the base, where nothing moves, to the top.
    """
    total = np.eye(4)
    for thickness, modulus, poisson in layers:
        shear = modulus / (2 * (1 + poisson))
        lame = 2 * shear * poisson / (1 - 2 * poisson)
        wide = lame + 2 * shear
        up = np.array([-lame * number / wide, 0.0, 0.0, 1.0 / wide])  # of w, in (u, w, shear stress, stress)
        slope = np.array(
            [
                [0.0, number, 1.0 / shear, 0.0],
                up,
                number * (np.array([wide * number, 0.0, 0.0, 0.0]) + lame * up),
                [0.0, 0.0, -number, 0.0],
            ]
        )
        total = expm(slope * thickness) @ total
    at_base = np.linalg.solve(total[2:, 2:], [0.0, -1.0])
    return float(total[1, 2:] @ at_base)


def wave_error(poisson, rows, *, is_round, is_mixed=True):
    """Return the relative error of the work of a wave on 4 mm of the given ratio that lie on 6 mm of 0.3."""
    wide = 20.0
    number = jn_zeros(1, 2)[1] / wide if is_round else 2 * np.pi / wide  # nothing moves across at the sides

    def wave(x):
        return j0(number * x) if is_round else np.cos(number * x)

    x = (np.arange(20_000) + 0.5) * wide / 20_000
    weight = 2 * np.pi * x if is_round else 2.0
    exact = -wave_gives([(6.0, 100.0, 0.3), (4.0, 20.0, poisson)], number) * np.mean(wave(x) ** 2 * weight) * wide
    layers = [even(100.0, 0.3, 6.0, rows), even(20.0, poisson, 4.0, rows)]
    stack = Stack(layers, edges(steps(wide, 5.0 / rows)), is_round=is_round, is_wide=True, is_mixed=is_mixed)
    moved = stack.loaded(wave)
    return abs(float(moved @ (stack.stiffness @ moved)) / exact - 1.0)


@pytest.mark.parametrize("is_round", [False, True], ids=["plane", "round"])
@pytest.mark.parametrize("poisson", [0.3, 0.48, 0.49999])
def test_a_wave_on_two_layers_converges_with_the_fourth_power_of_the_mesh(poisson, is_round):
    """Elements of second degree: the energy's error falls with h^4, 16 times for half the size, whatever the ratio."""
    errors = [wave_error(poisson, rows, is_round=is_round) for rows in (2, 4, 8)]
    assert errors[2] < 1e-4
    assert errors[1] / errors[2] > 12.0  # 16 in the end, when the mesh is fine


def test_pressure_of_its_own_is_what_keeps_nearly_incompressible_layers_from_locking():
    mixed, plain = ([wave_error(nu, 2, is_round=True, is_mixed=m) for nu in (0.3, 0.49999)] for m in (True, False))
    # Four times the error at 0.3, since the wave itself goes deeper; displacements alone are off by thirty times it.
    assert mixed[1] < 5.0 * mixed[0]
    assert plain[1] > 5.0 * mixed[1] and plain[1] > 25.0 * plain[0]


@pytest.mark.parametrize("is_round", [False, True], ids=["plane", "round"])
def test_layers_that_cannot_spread_show_the_constrained_modulus(is_round):
    """Linear displacements are among the elements' own, so this is exact but for rounding."""
    layers = [even(500.0, 0.37, 20.0, 2), even(30.0, 0.48, 15.0, 2)]
    stack = Stack(layers, edges(steps(10.0, 5.0)), is_round=is_round, is_wide=True)
    gives = 20.0 / (500.0 * constrained_ratio(0.37)) + 15.0 / (30.0 * constrained_ratio(0.48))
    area = np.pi * 10.0**2 if is_round else 2 * 10.0
    moved = stack.plate(0.7, is_held=False)
    for level in (0, 1):
        assert stack.force_through(moved, level) == pytest.approx(area * 0.7 / gives, rel=1e-9)
        within = stack.force_through(moved, level, outer_mm=5.0) / stack.force_through(moved, level)
        assert within == pytest.approx(0.25 if is_round else 0.5, rel=1e-9)  # shared by area


@pytest.mark.parametrize("is_round", [False, True], ids=["plane", "round"])
def test_zones_side_by_side_bear_by_modulus_and_area_where_nothing_bulges(is_round):
    """Poisson's ratio 0: each zone is a column of its own, exactly; also the node on the border between them."""
    stack = Stack(
        [Layer((Zone(4.0, 2300.0, 0.0), Zone(np.inf, 500.0, 0.0)), steps(20.0, 10.0))],
        edges(steps(4.0, 2.0), steps(6.0, 3.0)),
        is_round=is_round,
    )
    moved = stack.plate(0.1, is_held=False)
    inner, whole = (np.pi * 16.0, np.pi * 100.0) if is_round else (8.0, 20.0)
    wanted = [2300.0 * inner * 0.1 / 20.0, 500.0 * (whole - inner) * 0.1 / 20.0]
    found = [stack.force_through(moved, 0, outer_mm=4.0), stack.force_through(moved, 0, inner_mm=4.0)]
    assert found == pytest.approx(wanted, rel=1e-9)


def deep(poisson, depth_mm, reach_mm, cells):
    """Return a layer so deep and wide that it is nearly a half-space, E 100 kPa, `cells` elements to each mm."""
    first = 1.0 / cells
    layer = Layer((Zone(np.inf, 100.0, poisson),), (*steps(depth_mm - 1.0, first, 1.3)[::-1], *steps(1.0, first)))
    return Stack([layer], edges(steps(reach_mm, first), steps(depth_mm, first, 1.3)), is_round=True)


def on_half_space(poisson, reach_mm, cells, gap, depth_mm):
    """Return force and pressures of a body that touches 1 mm around: what 50 and 100 mm say, carried on to no bottom.

    The base's share falls with one over the depth; with 100 and 200 mm the forces are within 0.1 % of these.
    """
    found = [deep(poisson, far, reach_mm, cells).press(gap, depth_mm, reach_mm) for far in (50.0, 100.0)]
    return 2.0 * found[1].force_mn - found[0].force_mn, found[1]


@pytest.mark.parametrize("poisson", [0.3, 0.48])
def test_a_flat_punch_on_a_deep_layer(poisson):
    """Boussinesq 1885: F = 2 E* a d, pressure E* d / (pi sqrt(a^2 - r^2)); 0.3 % off with 12 elements to the edge.

    The pressure has no end at the edge, so the error falls with the first power of the mesh: half the size, half of it.
    """
    exact = punch_force_mn(plane_modulus(100.0, poisson), 1.0, 0.1)
    errors = []
    for cells in (6, 12):
        force, pressed = on_half_space(poisson, 1.0, cells, np.zeros_like, 0.1)
        errors.append(abs(force / exact - 1.0))
    assert errors[1] < 4e-3 and errors[1] < 0.65 * errors[0]
    # Up to half the radius (the edge rattles); the bottom at 100 mm adds 0.6 %, as it does to the force.
    middle = exact / (2 * np.pi * np.sqrt(1 - pressed.x[:7] ** 2))
    assert pressed.pressure_kpa[:7] == pytest.approx(middle, rel=0.02)


@pytest.mark.parametrize("poisson", [0.3, 0.48])
def test_a_paraboloid_on_a_deep_layer(poisson):
    """Hertz 1882: force 0.2 % off with 12 elements in the contact, the edge within one; half the size, half of it."""
    exact = paraboloid_contact(plane_modulus(100.0, poisson), 10.0, 0.1)
    assert exact.half_width_mm == pytest.approx(1.0)
    errors = []
    for cells in (6, 12):
        force, pressed = on_half_space(poisson, 1.5, cells, lambda x: x * x / 20.0, 0.1)
        errors.append(abs(force / exact.force_mn - 1.0))
    assert errors[1] < 3e-3 and errors[1] < 0.5 * errors[0]  # the edge falls differently into each mesh: no clean power
    assert pressed.half_width_mm == pytest.approx(1.0, abs=1 / 12)
    assert pressed.pressure_kpa[0] == pytest.approx(exact.peak_kpa, rel=0.015)  # the bottom adds 1 % here too
    assert (pressed.pressure_kpa >= 0.0).all() and (pressed.pressure_kpa[pressed.x > 1.1] == 0.0).all()


@pytest.mark.parametrize("is_round", [False, True], ids=["cylinder", "paraboloid"])
def test_a_thin_incompressible_layer_comes_to_its_limit(is_round):
    """Johnson 1985, 5.8, and Jaffar 1989: what is left over falls with the square of thickness over half-width."""
    over = []
    for half in (20.0, 40.0):
        depth = 0.01
        radius = half**2 / (depth * (4 if is_round else 6))
        stack = Stack(
            [even(1.0, 0.49999999, 1.0, 4)], edges(steps(1.2 * half, half / 40), steps(4.0, 0.25)), is_round=is_round
        )
        found = stack.press(lambda x, radius=radius: x * x / (2 * radius), depth, 1.2 * half)
        force, _, peak = incompressible_layer(1.0, radius, 1.0, depth, is_cylinder=not is_round)
        over.append(found.force_mn / force - 1.0)
        assert found.pressure_kpa[0] / peak == pytest.approx(1.0, abs=0.06 * (20.0 / half) ** 2)
    assert 0.0 < over[1] < 0.015 and over[0] / over[1] == pytest.approx(4.0, rel=0.15)
    assert (4.0 * over[1] - over[0]) / 3.0 == pytest.approx(0.0, abs=3e-3)


@pytest.mark.parametrize("poisson", [0.0, 0.3, 0.48, 0.499])
def test_elements_written_on_their_own_say_the_same(poisson):
    """A cylinder, 2 thicknesses half-wide; contact at nodes there, in the mean here: each to 0.3 % with its mesh."""
    other = pressed_layer(1.0, poisson, 10.0, 400.0, 0.5)
    layer = Layer((Zone(np.inf, 1.0, poisson),), steps(10.0, 1.25, 1.1)[::-1])
    stack = Stack([layer], edges(steps(30.0, 1.25), steps(40.0, 1.25, 1.2)), is_round=False)
    assert stack.press(lambda x: x * x / 800.0, 0.5, 30.0).force_mn == pytest.approx(other, rel=0.007)


def test_what_presses_goes_through_every_layer():
    layers = [even(500.0, 0.37, 20.0, 4), even(30.0, 0.48, 15.0, 4)]
    found = (stack := Stack(layers, edges(steps(60.0, 2.5)), is_round=True)).press(lambda x: x * x / 120.0, 2.0, 30.0)
    assert [stack.force_through(found.moved, level) for level in (0, 1)] == pytest.approx(
        [found.force_mn] * 2, rel=1e-8
    )
    # Nowhere more than a hundredth of the depth inside the body (contact is asked in the mean, not at points), and it
    # follows the body where it bears.
    x, up = stack.top(found.moved)
    inside = up - (x * x / 120.0 - 2.0)
    assert inside.max() < 0.02
    assert np.abs(inside[x < found.half_width_mm - 2.5]).max() < 0.02


def test_a_zone_must_end_on_a_column_of_the_mesh():
    with pytest.raises(ValueError, match="ends at 3 mm"):
        Stack([Layer((Zone(3.0, 1.0, 0.3), Zone(np.inf, 1.0, 0.3)), (1.0,))], edges((2.0, 2.0)), is_round=True)
