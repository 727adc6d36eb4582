"""Levels are met at the strain that each zone has under its own load: settings and strains belong together."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from tests.support.flat_pads import flat_tables, rectangle
from tests.support.patches import patch, sheet

from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run.memory import StageMemory
from padwright.core.run.stages import STAGES
from padwright.core.stages.load.level_strains import settle
from padwright.core.stages.load.load_case import ContactPatch, LoadCase
from padwright.core.stages.material.choosing import PrintLimits, choose_settings
from padwright.core.stages.material.fill import RegionGeometry
from padwright.core.stages.material.material_model import MaterialModel
from padwright.core.stages.material.region_settings import RegionSettings

SIZE, AT = (90.0, 60.0, 14.0), (0.0, 0.0, 0.0)
ZONES = [
    {"name": "relief", "level": 1, **rectangle(AT, 22.0, 22.0)},
    {"name": "firm", "level": 4, **rectangle((-28.0, 0.0, 0.0), 20.0, 40.0)},
    {"name": "rest", "level": 2, "source": "rest"},
]
WISHED = RegionSettings("tpu_85a", 0.4, 0.45, 0.2, "gyroid", 15.0, 0, 2, 2, 30.0, 3.0)
TARGETS = {0: 200.0, 1: 1200.0}


def made(folder, **tables) -> SimpleNamespace:
    """Return the firmness of a flat pad with a relief, a firm zone and the rest."""
    job = job_from_tables(flat_tables(folder, SIZE, AT, zones=ZONES, **tables))
    return drain(StageMemory().reach(job, folder, STAGES[-1].name)).firmness


@pytest.fixture(scope="module")
def pressed(tmp_path_factory) -> SimpleNamespace:
    return made(tmp_path_factory.mktemp("levels"), load={"force_n": 100.0})


def mean_strain(where: ContactPatch, result, zone: int) -> float:
    area = np.where((where.zone == zone) & (result.pressure_kpa > 0.0), where.area_mm2, 0.0)
    return float(area @ result.strain / area.sum())


def test_each_level_is_met_at_the_strain_that_the_load_check_finds(pressed):
    _, result = pressed.loads[0]
    for number, target in {0: 200.0, 1: 1200.0, 2: 350.0}.items():
        chosen, strain = pressed.chosen[number], mean_strain(pressed.patch, result, number)
        assert chosen.curve.at == pytest.approx(strain, rel=0.05)  # settled to 3 %, and 1000 points stand for all
        assert chosen.binding is None
        # 2 % is what a fill share is rounded to; a strain 5 % off moves a gyroid's secant by 2 % at most.
        assert chosen.curve.value.secant_kpa(strain) == pytest.approx(target, rel=0.04)
    assert pressed.levels.strains.is_settled and 2 <= pressed.levels.strains.rounds <= 8
    said = next(note for note in pressed.notes if note.startswith("The levels' moduli are met where"))
    assert f'"relief" {100 * pressed.chosen[0].curve.at:.2g} %' in said


def test_without_a_load_levels_are_met_at_ten_percent(tmp_path):
    firmness = made(tmp_path)
    assert {each.curve.at for each in firmness.chosen.values()} == {0.10}
    assert firmness.levels.strains.rounds == 0
    for number, target in {0: 200.0, 1: 1200.0, 2: 350.0}.items():
        assert firmness.chosen[number].curve.value.secant_kpa(0.10) == pytest.approx(target, rel=0.02)


def test_a_zone_wholly_inside_needs_no_contour_and_one_that_air_touches_keeps_one(pressed):
    contours = {number: each.settings.contour_count for number, each in pressed.chosen.items()}
    assert pressed.levels.sizes.inside == {0, 1} and contours == {0: 0, 1: 0, 2: 1}
    # A contour around the relief would stand there alone: it is in no zone's modulus, and is told.
    assert pressed.chosen[2].curve.value.wall_share == 0.0
    assert pressed.levels.sizes.borders_mm[0] == pytest.approx(4 * 22.0, rel=0.1)  # its corners are cut
    assert any("hard lines under the body" in note for note in pressed.notes)


def test_a_person_whose_program_needs_contours_gets_them(tmp_path):
    firmness = made(tmp_path, load={"force_n": 100.0}, limits={"contour_counts": [1, 3]})
    assert {each.settings.contour_count for each in firmness.chosen.values()} == {1}
    bare = made(tmp_path, load={"force_n": 100.0}, limits={"contour_counts": [0, 0]})
    assert {each.settings.contour_count for each in bare.chosen.values()} == {0}


def at(target: float, strain: float):
    limits = PrintLimits((0.45,), (5.0, 40.0), ("gyroid",), (0, 0))
    size = RegionGeometry(20.0, 5000.0, 0.0)
    return choose_settings(target, limits, MaterialModel(13_240.0, 0.48), size, WISHED, strain=strain)


def chooser(strains):
    return {zone: at(target, strains[zone]) for zone, target in TARGETS.items()}


def halves(gap: float = 0.0) -> ContactPatch:
    """Return a flat pad 20 mm thick, 80 x 60 mm, whose right half is a zone that lies deeper by a gap."""
    return patch(sheet(80.0, 60.0, 2.0), gap=lambda x, y: gap * (x > 0.0), zone=lambda x, y: (x > 0.0).astype(int))


def test_the_search_ends_and_the_same_load_gives_the_same_settings():
    runs = [settle(LoadCase(force_n=100.0, tilt="held"), halves(), [0, 1], chooser) for _ in range(2)]
    (first, one), (second, two) = runs
    assert first.strains == second.strains and first.is_settled and first.rounds <= 8
    assert [each.settings for each in one.values()] == [each.settings for each in two.values()]


def test_more_weight_squeezes_more_and_asks_for_more_fill():
    """A gyroid's secant falls with strain, so a level met at a larger strain takes a denser fill."""
    found = [settle(LoadCase(force_n=force, tilt="held"), halves(), [0, 1], chooser) for force in (30.0, 150.0, 600.0)]
    strains = [each.strains[0] for each, _ in found]
    shares = [each[0].settings.solid_share_pct for _, each in found]
    assert strains == sorted(strains) and shares == sorted(shares) and shares[0] < shares[-1]


def test_a_zone_that_bears_nothing_takes_the_strain_of_what_bears():
    found, _ = settle(LoadCase(force_n=50.0, tilt="held"), halves(gap=8.0), [0, 1], chooser)
    assert found.bearing == {0} and found.is_settled
    assert found.strains[1] == pytest.approx(found.strains[0], rel=0.03)


def test_a_pad_that_cannot_carry_the_load_stays_at_ten_percent_and_says_so():
    found, chosen = settle(LoadCase(force_n=1e6, tilt="held"), halves(), [0, 1], chooser)
    assert set(found.strains.values()) == {0.10} and not found.is_settled and found.rounds <= 8
    assert chosen[0].curve.at == 0.10


def test_rounds_are_bounded_where_choices_swing():
    """A made-up printer that is soft at one strain and firm at another never comes to rest."""

    def swinging(strains):
        return {zone: at(100.0 if strains[zone] < 0.03 else 3000.0, strains[zone]) for zone in TARGETS}

    found, _ = settle(LoadCase(force_n=100.0, tilt="held"), halves(), [0, 1], swinging)
    assert found.rounds == 8 and not found.is_settled
