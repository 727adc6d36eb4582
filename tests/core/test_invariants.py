"""Numbers never contradict each other: a few invariants, held over random patches, loads, materials and jobs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from padwright.core.base.errors import SolveError
from padwright.core.base.estimate import Estimate
from padwright.core.base.progress import drain
from padwright.core.job.read import parse_job
from padwright.core.run.parts import MadePart
from padwright.core.run.pipeline import do_stage
from padwright.core.run.stages import STAGES
from padwright.core.stages.body.flesh import Flesh, flesh_layer
from padwright.core.stages.load.clay_pressure import clay_pressure
from padwright.core.stages.load.contact import LoadResult, check_load
from padwright.core.stages.load.evidence import firmness_evidence
from padwright.core.stages.load.firmness import Firmness
from padwright.core.stages.load.load_case import ContactPatch, LoadCase
from padwright.core.stages.material.curves import CurveBand, StressCurve
from padwright.core.stages.material.fill import fill_curve
from support.cases import make_case
from support.invariants import hold_of_document, hold_of_load
from support.patches import avalle, linear, patch, sheet
from support.writers import write_job

LOAD = next(stage for stage in STAGES if stage.name == "load")


def _curve(rng: np.random.Generator) -> StressCurve:
    kind = rng.integers(0, 3)
    if kind == 0:
        return avalle(float(rng.uniform(0.5, 20.0)))
    if kind == 1:
        return linear(float(rng.uniform(50.0, 5000.0)), float(rng.uniform(0.4, 0.9)))
    return fill_curve("gyroid", float(rng.uniform(0.05, 0.35)), 13_240.0, 0.48)


def _band(rng: np.random.Generator) -> CurveBand:
    curve = _curve(rng)
    low, high = curve.scaled(float(rng.uniform(0.3, 1.0))), curve.scaled(float(rng.uniform(1.0, 3.0)))
    shared = tuple((curve.scaled(1.0 / f), curve.scaled(f)) for f in rng.uniform(1.0, 2.0, int(rng.integers(0, 4))))
    return CurveBand(curve, low, high, "assumed", (), shared, float(rng.uniform(1.0, 1.4)))


def _flesh(rng: np.random.Generator) -> Flesh:
    """Return a layer of 2 to 60 mm, from soft to stiff, known exactly or to a factor of 3 either way."""
    layer = flesh_layer(float(rng.uniform(2.0, 60.0)), float(10.0 ** rng.uniform(0.5, 2.0)), float(rng.uniform(0, 8)))
    known = float(rng.choice([1.0, 3.0]))
    return replace(layer, thickness_factors=(1.0 / known, known), stress_factors=(1.0 / known, known))


def pressed(seed: int) -> tuple[LoadCase, ContactPatch, LoadResult]:
    """Return a random load check: slopes, slivers, grooves, places that stand up, up to five zones, odd shares."""
    rng = np.random.default_rng(seed)
    high, wave, cut = rng.uniform(3.0, 40.0), rng.uniform(10.0, 60.0), rng.uniform(-80.0, 80.0)
    sliver = rng.uniform(0.0, 3.0) if rng.random() < 0.5 else 0.0
    groove = rng.uniform(1.0, 8.0) if rng.random() < 0.5 else 0.0
    count = int(rng.integers(1, 6))
    edges = np.sort(rng.uniform(-90.0, 90.0, count - 1))
    on = patch(
        sheet(200.0, 120.0, float(rng.uniform(2.5, 9.0)), seed=seed),
        thickness=lambda x, y: np.where(
            np.hypot(x - cut, y) < sliver, 0.05, high * (1.0 + 0.7 * np.sin(x / wave) * np.cos(y / 30.0))
        ),
        gap=lambda x, y: np.where(np.abs(y - 0.3 * x) < 6.0, groove, 0.0),
        zone=lambda x, y: np.digitize(x, edges),
    )
    if rng.random() < 0.2:
        on = replace(on, press_direction=None)
    wraps = on.press_direction is None
    case = LoadCase(
        force_n=float(10.0 ** rng.uniform(1.0, 3.2)),
        point_mm=None if wraps else (float(rng.uniform(-60, 60)), float(rng.uniform(-30, 30)), 0.0),
        tilt="held" if rng.random() < 0.4 else "free",
        flesh=_flesh(rng) if rng.random() < 0.5 else None,
        load_factor=float(rng.choice([1.0, 1.15, 1.5])),
    )
    if rng.random() < 0.5:  # the clay was pressed with another force, and not everywhere
        touch = np.where(on.position[:, 1] < rng.uniform(20.0, 80.0), 1.0, 0.0)
        on = replace(on, clay_kpa=clay_pressure(on, touch, 1000.0 * (case.force_n or 1.0) * rng.uniform(0.5, 2.0)))
    return case, on, check_load(case, on, [_band(rng) for _ in range(count)])


def test_invariants_hold_over_random_load_checks():
    done = 0
    for seed in range(30):
        try:
            case, on, result = pressed(seed)
        except SolveError:
            continue
        hold_of_load(result, on)
        document = firmness_evidence(Firmness({}, {}, loads=((case, result),)), "seat_pad")
        assert hold_of_document(document) >= 10
        done += 1
    assert done >= 12  # the others are refused: the load beside the patch, or too great


def test_one_sliver_that_bears_most_of_the_load_does_not_lift_the_mean_above_the_peak():
    thin = lambda x, y: np.where(np.hypot(x, y) < 2.0, 0.6, 20.0)  # noqa: E731
    on = patch(sheet(120, 80, 4.0), thickness=thin, zone=lambda x, y: (np.hypot(x, y) < 30).astype(int))
    result = check_load(LoadCase(force_n=100.0, tilt="held"), on, [linear(400.0, 0.95), linear(400.0, 0.95)])
    assert result.largest_pressure_kpa.value > 10.0 * result.mean_pressure_kpa.value
    hold_of_load(result, on)


def test_the_margin_is_the_strain_s_and_says_how_far_past_shut():
    on = patch(sheet(80, 60, 5.0), thickness=lambda x, y: np.where(x > 20.0, 4.0, 20.0))
    curve = avalle(1.0)
    result = check_load(LoadCase(force_n=90.0, tilt="held"), on, [curve])
    worst = min(1.0, float(result.strain.max()))
    assert result.bottoming_margin.value == pytest.approx(1.0 - worst / curve.densification, rel=1e-12)
    assert result.bottoming_margin.value >= 1.0 - 1.0 / curve.densification


@given(value=st.floats(-1e12, 1e12), low=st.floats(-1e12, 1e12), high=st.floats(-1e12, 1e12))
def test_an_estimate_lies_between_its_bounds_whatever_it_is_given(value, low, high):
    found = Estimate(value, low, high, "model")
    assert found.low <= found.value <= found.high
    more = found.scaled(1.0 / 3.0)
    assert more.low <= more.value <= more.high
    assert (found.low, found.high) == (min(low, value), max(high, value))


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3, 0.4, 0.5])
def test_bounds_worked_out_by_logarithms_do_not_cross_their_value_in_the_last_digit(share):
    # On an even pad the contact area moves with nothing, and its bounds come back from logarithms.
    on = patch(sheet(230, 83.7, 1.9), thickness=17.3)
    band = CurveBand(avalle(9.0), avalle(6.0), avalle(13.0), "assumed", (), (), 1.18)
    result = check_load(LoadCase(force_n=735.0 * share, load_factor=1.15), on, [band])
    hold_of_load(result, on)


@pytest.fixture(scope="module")
def cut_seat(tmp_path_factory) -> tuple[MadePart, str, Path]:
    """Return a seat as far as its regions, its job without a load, and its folder."""
    folder = tmp_path_factory.mktemp("seat")
    text = write_job(make_case("seat", triangles=12_000), folder).read_text("utf-8")
    part = MadePart(parse_job(text.encode(), "job.toml", folder))
    for stage in STAGES[: STAGES.index(LOAD)]:
        part = drain(do_stage(stage, part, folder))
    return part, text, folder


@pytest.mark.parametrize("seed", range(6))
def test_invariants_hold_over_random_loads_and_targets_of_a_job(cut_seat, seed):
    part, text, folder = cut_seat
    rng = np.random.default_rng(seed)
    load = f"\n[load]\nbody_mass_kg = {rng.uniform(20, 150):.1f}\nshare = {rng.uniform(0.1, 1.0):.2f}\n"
    load += f'[[load.cases]]\nname = "more"\nforce_n = {10 ** rng.uniform(0, 3.2):.1f}\n' if rng.random() < 0.5 else ""
    goal = rng.choice(["levels", "even", "relieve"])
    target = f'[target]\ngoal = "{goal}"\nleast_bottoming_margin = {rng.uniform(0, 0.9):.2f}\n'
    target += f"relieve = ['rest']\nrelief_share = {rng.uniform(0.2, 0.95):.2f}\n" if goal == "relieve" else ""
    job = parse_job((text + load + target).encode(), "job.toml", folder)
    try:
        done = drain(do_stage(LOAD, replace(part, job=job), folder))
    except SolveError as error:
        assert error.hint
        return
    firmness = done.firmness
    assert firmness is not None and firmness.patch is not None
    for _, result in firmness.loads:
        hold_of_load(result, firmness.patch)
    assert hold_of_document(firmness_evidence(firmness, "seat_pad")) >= 20
    tuning = firmness.tuning
    if tuning is not None:
        assert tuning.is_met == (tuning.unmet == ())
        assert tuning.after.peak_pressure_kpa == firmness.loads[0][1].peak_pressure_kpa
        margin = tuning.after.bottoming_margin
        if tuning.is_met and margin.low < job.target.least_bottoming_margin:
            words = f"{margin.low:.2f} is left" if margin.low >= 0.0 else "it is pressed shut in places"
            assert any(words in said for said in tuning.unsure)
