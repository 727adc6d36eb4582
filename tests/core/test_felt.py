"""What is said of a load check: right at the extremes, short, and never more certain than the numbers."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.base.errors import SolveError
from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.load.contact import check_load
from padwright.core.stages.load.felt import feel_word, felt
from padwright.core.stages.load.load_case import ContactPatch, LoadCase
from padwright.core.stages.material.curves import CurveBand, StressCurve
from padwright.core.stages.material.fill import RegionGeometry, region_curve
from padwright.core.stages.material.material_model import model_from_card
from support.columns_alone import columns_alone  # noqa: F401
from support.patches import avalle, linear, patch, sheet


def band(hardness, mpa, density, *, thickness=20.0, contours=1, structure="gyroid"):
    card = SimpleNamespace(
        hardness=hardness, modulus_mpa=mpa, modulus_spread=0.5, poisson=0.48, calibration=None, fold_calibration=None
    )
    settings = SimpleNamespace(
        bead_width_mm=0.45, layer_thickness_mm=0.2, fill_structure=structure, solid_share_pct=density,
        fill_cell_mm=None, contour_count=contours, body_side_layer_count=0, base_side_layer_count=0,
    )  # fmt: skip
    return region_curve(settings, model_from_card(card), RegionGeometry(thickness, 40_000.0, 800.0))


def say(each, case, *, thickness=20.0, size=200.0):
    on = patch(sheet(size, size, size / 20), thickness=thickness)
    on = replace(on, beyond_mm=0.5 * size - np.abs(on.position[:, :2]).max(axis=1))  # it is all of the pad
    result = check_load(case, on, [each])
    return " ".join(felt(result, case, on, [each])), result


def test_a_solid_pad_says_no_absurd_numbers():
    said, result = say(band("64D", 132.0, 100.0, structure="solid"), LoadCase(force_n=530.0))
    assert "under 0.01 mm of its 20 mm: nearly rigid" in said and "0.00" not in said
    assert "more than 1000" in said and "thumb" not in said
    assert result.sinkage_mm.low < result.sinkage_mm.high < 0.01


def test_a_thin_pad_is_not_promised_a_cushion():
    said, _ = say(band("85A", 13.0, 15.0, thickness=5.0), LoadCase(force_n=700.0), thickness=5.0)
    assert "cannot feel like a cushion" in said and "times" not in said and "thumb" not in said


@pytest.mark.parametrize("thickness", [20.0, 3.0])
def test_a_heavy_person_on_the_softest_lattice_is_refused_with_what_it_can_bear(thickness):
    # The most a 60A gyroid of 5 % bears on 400 cm2 where its cells shut.
    soft = band("60A", 3.6, 5.0, thickness=thickness, contours=0)
    with pytest.raises(SolveError, match=r"too great: the pad bottoms out everywhere.* holds up to [3-9]\d\d N"):
        say(soft, LoadCase(force_n=120.0 * 9.80665), thickness=thickness)


def test_a_load_near_the_rim_tips_and_one_at_the_corner_is_refused():
    stiff = band("85A", 13.0, 15.0)
    said, result = say(stiff, LoadCase(force_n=530.0, point_mm=(95.0, 0.0, 0.0)))
    assert "the body tips: only" in said and "down to the hard base in places" in said
    assert result.contact_area_cm2.value < 100.0
    with pytest.raises(SolveError, match="it lies where the pad has bottomed out") as refused:
        say(stiff, LoadCase(force_n=530.0, point_mm=(99.0, 99.0, 0.0)))
    assert "point" in refused.value.hint


def test_a_squeezed_part_is_told_by_its_pressure():
    flat = patch(sheet(100, 90, 5.0), thickness=4.0)
    on = ContactPatch(flat.position, flat.area_mm2, flat.thickness_mm, flat.zone, None)
    case = LoadCase(mean_pressure_kpa=40.0, load_factor=1.5)
    result = check_load(case, on, [linear(400.0)])
    assert felt(result, case, on, [linear(400.0)])[0].startswith(
        "Under 40 kPa all round the pad gives 0.40 mm (0.27 to 0.60)"
    )


@pytest.mark.usefixtures("columns_alone")
def test_a_body_of_stone_is_told_in_one_line_beside_the_body_that_gives():
    on = patch(sheet(120, 120, 8.0), zone=lambda x, y: (x > 0).astype(int))
    curves = [linear(300.0), linear(900.0)]
    fleshy = LoadCase(force_n=100.0, tilt="held", flesh=flesh_layer(5.0, 200.0))
    rigid = check_load(replace(fleshy, flesh=None), on, curves)
    said = " ".join(felt(check_load(fleshy, on, curves), fleshy, on, curves, rigid=rigid))
    # Columns of one thickness (nu 0): shares go as area times modulus; with flesh as springs in series.
    half = [float(on.area_mm2[on.zone == number].sum()) for number in (0, 1)]
    stone = half[1] * 900.0 / (half[0] * 300.0 + half[1] * 900.0)
    give = [20 / kpa + 5 / 200.0 for kpa in (300.0, 900.0)]
    share = half[1] / give[1] / (half[0] / give[0] + half[1] / give[1])
    assert f'A body as hard as stone would put {100 * stone:.0f} % on "zone 2"' in said
    assert f"and {100 * share:.0f} to {100 * share:.0f} % of the load" in said and said.count("stone") == 1
    pressure = 100.0 / on.area_mm2.sum() * 1000.0
    assert f"flesh is squeezed by some {5.0 * pressure / 200.0:.2f} mm" in said


@pytest.mark.usefixtures("columns_alone")
@pytest.mark.parametrize(("firm", "is_told"), [(340.0, True), (310.0, False)])
def test_a_body_of_stone_that_bears_about_the_same_is_no_extreme(firm, is_told):
    # Under stone the firmer half bears 340 / 295 or 310 / 305 of the mean, under soft flesh little more than the mean.
    on = patch(sheet(120, 120, 8.0), zone=lambda x, y: (x > 0).astype(int))
    curves = [linear(250.0 if is_told else 300.0), linear(firm)]
    case = LoadCase(force_n=100.0, tilt="held", flesh=flesh_layer(50.0, 50.0))
    rigid = check_load(replace(case, flesh=None), on, curves)
    said = " ".join(felt(check_load(case, on, curves), case, on, curves, rigid=rigid))
    assert ("upper extreme" in said) == is_told and "No zone stands out" in said


def test_a_give_that_may_be_all_of_the_pad_is_said_so_and_not_as_more_than_its_thickness():
    # Half of the pad 10 mm, half 30 mm thick: pressed shut its deepest place lies deeper than the pad is thick on
    # average.
    flat = patch(sheet(200, 200, 10.0), zone=lambda x, y: (x > 0).astype(int))
    on = replace(flat, thickness_mm=np.where(flat.zone == 0, 10.0, 30.0))
    soft = avalle(10.0)
    wide = CurveBand(soft, soft.scaled(0.05), soft.scaled(4.0), "assumed")
    case = LoadCase(force_n=1500.0, tilt="held")
    result = check_load(case, on, [wide, wide])
    first, *_ = felt(result, case, on, [wide, wide])
    shut = replace(result, margin_place_mm=np.array([-13.0, -0.4, 20.0]))
    assert "you feel the hard base at (-13, 0, 20) mm." in " ".join(felt(shut, case, on, [wide, wide]))
    assert result.bottoming_margin.low < 0.0 < result.bottoming_margin.value
    assert f"({result.sinkage_mm.low:.2f} to pressed shut) of its 20 mm" in first
    sure = felt(check_load(case, on, [soft, soft]), case, on, [soft, soft])[0]
    assert "pressed shut" not in sure


def test_without_flesh_the_words_say_that_the_body_is_of_stone():
    on = patch(sheet(120, 120, 8.0), zone=lambda x, y: (x > 0).astype(int))
    curves = [linear(300.0), linear(900.0)]
    case = LoadCase(force_n=100.0, tilt="held")
    said = " ".join(felt(check_load(case, on, curves), case, on, curves))
    assert "if the body were as hard as stone." in said and "flesh" not in said


def test_the_word_goes_with_the_number_that_is_told():
    assert [feel_word(give) for give in (0.94, 0.96, 2.96, 7.96)] == ["nearly rigid", "firm", "cushioned", "soft"]


def test_flesh_brings_peak_towards_mean():
    """What the words say: series tissue evens pressure out, without changing the mean."""
    on = patch(sheet(200, 120, 8.0), zone=lambda x, y: (np.abs(x) < 30).astype(int))
    curves = [linear(300.0), linear(1200.0)]
    cases = [
        LoadCase(force_n=400.0),
        *(LoadCase(force_n=400.0, flesh=flesh_layer(t, 60.0)) for t in (5.0, 15.0, 100.0)),
    ]
    results = [check_load(case, on, curves) for case in cases]
    peaks = [result.evenness.value for result in results]
    assert peaks == sorted(peaks, reverse=True) and peaks[0] > 2.0 and peaks[-1] < 1.1
    assert np.ptp([result.mean_pressure_kpa.value for result in results]) < 1e-6


def test_nothing_said_is_long_or_a_verdict_on_health():
    on = patch(sheet(200, 120, 8.0), zone=lambda x, y: (np.abs(x) < 30).astype(int))
    soft, firm = band("85A", 13.0, 10.0), band("85A", 13.0, 25.0)
    for force in (20.0, 435.0, 1200.0):
        case = LoadCase(force_n=force, load_factor=1.15)
        said = " ".join(felt(check_load(case, on, [soft, firm]), case, on, [soft, firm]))
        assert len(said) < 800
        assert not any(word in said.lower() for word in ("safe", "healthy", "danger", "injur", "harm", "risk"))


def test_blocks_are_advised_only_to_who_has_pressed_none():
    middle = avalle(10.0)
    wide = CurveBand(
        middle, StressCurve(middle.strain, middle.stress_kpa / 20, 0.9, 0.3), middle.scaled(4.0), "assumed"
    )
    on, case = patch(sheet(200, 200, 10.0), thickness=20.0), LoadCase(force_n=530.0)
    result = check_load(case, on, [wide])
    told = {known: " ".join(felt(result, case, on, [wide], has_coupons=known)) for known in (False, True)}
    assert "coupon" in told[False] and "coupon" not in told[True]
    assert told[True] == told[False].replace("; printed coupons narrow that", "")


def test_a_wide_spread_says_both_words_and_a_thumb_both_depths():
    middle = avalle(10.0)
    wide = CurveBand(
        middle, StressCurve(middle.strain, middle.stress_kpa / 20, 0.9, 0.3), middle.scaled(4.0), "literature"
    )
    said, _ = say(wide, LoadCase(force_n=530.0))
    assert "anything from nearly rigid (under 1 mm) to" in said and re.search(
        r"sinks in about [\d.]+ mm \([\d.]+ to [\d.]+\)", said
    )
