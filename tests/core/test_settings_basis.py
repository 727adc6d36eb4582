"""A setting rests on the person only where the person gave it: the key stands in the job, or the limits leave one."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from tests.support.flat_pads import flat_job, flat_tables

from padwright.cli import main as cli
from padwright.core.base.progress import drain
from padwright.core.job.overrides import read_setting
from padwright.core.job.read import job_from_tables, parse_job
from padwright.core.job.write import write_job
from padwright.core.run.pipeline import run_job
from padwright.core.run.settings_basis import with_persons_basis
from padwright.core.stages.printing.level_settings import settings_for_level
from support.packing import LEVELS, Material, Printer

SIZE, AT = (90.0, 70.0, 12.0), (3.0, -7.0, 1.0)
KEYS = {
    "material_id": ("material", "card", "tpu_85a"),
    "nozzle_diameter_mm": ("printer", "nozzle_mm", 0.4),
    "bead_width_mm": ("printer", "bead_width_mm", 0.45),
    "layer_thickness_mm": ("printer", "layer_thickness_mm", 0.2),
    "max_volume_flow_mm3_s": ("material", "max_volume_flow_mm3_s", 3.0),
    "max_speed_mm_s": ("printer", "max_speed_mm_s", 20.0),
    "fill_structure": ("limits", "fill_structures", ["gyroid"]),
    "solid_share_pct": ("limits", "solid_share_pct", [12, 12]),
    "contour_count": ("limits", "contour_counts", [2, 2]),
}


def bases(folder: Path, **tables: object) -> dict[str, str]:
    """Return the settings' bases of the flat pad's middle, as its settings document has them."""
    result = drain(run_job(flat_job(folder, SIZE, AT, **tables), folder))
    found = json.loads(result.files["FLAT-1.settings.json"])
    return dict(found["regions"][0]["settings_basis"])


def test_a_job_that_says_nothing_of_the_print_has_nothing_from_the_person(tmp_path):
    found = bases(tmp_path)
    assert "user" not in found.values()
    # Of two beads, of shares and contours there was a choice; one structure, the layers and the speed are the card's.
    chosen = {"bead_width_mm", "solid_share_pct", "contour_count"}
    assert {name for name, basis in found.items() if basis == "model"} == chosen


def test_what_stands_in_the_job_is_the_persons_even_where_it_is_the_default(tmp_path):
    tables: dict[str, dict[str, object]] = {}
    for table, key, value in KEYS.values():
        tables.setdefault(table, {})[key] = value
    found = bases(tmp_path, **tables)
    assert {name for name, basis in found.items() if basis == "user"} == set(KEYS)


@pytest.mark.parametrize("name", KEYS)
def test_each_key_makes_its_own_setting_the_persons_and_no_other(tmp_path, name):
    table, key, value = KEYS[name]
    job = flat_job(tmp_path, SIZE, AT, **{table: {key: value}})
    settings = replace(
        settings_for_level(3, LEVELS, Printer(), Material()),
        max_speed_mm_s=20.0, solid_share_pct=12.0, contour_count=2, fill_structure="gyroid",
    )  # fmt: skip
    found = with_persons_basis(settings, job).basis
    assert [each for each, basis in found.items() if basis == "user"] == [name]


def test_a_limit_that_leaves_a_choice_and_a_speed_under_the_flow_are_not_the_persons(tmp_path):
    job = flat_job(
        tmp_path, SIZE, AT, printer={"max_speed_mm_s": 40.0},
        limits={"contour_counts": [1, 2], "fill_structures": ["gyroid", "honeycomb"], "solid_share_pct": [5, 30]},
    )  # fmt: skip
    settings = settings_for_level(3, LEVELS, Printer(max_speed_mm_s=40.0), Material(max_volume_flow_mm3_s=1.0))
    found = with_persons_basis(settings, job).basis
    assert "user" not in found.values() and found["max_speed_mm_s"] == "model"


def test_a_key_set_beside_the_file_is_the_persons_too(tmp_path):
    tables = flat_tables(tmp_path, SIZE, AT)
    job = job_from_tables(tables, settings=[read_setting("printer.nozzle_mm=0.4")])
    assert "printer.nozzle_mm" in job.given and "printer.bed_mm" not in job.given


def test_a_job_that_is_written_again_keeps_what_the_person_gave(tmp_path):
    tables = flat_tables(tmp_path, SIZE, AT, printer={"nozzle_mm": 0.4}, material={"card": "tpu_85a"})
    job = job_from_tables(tables)
    text = write_job(job)
    again = parse_job(text.encode(), "job.toml", None)
    assert {"printer.nozzle_mm", "material.card"} <= set(again.given) and "printer.bed_mm" not in again.given
    # Every key stands there, and who changes one there has given it.
    assert "fit_gap_mm = 0.4" in text and "pad.fit_gap_mm" not in job.given
    edited = parse_job(text.replace("fit_gap_mm = 0.4", "fit_gap_mm = 0.6").encode(), "job.toml", None)
    assert set(edited.given) - set(job.given) == {"pad.fit_gap_mm"}


def test_lists_of_tables_count_as_one_and_old_names_as_todays():
    old = b'schema = 1\n[part]\nname = "P"\nnumber = "1"\nfamily = "seat_pad"\n[base]\nscan = "a.stl"\n'
    old += b'[impression]\nscan = "b.stl"\n[limits]\nfill_patterns = ["gyroid"]\n'
    old += b'[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"\n'
    assert parse_job(old, "job.toml", None).given == (
        "base.scan", "impression.scan", "limits.fill_structures", "part.family", "part.name", "part.number", "schema",
        "zones",
    )  # fmt: skip


def test_blocks_are_the_persons_only_where_the_command_line_says_so(tmp_path):
    def block(*options: str) -> dict[str, str]:
        out = tmp_path / f"blocks{len(options)}"
        assert cli.main(["coupons", *options, "--out", str(out)]) == 0
        document = json.loads((out / "COUPONS-tpu_85a.settings.json").read_bytes())
        return dict(document["regions"][0]["settings_basis"])

    assert set(block().values()) == {"assumed"}
    named = block("--nozzle", "0.4", "--bead", "0.45", "--shares", "10,15,25")
    assert {name for name, basis in named.items() if basis == "user"} == {
        "nozzle_diameter_mm", "bead_width_mm", "solid_share_pct",
    }  # fmt: skip
