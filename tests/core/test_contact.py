"""Load check: balance, bounds, invariance, refusals. Closed forms are in tests/outside/test_contact_outside.py."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from padwright.core.base.errors import InputError, SolveError
from padwright.core.stages.body.flesh import Flesh, flesh_layer
from padwright.core.stages.body.weight import body_force_n
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.curve_table import CurveTable
from padwright.core.stages.load.felt import felt, thumb_mm
from padwright.core.stages.load.load_case import ContactPatch, LoadCase, patch_of
from padwright.core.stages.load.loaded_columns import Columns
from padwright.core.stages.material.curves import CurveBand, StressCurve
from padwright.core.stages.material.fill import fill_curve
from support.columns_alone import columns_alone  # noqa: F401
from support.patches import DOWN, avalle, disc, linear, patch, sheet

BUCKLING = StressCurve([0.0, 0.05, 0.5, 0.9], [0.0, 20.0, 20.0, 120.0], 0.6, 0.0)
"""Rises, then level to 50 %: the hardest kind for a Newton solver."""


def seat_like(step=4.0, **options):
    def thickness(x, y):
        return 18 + 4 * np.sin(x / 25) + 3 * np.cos(y / 18)

    def zone(x, y):
        return (np.abs(x) < 40).astype(int)

    return patch(sheet(200, 120, step), thickness=thickness, zone=zone, **options)


def unbalanced(case, on, result):
    """Return the largest force or moment left over, in shares of the load, from the pressures alone."""
    load = result.pressure_kpa * on.area_mm2 / 1000.0
    arm = on.position - np.asarray(case.point_mm)
    moment = np.cross(arm, np.outer(load, on.press_direction)).sum(axis=0)
    reach = np.linalg.norm(arm, axis=1).max()
    return max(abs(load.sum() / case.force_n - 1), np.linalg.norm(moment) / (reach * case.force_n))


@pytest.mark.parametrize("curve", [linear(300.0), avalle(3.0), BUCKLING])
@pytest.mark.parametrize("point", [(0.0, 0.0, 3.0), (22.0, -11.0, 0.0)])
def test_forces_and_both_moments_about_the_load_point_balance(curve, point):
    case = LoadCase(force_n=240.0, point_mm=point)
    on = seat_like()
    result = check_load(case, on, [curve, curve.scaled(2.0)])
    # The solver stops at 1e-9; ten times that for summing in another order.
    assert unbalanced(case, on, result) < 1e-8
    assert result.force_n == pytest.approx(240.0, rel=1e-8)
    assert sum(zone.share.value for zone in result.zones) == pytest.approx(1.0, rel=1e-12)


def test_the_balance_is_the_least_of_energy_less_work():
    on = seat_like()
    case = LoadCase(force_n=400.0, point_mm=(10.0, 5.0, 0.0))
    result = check_load(case, on, [avalle(2.0), avalle(5.0)])
    columns = Columns(on.thickness_mm, on.zone, CurveTable.of([avalle(2.0), avalle(5.0)]), np.ones(2))
    arm = on.position - np.asarray(case.point_mm)
    basis = np.column_stack([np.ones(len(arm)), arm[:, 0], arm[:, 1]])
    motion = np.linalg.lstsq(basis, result.compression_mm, rcond=None)[0]

    def total(at):
        return float(on.area_mm2 @ columns.respond(basis @ at)[2]) - 400_000.0 * at[0]

    rng = np.random.default_rng(4)
    around = [total(motion + rng.normal(size=3) * (0.05, 0.001, 0.001)) for _ in range(50)]
    assert total(motion) < min(around)


@pytest.mark.usefixtures("columns_alone")
def test_held_tilt_sinks_evenly_and_free_tilt_sinks_most_under_an_eccentric_load():
    on = patch(sheet(100, 60, 4.0))
    case = {"force_n": 100.0, "point_mm": (15.0, 0.0, 0.0)}
    held = check_load(LoadCase(tilt="held", **case), on, [linear(200.0)])
    free = check_load(LoadCase(**case), on, [linear(200.0)])
    assert np.ptp(held.compression_mm) < 1e-12 and held.tilt_deg.value == 0.0
    # A rigid plate on springs of stiffness k: turn = F e / (k I), I = b l^3 / 12. The lumped second moment of a mesh
    # of 4 mm is 0.2 % above that of the plate.
    turn = 100.0 * 15.0 / (0.2 / 20.0 * 60.0 * 100.0**3 / 12.0)
    assert free.tilt_deg.value == pytest.approx(np.degrees(turn), rel=4e-3)
    assert on.position[free.largest_index, 0] == 50.0


@settings(max_examples=25, deadline=None)
@given(vector=st.tuples(*[st.floats(-3, 3)] * 3), move=st.tuples(*[st.floats(-500, 500)] * 3), seed=st.integers(0, 999))
def test_neither_pose_nor_vertex_order_changes_the_answer(vector, move, seed):
    on = seat_like(8.0)
    bands = [CurveBand(c, c.scaled(0.6), c.scaled(1.7), "literature") for c in (avalle(2.0), BUCKLING)]
    point = np.array([8.0, 3.0, 1.0])
    first = check_load(LoadCase(force_n=200.0, point_mm=point), on, bands)
    turn = Rotation.from_rotvec(vector)
    order = np.random.default_rng(seed).permutation(len(on.area_mm2))
    place = np.argsort(order)
    moved = ContactPatch(
        (on.position @ turn.as_matrix().T + move)[order], on.area_mm2[order], on.thickness_mm[order], on.zone[order],
        turn.as_matrix() @ on.press_direction, on.gaps[order], place[on.faces],
    )  # fmt: skip
    second = check_load(LoadCase(force_n=200.0, point_mm=turn.apply(point) + move), moved, bands)
    # Both stop at 1e-9 of the load; on a level stretch a pressure says little about place, hence the wider margin.
    assert np.allclose(second.pressure_kpa, first.pressure_kpa[order], rtol=1e-5, atol=1e-6)
    assert second.sinkage_mm.high == pytest.approx(first.sinkage_mm.high, rel=1e-5)
    assert second.zones[0].share.low == pytest.approx(first.zones[0].share.low, rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(force=st.floats(1.0, 150.0), more=st.floats(1.02, 2.0), x=st.floats(-25, 25))
def test_more_load_sinks_the_body_further(force, more, x):
    on = seat_like(8.0)
    curves = [avalle(2.0), BUCKLING]
    light, heavy = (check_load(LoadCase(force_n=f, point_mm=(x, 0.0, 0.0)), on, curves) for f in (force, force * more))
    assert heavy.body_motion_mm.value > light.body_motion_mm.value
    stiffer = check_load(LoadCase(force_n=force, point_mm=(x, 0.0, 0.0)), on, [curve.scaled(more) for curve in curves])
    assert stiffer.body_motion_mm.value < light.body_motion_mm.value


def test_a_symmetric_pad_answers_symmetrically():
    x, y = (axis.ravel() for axis in np.meshgrid(np.linspace(-60, 60, 61), np.linspace(-40, 40, 41)))
    on = ContactPatch(
        np.stack([x, y, 0 * x], axis=1), np.full(len(x), 4.0), 20 + np.abs(x) / 20 + y / 40, np.zeros(len(x), int), DOWN
    )
    result = check_load(LoadCase(force_n=150.0, point_mm=(0.0, 5.0, 0.0)), on, [avalle(2.0)])
    mirrored = result.pressure_kpa.reshape(41, 61)[:, ::-1].ravel()
    assert np.abs(result.pressure_kpa - mirrored).max() < 1e-7 * result.pressure_kpa.max()


@pytest.mark.usefixtures("columns_alone")
def test_low_and_high_of_linear_columns_are_the_modulus_turned_over():
    band = CurveBand(linear(300.0), linear(150.0), linear(900.0), "literature")
    result = check_load(LoadCase(force_n=100.0), patch(sheet(80, 50, 5.0)), [band])
    give = result.sinkage_mm
    assert (give.low, give.high) == pytest.approx((give.value / 3, give.value * 2), rel=1e-9)
    assert result.mean_pressure_kpa.low == pytest.approx(result.mean_pressure_kpa.high, rel=1e-9)
    left = result.least_pad_left_mm
    assert (left.low, left.high) == pytest.approx((20 - give.high, 20 - give.low), rel=1e-9)
    assert result.basis == "literature"


def test_two_materials_bend_the_shares_where_one_does_not():
    on = seat_like(8.0)
    bands = [CurveBand(linear(k), linear(k / 2), linear(k * 2), "literature") for k in (200.0, 400.0)]
    case = LoadCase(force_n=60.0)
    one = check_load(case, on, bands).zones[0].share
    two = check_load(case, on, bands, materials=["a", "b"]).zones[0].share
    assert one.low == pytest.approx(one.high, rel=1e-9)
    assert two.low < one.value < two.high


def test_margin_and_pad_left_are_told_at_the_worst_place():
    on = patch(sheet(100, 60, 5.0), thickness=lambda x, y: np.where((x > 20) & (y > 0), 8.0, 20.0))
    result = check_load(LoadCase(force_n=150.0, tilt="held"), on, [avalle(2.0)])
    give = result.sinkage_mm.value
    assert result.bottoming_margin.value == pytest.approx(1 - give / 8.0 / 0.8)
    assert result.least_pad_left_mm.value == pytest.approx(8.0 - give)
    assert on.thickness_mm[result.margin_index] == 8.0
    assert (result.margin_place_mm == on.position[result.margin_index]).all()


def test_peak_is_taken_over_area_and_the_largest_beside_it():
    # 0.4 % of the area bears four times as much, above the 99.5th percentile: the peak must not see it. The mean
    # does, and no peak lies below it.
    x = np.linspace(-50, 50, 1001)
    area = np.full(1001, 1.0)
    thickness = np.full(1001, 20.0)
    thickness[400:404] = 5.0
    on = ContactPatch(np.stack([x, 0 * x, 0 * x], axis=1), area, thickness, np.zeros(1001, int), DOWN)
    result = check_load(LoadCase(force_n=10.0, tilt="held"), on, [linear(100.0)])
    assert result.largest_pressure_kpa.value == pytest.approx(4 * np.median(result.pressure_kpa))
    assert result.peak_pressure_kpa.value == pytest.approx((1 + 3 * 4 / 1001) * np.median(result.pressure_kpa))
    assert result.evenness.value == pytest.approx(1.0)
    assert 400 <= result.largest_index < 404


@pytest.mark.usefixtures("columns_alone")
def test_flesh_in_series_adds_its_softness():
    on = patch(disc(30.0, 3.0))
    area = float(on.area_mm2.sum())
    result = check_load(LoadCase(force_n=50.0, flesh=flesh_layer(30.0, 60.0)), on, [linear(400.0)])
    pressure = 50_000.0 / area
    assert result.sinkage_mm.value == pytest.approx(pressure * 20 / 400, rel=1e-5)
    # A level stretch of a curve is given a slope of a millionth, so nothing here is exact beyond that.
    assert result.body_motion_mm.value == pytest.approx(pressure * (20 / 400 + 30 / 60), rel=1e-5)
    assert not any("rigid" in note for note in result.notes)


@pytest.mark.parametrize("curve", [avalle(2.0), BUCKLING])
def test_flesh_and_pad_bear_one_stress_and_share_the_sinkage(curve):
    flesh = flesh_layer(25.0, 15.0, 6.0)
    thickness = np.linspace(10.0, 30.0, 200)
    columns = Columns(thickness, np.zeros(200, dtype=np.int32), CurveTable.of([curve]), np.array([1.3]), flesh)
    sinkage = np.linspace(0.5, 25.0, 200)
    stress, stiffness, energy, strain = columns.respond(sinkage)
    of_flesh = (sinkage - strain * thickness) / 25.0
    # Slopes of a millionth of the greatest stress are added to both.
    assert np.allclose(flesh.curve.stress(of_flesh), stress, rtol=1e-3, atol=1e-3)
    assert np.allclose(1.3 * curve.stress(strain), stress, rtol=1e-3, atol=1e-3)
    step = 1e-6
    above, below = columns.respond(sinkage + step), columns.respond(sinkage - step)
    assert np.allclose((above[2] - below[2]) / (2 * step), stress, rtol=1e-4, atol=1e-3)
    assert (stiffness > 0).all() and (energy > 0).all()


@pytest.mark.usefixtures("columns_alone")
def test_flesh_spreads_the_load_of_a_round_body():
    on = patch(sheet(80, 80, 2.0), gap=lambda x, y: (x * x + y * y) / 200.0)
    bare = check_load(LoadCase(force_n=100.0), on, [linear(400.0)])
    soft = check_load(LoadCase(force_n=100.0, flesh=flesh_layer(20.0, 200.0)), on, [linear(400.0)])
    # Paraboloid on columns of stiffness k: peak = sqrt(k F / (pi R)), here 20 against 1 / (1/20 + 20/200) kPa/mm.
    ratio = soft.largest_pressure_kpa.value / bare.largest_pressure_kpa.value
    assert ratio == pytest.approx(np.sqrt(1 / (1 + 20 * 20 / 200)), rel=2e-3)
    assert soft.contact_area_cm2.value > bare.contact_area_cm2.value


def test_a_grip_is_squeezed_evenly_to_its_mean_pressure():
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    z = np.linspace(0, 100, 40)
    a, h = (axis.ravel() for axis in np.meshgrid(angle, z))
    on = ContactPatch(
        np.stack([20 * np.cos(a), 20 * np.sin(a), h], axis=1), np.full(len(a), 3.0), 5 + np.cos(a) ** 2,
        np.zeros(len(a), int), None,
    )  # fmt: skip
    result = check_load(LoadCase(mean_pressure_kpa=15.0), on, [avalle(3.0)])
    assert result.pressure_kpa @ on.area_mm2 / on.area_mm2.sum() == pytest.approx(15.0, rel=1e-9)
    assert np.ptp(result.compression_mm) < 1e-12
    squeezed = check_load(LoadCase(force_n=0.015 * on.area_mm2.sum()), on, [avalle(3.0)])
    assert squeezed.sinkage_mm.value == pytest.approx(result.sinkage_mm.value, rel=1e-9)
    with pytest.raises(InputError, match="squeezed evenly"):
        check_load(LoadCase(force_n=10.0, point_mm=(0, 0, 0)), on, [avalle(3.0)])


def test_bottoming_within_the_spread_is_said_and_not_refused():
    on = patch(sheet(100, 60, 5.0))
    band = CurveBand(avalle(3.0), avalle(0.3), avalle(6.0), "literature")
    case = LoadCase(force_n=300.0)
    result = check_load(case, on, [band])
    assert result.bottoming_margin.low < 0 < result.bottoming_margin.value
    assert any("as soft as it may be" in note for note in result.notes)


def test_solid_zones_take_the_block_rule_and_say_so():
    solid = fill_curve("solid", 1.0, 13000.0, 0.48)
    on = patch(disc(25.0, 2.5), thickness=10.0)
    result = check_load(LoadCase(force_n=500.0), on, [solid], zone_names=["heel"])
    free = 500_000.0 / float(on.area_mm2.sum()) / 13000.0 * 10.0
    # Free to bulge it would give that much; unable to, 8.78 times less: bounds must lie between, well apart.
    assert free / 8.8 < result.sinkage_mm.low < result.sinkage_mm.value < result.sinkage_mm.high < free
    assert any(note.startswith('"heel" is solid') for note in result.notes)


def test_narrow_contacts_and_coarse_cells_are_flagged():
    two = patch(sheet(120, 60, 2.0), gap=lambda x, y: ((np.abs(x) - 40) ** 2 + y * y) / 40.0)
    result = check_load(LoadCase(force_n=5.0), two, [linear(400.0)], cell_mm=[12.0])
    assert len(result.pieces) == 2
    assert sorted(round(float(piece.center_mm[0])) for piece in result.pieces) == [-40, 40]
    assert sum("wide on a pad 20 mm thick" in note for note in result.notes) == 2
    assert any("only 1.7 cells of 12 mm" in note for note in result.notes)
    wide = check_load(LoadCase(force_n=5.0), patch(sheet(120, 60, 4.0)), [linear(400.0)], cell_mm=[8.0])
    assert not any("wide on a pad" in note or "cells of" in note for note in wide.notes)


def test_patch_of_a_slope_has_the_area_seen_along_the_press():
    mesh = sheet(40, 30, 5.0)
    tilted = mesh.transformed(np.vstack([np.column_stack([Rotation.from_euler("x", 60, degrees=True).as_matrix(),
                                                         np.zeros(3)]), [0, 0, 0, 1]]))  # fmt: skip
    every = np.ones(len(mesh.vertices), dtype=bool)
    made, index = patch_of(tilted, every, np.full(len(every), 9.0), np.zeros(len(every), int), DOWN)
    assert made.area_mm2.sum() == pytest.approx(600.0)
    assert len(index) == len(every)
    with pytest.raises(InputError, match="no whole triangle"):
        patch_of(tilted.flipped(), every, np.full(len(every), 9.0), np.zeros(len(every), int), DOWN)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"area_mm2": np.zeros(3)}, "area of 0 mm2"),
        ({"thickness_mm": np.array([1.0, 0.0, 2.0])}, "0 mm thick at 1 of 3"),
        ({"gap_mm": np.array([0.0, -0.5, 0.0])}, "gap of -0.5 mm"),
        ({"zone": np.array([0, -1, 0])}, "Zone -1"),
        ({"area_mm2": np.ones(2)}, r"area_mm2 must have shape \(3,\)"),
        ({"press_direction": np.zeros(3)}, "press direction"),
        ({"position": np.full((3, 3), np.nan)}, "not a number"),
    ],
)
def test_a_bad_patch_is_refused(changed, message):
    good = {
        "position": np.eye(3), "area_mm2": np.ones(3), "thickness_mm": np.ones(3), "zone": np.zeros(3, int),
        "press_direction": DOWN,
    }  # fmt: skip
    with pytest.raises(InputError, match=message):
        ContactPatch(**{**good, **changed})


@pytest.mark.parametrize(
    ("given_case", "message"),
    [
        ({}, "either a force or a mean pressure"),
        ({"force_n": 1.0, "mean_pressure_kpa": 1.0}, "either a force or a mean pressure"),
        ({"force_n": -3.0}, "-3.0 N presses nothing"),
        ({"force_n": float("nan")}, "nan N"),
        ({"force_n": 1.0, "tilt": "loose"}, '"loose" is not known'),
        ({"force_n": 1.0, "point_mm": (0, 1)}, "three numbers"),
    ],
)
def test_a_bad_load_case_is_refused(given_case, message):
    with pytest.raises(InputError, match=message):
        LoadCase(**given_case)


def test_too_few_curves_are_refused():
    with pytest.raises(InputError, match="zone 1, but there are 1"):
        check_load(LoadCase(force_n=1.0), seat_like(8.0), [avalle()])
    with pytest.raises(InputError, match="flesh layer of 0 mm"):
        Flesh(0.0, avalle())


def test_a_stiff_pad_is_called_nearly_rigid_with_what_would_help():
    # 530 N on 400 cm2, a 15 % gyroid of 0.6 MPa on 23 mm: a third to half a millimeter.
    on = patch(sheet(200, 200, 10.0), thickness=23.0)
    curve = fill_curve("gyroid", 0.15, 13240.0, 0.48)
    band = CurveBand(curve, curve.scaled(0.6), curve.scaled(1.7), "literature")
    case = LoadCase(force_n=530.0)
    result = check_load(case, on, [band])
    assert 0.25 < result.sinkage_mm.value < 0.5
    said = " ".join(felt(result, case, on, [band], advice="Tried: this."))
    for words in ("nearly rigid", "Tried: this.", "Cushion foam gives", "thumb"):
        assert words in said
    assert thumb_mm(curve, 23.0) > 5 * result.sinkage_mm.value
    soft = check_load(case, on, [avalle()])
    assert soft.sinkage_mm.value > 3.0
    assert "Tried" not in " ".join(felt(soft, case, on, [avalle()], advice="Tried: this."))


def test_share_of_a_weight_is_a_force():
    assert body_force_n(72.0, 0.75) == pytest.approx(529.56, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 100_000))
def test_whatever_rises_is_balanced_or_refused_with_a_reason(seed):
    """Curves with level stretches and jumps of slope, thin places, loads near the rim, gaps, flesh: never wrong."""
    rng = np.random.default_rng(seed)

    def curve():
        count = int(rng.integers(2, 12))
        strain = np.concatenate([[0.0], np.cumsum(rng.uniform(0.01, 0.9 / count, count))])
        rises = rng.exponential(30.0, count) * (rng.random(count) < 0.5)
        return StressCurve(strain, np.concatenate([[0.0], np.cumsum(rises) + 0.1]), 0.8, float(rng.uniform(0, 0.48)))

    bend, high, wave = rng.uniform(100, 1000), rng.uniform(5, 40), rng.uniform(15, 60)
    on = patch(
        sheet(200, 140, 9.0),
        gap=(lambda x, y: (x * x + y * y) / bend) if rng.random() < 0.4 else None,
        thickness=lambda x, y: high * (1 + 0.8 * np.sin(x / wave) * np.cos(y / 30)),
        zone=lambda x, y: np.digitize(x, [-30.0, 30.0]),
    )
    point = np.array([rng.uniform(-97, 97), rng.uniform(-67, 67), 0.0])
    flesh = flesh_layer(rng.uniform(5, 50), rng.uniform(5, 200), 5.0) if rng.random() < 0.3 else None
    case = LoadCase(force_n=float(10 ** rng.uniform(0, 3.5)), point_mm=point, flesh=flesh)
    try:
        result = check_load(case, on, [curve() for _ in range(3)])
    except SolveError as error:
        assert any(why in error.message for why in ("bottoms out everywhere", "has bottomed out", "pressed to nothing"))
    else:
        assert unbalanced(case, on, result) < 2e-6  # what the solver accepts at most, twice for the longer arm
