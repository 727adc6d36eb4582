"""What settings.json tells of the print as a whole: bed, supports, heat and drying, nothing a card does not know."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.core.test_printplan import Body, arch
from tests.support.flat_pads import flat_tables

from padwright.core.base.progress import drain
from padwright.core.job.material_cards import load_material, material_names, read_material, write_material
from padwright.core.job.read import job_from_tables
from padwright.core.job.toml_lines import parse_toml
from padwright.core.run.pipeline import run_job
from padwright.core.stages.material.region_settings import RegionSettings
from padwright.core.stages.printing.print_plan import PrintPlan, plan_print
from padwright.core.stages.printing.print_record import print_record
from support.packing import block
from support.pad_shapes import DOWN

BED = (220.0, 220.0, 250.0)
CARD = load_material("tpu_85a")
HEATED = replace(
    CARD, nozzle_temperature_degc=228.0, bed_temperature_degc=45.0, temperature_source="label on the spool",
    drying_temperature_degc=65.0, drying_hours=6.0, drying_source="the maker's data sheet",
)  # fmt: skip


def plan(mesh: Any, bed: tuple[float, float, float] = BED, **options: Any) -> PrintPlan:
    settings = RegionSettings("m", 0.4, 0.45, 0.2, "gyroid", 15.0, 2, 3, 3, 30.0, 3.0)
    return plan_print(
        [Body(mesh)], {"a": settings}, mesh, density_g_cm3=1.21, bed_mm=bed, press_direction=DOWN, **options
    )


def record(mesh: Any, bed: tuple[float, float, float] = BED, *, given: bool = True, card: Any = CARD) -> dict[str, Any]:
    return print_record(plan(mesh, bed), bed, is_bed_given=given, stl_count=2, card=card)


def test_the_first_words_say_which_file_to_open():
    def first(count: int) -> str:
        mesh = block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0))
        return str(print_record(plan(mesh), BED, is_bed_given=True, stl_count=count, card=CARD)["in_words"][0])

    assert first(0) == "Open the 3MF." and "all STLs" not in first(1)
    assert first(3).endswith("load all STLs at once as one object of several parts.")


def test_a_part_that_fits_says_by_how_much_and_whose_bed_it_is():
    found = record(block((0.0, 0.0, 0.0), (200.0, 150.0, 25.0)))
    assert found["size_on_bed_mm"] == [150.0, 200.0, 25.0] and found["stands"]
    assert found["bed"] == {"size_mm": list(BED), "basis": "user", "fits": True, "to_spare_mm": [70.0, 20.0, 225.0]}
    assert "150 x 200 x 25 mm: it fits a bed of 220 x 220 x 250 mm." in found["in_words"]
    guessed = record(block((0.0, 0.0, 0.0), (200.0, 150.0, 25.0)), given=False)
    assert guessed["bed"]["basis"] == "assumed" and any(
        "a guess: give yours as" in line for line in guessed["in_words"]
    )


def test_a_part_that_does_not_fit_says_by_how_much():
    found = record(block((0.0, 0.0, 0.0), (400.0, 120.0, 10.0)))
    over = min(found["bed"]["to_spare_mm"])
    assert not found["bed"]["fits"] and over < -50.0
    assert any(f"sticks out by {-over:.0f} mm" in line for line in found["in_words"])
    assert not any("it fits a bed" in line for line in found["in_words"])


def test_supports_are_told_where_there_are_any_and_that_there_are_none():
    flat = record(block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0)))
    assert flat["support"]["needed"] is False and flat["support"]["area_cm2"] == 0.0
    assert "It needs no supports." in flat["in_words"]
    hollow = record(arch(6.0))
    assert hollow["support"]["needed"] is True and hollow["support"]["on_body_side_cm2"] == 0.0
    assert 22.0 < hollow["support"]["area_cm2"] <= hollow["support"]["of_underside_cm2"] == pytest.approx(24.0)
    assert hollow["support"]["highest_mm"] == pytest.approx(6.0)
    assert any(line.startswith("The base side is not flat") for line in hollow["in_words"])
    assert "It needs no supports." not in hollow["in_words"]


def test_heat_and_drying_are_the_cards_with_their_source_and_are_left_out_where_it_is_silent():
    mesh = block((0.0, 0.0, 0.0), (60.0, 40.0, 12.0))
    found = record(mesh, card=HEATED)
    assert found["temperatures"] == {"nozzle_degC": 228.0, "bed_degC": 45.0, "source": "label on the spool"}
    assert found["drying"] == {"at_degC": 65.0, "hours": 6.0, "source": "the maker's data sheet"}
    assert "Temperatures: nozzle 228 degrees C, bed 45 degrees C (label on the spool)." in found["in_words"]
    assert found["in_words"][-1] == (
        "Dry the filament for 6 h at 65 degrees C before printing (the maker's data sheet)."
    )
    silent = record(mesh)
    assert "temperatures" not in silent and "drying" not in silent
    assert silent["in_words"][-1] == "The material card names no temperatures: take those on the spool."
    half = record(mesh, card=replace(CARD, drying_hours=4.0))
    assert half["drying"] == {"hours": 4.0, "source": "the material card, which gives no source"}


@pytest.mark.parametrize("name", material_names())
def test_no_card_that_ships_names_a_temperature_without_a_source(name):
    card = load_material(name)
    heat = (card.nozzle_temperature_degc, card.bed_temperature_degc)
    assert heat == (None, None) or card.temperature_source


def test_a_card_with_drying_is_written_and_read_back():
    text = write_material(HEATED)
    assert read_material(*parse_toml(text.encode(), "own.toml"), "own.toml") == HEATED


def test_a_run_tells_it_in_settings_json_with_the_persons_own_card_and_bed(tmp_path: Path):
    (tmp_path / "own.toml").write_text(write_material(HEATED), "utf-8")
    tables = flat_tables(tmp_path, (90.0, 70.0, 12.0), (3.0, -7.0, 1.0), material={"card": "own.toml"})
    tables["printer"] = {"bed_mm": [180, 180, 180]}
    document = json.loads(
        drain(run_job(job_from_tables(tables, folder=tmp_path), tmp_path)).files["FLAT-1.settings.json"]
    )
    assert list(document)[:5] == ["$schema", "schema_version", "part", "print", "regions"]
    told = document["print"]
    assert told["orientation"] == "base side down" and told["bed"]["basis"] == "user"
    assert told["bed"]["to_spare_mm"] == pytest.approx(
        (np.array([180, 180, 180]) - told["size_on_bed_mm"]).tolist(), abs=0.11
    )
    assert told["temperatures"]["nozzle_degC"] == 228.0
    for region in document["regions"]:
        assert region["settings"]["nozzle_temperature_degC"] == 228.0
        assert region["settings_basis"]["nozzle_temperature_degC"] == "user"
