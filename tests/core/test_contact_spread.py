"""Low and high of a load check: closed forms, and how often draws from the stated spread fall between them."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.contact_spread import Move, Spread, _lean
from padwright.core.stages.load.curve_table import CurveTable
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.material.curves import CurveBand, StressCurve, constrained_ratio, layered_ratio
from padwright.core.stages.material.fill import RegionGeometry, middle_curve, region_curve
from padwright.core.stages.material.material_model import NINETY, OWN_SPREAD, model_from_card
from support.columns_alone import columns_alone  # noqa: F401
from support.patches import linear, patch, sheet


def settings(density, contours):
    return SimpleNamespace(
        bead_width_mm=0.45, layer_thickness_mm=0.2, fill_structure="gyroid", solid_share_pct=density, fill_cell_mm=None,
        contour_count=contours, body_side_layer_count=4, base_side_layer_count=4,
    )  # fmt: skip


def own(curve, factor):
    return CurveBand(curve, curve, curve, "model", (), (), factor)


def zone(x, y):
    bones = (np.abs(x) - 59) ** 2 + y**2 < 28**2
    return np.where(bones, 0, np.where((np.abs(x) < 20) & (y < 0), 2, 1))


def thick(mm):
    return lambda x, y: mm * (1 + 0.25 * np.sin(x / 30) * np.cos(y / 25))


@pytest.mark.parametrize(
    ("hardness", "mpa", "densities", "mm", "force_n", "known_to"),
    [("85A", 13.0, (22.7, 11.8, 5.0), 20.0, 435.0, None), ("85A", 13.0, (15.0, 6.0, 5.0), 20.0, 1200.0, 1.65),
     ("60A", 3.6, (20.0, 9.0, 9.0), 12.0, 530.0, 1.65)],
    ids=["hardly gives", "gives way within the spread", "bottoms out within the spread"],
)  # fmt: skip
def test_nine_in_ten_draws_of_all_that_is_unknown_lie_between_low_and_high(
    hardness, mpa, densities, mm, force_n, known_to
):
    card = SimpleNamespace(
        hardness=hardness, modulus_mpa=mpa, modulus_spread=0.5, poisson=0.48, calibration=None, fold_calibration=None
    )
    model = model_from_card(card)
    if known_to is not None:  # with all that hardness leaves open, draws would go where the check refuses
        spread = model.covariance.copy()
        spread[0, 0] = (np.log(known_to) / NINETY) ** 2
        model = replace(model, covariance=spread, upward=1.0)
    sizes = [RegionGeometry(mm, 2827.0, 188.0), RegionGeometry(mm, 30_000.0, 900.0), RegionGeometry(mm, 3000.0, 250.0)]
    asked = [settings(density, contours) for density, contours in zip(densities, (2, 1, 1), strict=True)]
    bands = [region_curve(each, model, size) for each, size in zip(asked, sizes, strict=True)]
    on = patch(sheet(240, 130, 9.0), thickness=thick(mm), zone=zone)

    def numbers(result):
        zones = [value for each in result.zones for value in (each.share, each.mean_pressure_kpa)]
        return [result.sinkage_mm, result.peak_pressure_kpa, result.mean_pressure_kpa, result.bottoming_margin,
                result.evenness, *zones]  # fmt: skip

    said = numbers(check_load(LoadCase(force_n=force_n, load_factor=1.15), on, bands))
    rng = np.random.default_rng(5)
    inside = []
    for _ in range(200):
        unknowns = model.unknowns + model.as_far_up(rng.multivariate_normal(np.zeros(4), model.covariance))
        curves = [
            middle_curve(each, model, size, unknowns).scaled(float(band.own_factor ** (rng.normal() / NINETY)))
            for each, size, band in zip(asked, sizes, bands, strict=True)
        ]
        drawn = check_load(LoadCase(force_n=force_n * 1.15 ** (rng.normal() / NINETY)), on, curves)
        inside.append([e.low <= one.value <= e.high for e, one in zip(said, numbers(drawn), strict=True)])
    share = np.mean(inside, axis=0)
    # 200 draws scatter by 2.1 %; the percentiles of 256 draws (where the pad gives way) by about 3 %.
    assert share.min() > 0.78 and share.max() < 0.985
    assert 0.85 < share.mean() < 0.94


def test_a_stiffness_known_less_well_upward_alone_calls_for_no_draws():
    # From half to three times as stiff, and the sinkage as its inverse: uneven, but as uneven as the stiffness itself.
    middle = linear(300.0)
    ends = [Move([middle.scaled(factor)], np.ones(1)) for factor in (0.5, 3.0)]
    lean = _lean((ends[0], ends[1]), CurveTable.of([middle]))
    assert lean == pytest.approx(-np.log(1.5) / np.log(6.0))

    def told(low, high, lean):
        return Spread({"sinkage": 1.0}, (({"sinkage": low}, {"sinkage": high}),), (), (), (lean,))

    assert told(2.0, 1.0 / 3.0, lean).is_even
    assert not told(2.0, 1.0 / 3.0, 0.3).is_even and not told(8.0, 1.0 / 3.0, lean).is_even
    low, high = told(2.0, 1.0 / 3.0, lean).bounds("sinkage", 1.0)
    assert (low, high) == (pytest.approx(1.0 / 3.0), pytest.approx(2.0))


def test_zones_that_differ_by_themselves_share_the_load_by_the_closed_form():
    """Two like halves: the odds of the share are the ratio of two lognormal stiffnesses."""
    on = patch(sheet(100, 60, 5.0), zone=lambda x, y: (x > 0).astype(int))
    part = float(on.area_mm2[on.zone == 0].sum() / on.area_mm2.sum())
    result = check_load(LoadCase(force_n=100.0, tilt="held"), on, [own(linear(300.0), 1.2)] * 2)
    share = result.zones[0].share
    odds = part / (1 - part) * 1.2 ** (np.sqrt(2) * np.array([-1.0, 1.0]))
    # Moves of the share are added as they are, not as logarithms of odds: 1 % off at this size.
    assert (share.low, share.high) == pytest.approx(tuple(odds / (1 + odds)), rel=0.01)
    assert result.mean_pressure_kpa.low == pytest.approx(result.mean_pressure_kpa.high, rel=1e-9)


@pytest.mark.usefixtures("columns_alone")
def test_pressures_follow_the_spread_of_the_load():
    on = patch(sheet(60, 60, 6.0))
    result = check_load(LoadCase(force_n=100.0, load_factor=1.25), on, [linear(300.0)])
    for each in (result.mean_pressure_kpa, result.peak_pressure_kpa, result.sinkage_mm):
        assert (each.low, each.high) == pytest.approx((each.value / 1.25, each.value * 1.25), rel=1e-9)


@pytest.mark.usefixtures("columns_alone")
def test_independent_sources_add_in_squares_and_a_shared_one_moves_all_zones_together():
    on = patch(sheet(60, 60, 6.0), zone=lambda x, y: (x > 0).astype(int))
    shared = [
        CurveBand(c, c, c, "model", (), ((c.scaled(0.5), c.scaled(2.0)),)) for c in (linear(300.0), linear(900.0))
    ]
    alone = check_load(LoadCase(force_n=100.0), on, shared)
    assert alone.zones[0].share.low == pytest.approx(alone.zones[0].share.high, rel=1e-9)
    both = check_load(LoadCase(force_n=100.0, load_factor=1.5), on, shared).sinkage_mm
    far = np.exp(np.hypot(np.log(2.0), np.log(1.5)))
    assert (both.low, both.high) == pytest.approx((both.value / far, both.value * far), rel=1e-9)


def test_bounds_on_many_points_are_those_on_few():
    """Above 4000 points only some are solved again; ratios must not suffer."""
    bands = [own(linear(k), 1.3) for k in (300.0, 900.0, 150.0)]
    results = [
        check_load(
            LoadCase(force_n=300.0, load_factor=1.1),
            patch(sheet(240, 130, step), thickness=thick(20.0), zone=zone),
            bands,
        )
        for step in (3.2, 1.6)
    ]
    few, many = (
        np.array([each.low / each.value for each in (r.sinkage_mm, r.peak_pressure_kpa, r.zones[0].share)])
        for r in results
    )
    assert len(results[0].pressure_kpa) < 4000 < len(results[1].pressure_kpa)
    assert few == pytest.approx(many, rel=0.01)


def test_no_bound_passes_what_a_pad_can_do():
    card = SimpleNamespace(
        hardness="60A", modulus_mpa=3.6, modulus_spread=0.5, poisson=0.48, calibration=None, fold_calibration=None
    )
    band = region_curve(settings(5.0, 0), model_from_card(card), RegionGeometry(20.0, 30_000.0, 900.0))
    on = patch(sheet(200, 150, 8.0), thickness=thick(20.0))
    result = check_load(LoadCase(force_n=500.0, load_factor=1.15), on, [band])
    assert 0.0 < result.sinkage_mm.low < result.sinkage_mm.value < result.sinkage_mm.high < on.thickness_mm.max()
    assert result.evenness.low >= 1.0 and 0.0 <= result.least_pad_left_mm.low


def test_a_region_outside_the_laws_data_is_less_certain_by_itself():
    card = SimpleNamespace(
        hardness="85A", modulus_mpa=13.0, modulus_spread=0.5, poisson=0.48, calibration=None, fold_calibration=None
    )
    size = RegionGeometry(40.0, 30_000.0, 900.0)
    inside, outside = (region_curve(settings(d, 1), model_from_card(card), size).own_factor for d in (20.0, 5.0))
    assert np.exp(NINETY * OWN_SPREAD) < inside < 1.25 < outside


def test_contours_stiffen_less_in_a_layer_than_the_fill():
    strain = [0.0, 0.5]
    fill, half, walls = (StressCurve(strain, [0.0, 50.0], 0.6, 0.37, share) for share in (0.0, 0.5, 1.0))
    assert layered_ratio(fill) == pytest.approx(float(constrained_ratio(0.37)), rel=1e-12)
    assert layered_ratio(walls) == pytest.approx(1 / (1 - 0.48**2), rel=1e-12)
    assert layered_ratio(half) == pytest.approx((layered_ratio(fill) + layered_ratio(walls)) / 2, rel=1e-12)
    assert half.scaled(2.0).wall_share == 0.5
