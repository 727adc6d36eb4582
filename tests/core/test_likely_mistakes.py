"""The likely mistakes of people who write a job: each message, obeyed to the letter, ends in a part."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from tests.support.desk import Desk, drawn_beside, ends_times, off_the_patch, points_times, row, swap, times
from tests.support.obeying import (
    bare_number,
    did_you_mean,
    drop_second,
    exchange_scans,
    leave_out_line,
    leave_out_the_point,
    less_force,
    lower_the_gap,
    move_points,
    multiply_ends,
    multiply_lengths,
    multiply_points,
    say_points_on,
    set_impression_unit,
    set_unit,
    thinner_layers,
    turn_round,
    within_limits,
    write_key,
    write_line,
    write_path,
)

from padwright.cli.main import main
from padwright.core.base.errors import PadwrightError
from padwright.core.stages.scans.read import read_scan

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    yield Desk(tmp_path_factory.mktemp("desk"))


MISTAKES = {
    "smart quotes": (swap('name = "Test seat"', "name = “Test seat”"), write_line),
    "decimal comma": (swap("clay_thickness_mm = 30.0", "clay_thickness_mm = 30,0"), write_line),
    "decimal comma in a whole number": (swap("schema = 1\n", "schema = 1,5\n"), write_line),
    "decimal commas in a point": (
        swap("from = [0.323230313, -0.347577934, 0.483347658]", "from = [0,323230313, -0,347577934, 0,483347658]"),
        write_line,
    ),
    "decimal commas in a row": (swap("[0.209300, -0.466478, 0.446736]", "[0,209300, -0,466478, 0,446736]"), write_line),
    "decimal comma in a list": (swap("[printer]\n", "[printer]\nbed_mm = [350,5, 350, 400]\n"), write_line),
    "thousands": (swap("force_n = 500.0", "force_n = 1,500.0"), write_line),
    "list without brackets": (swap("[printer]\n", "[printer]\nbed_mm = 350 x 350 x 400\n"), write_line),
    "blanks between numbers": (swap("[0.209300, -0.466478, 0.446736]", "[0.209300 -0.466478 0.446736]"), write_line),
    "round brackets": (swap("[0.209300, -0.466478, 0.446736]", "(0.209300, -0.466478, 0.446736)"), write_line),
    "comma between rows missing": (
        swap("[0.209300, -0.466478, 0.446736],", "[0.209300, -0.466478, 0.446736]"),
        write_line,
    ),
    "semicolon at the end": (swap("level = 4", "level = 4;"), write_line),
    "unit behind a number": (swap("clay_thickness_mm = 30.0", "clay_thickness_mm = 3 cm"), write_line),
    "percent for a share": (swap("share = 0.6", "share = 60 %"), write_line),
    "length in cm as text": (swap("clay_thickness_mm = 30.0", 'clay_thickness_mm = "3.0 cm"'), bare_number),
    "load in kg": (swap("force_n = 500.0", "force_n = 51 kg"), write_line),
    "zone in single brackets": (swap('[[zones]]\nname = "bearing"', '[zones]\nname = "bearing"'), write_line),
    "bracket missing": (swap("[printer]", "[printer"), write_line),
    "remark with slashes": (swap("nozzle_mm = 0.4", "nozzle_mm = 0.4 // mine"), write_line),
    "blank in a key": (swap("nozzle_mm = 0.4", "nozzle mm = 0.4"), write_line),
    "about": (swap("measured_mm = 224.000", "measured_mm = 224.000 +/- 0.1"), write_line),
    "unit in words": (swap('unit = "m"', 'unit = "meters"'), did_you_mean("meters")),
    "card as it is called": (swap('"tpu_85a"', '"TPU 85A"'), did_you_mean("TPU 85A")),
    "part number with a blank": (swap('number = "SEAT"', 'number = "Seat 1"'), write_line),
    "duplicate key": (swap("fit_gap_mm = 0.4", "fit_gap_mm = 0.4\nfit_gap_mm = 0.5"), leave_out_line),
    "press direction turned round": (
        swap("[0.694927141, -0.556697547, -0.455152842]", "[-0.694927141, 0.556697547, 0.455152842]"),
        turn_round,
    ),
    "no quotes": (swap('scan = "base.ply"', "scan = base.ply"), write_line),
    "backslashes": (swap('scan = "base.ply"', r'scan = ".\base.ply"'), write_path),
    "body mass as text": (swap("body_mass_kg = 74.0", 'body_mass_kg = "74 kg"'), bare_number),
    "file misspelt": (swap('scan = "base.ply"', 'scan = "bse.ply"'), did_you_mean("bse.ply")),
    "both scans one file": (swap('scan = "impression.ply"', 'scan = "./base.ply"'), did_you_mean("./base.ply")),
    "a job for a scan": (swap('scan = "base.ply"', 'scan = "wrong.toml"'), did_you_mean("wrong.toml")),
    "a folder for a scan": (swap('scan = "base.ply"', 'scan = "."'), did_you_mean('"."', '"')),
    "key misspelt": (swap("fit_gap_mm = 0.4", "fitgap_mm = 0.4"), did_you_mean("fitgap_mm")),
    "key by a guess": (swap("nozzle_mm = 0.4", "nozzle_diameter = 0.6"), did_you_mean("nozzle_diameter")),
    "key beside the right one": (
        swap("nozzle_mm = 0.4", "nozzle_mm = 0.4\nnozzle_diameter = 0.6"),
        leave_out_line,
    ),
    "key in another unit": (swap("fit_gap_mm = 0.4", "fit_gap_cm = 0.04"), write_line),
    "key in the wrong table": (
        swap("[printer]\n", "[printer]\nclay_thickness_mm = 30.0\n"),
        lambda wrong, told: (
            leave_out_line(wrong, told) if "did you mean impression.clay_thickness_mm?" in told else wrong
        ),
    ),
    "family misspelt": (swap('family = "seat_pad"', 'family = "seatpad"'), did_you_mean("seatpad")),
    "unit missing": (swap('scan = "base.ply"\nunit = "m"', 'scan = "base.ply"'), set_unit),
    "unit wrong": (swap('scan = "base.ply"\nunit = "m"', 'scan = "base.ply"\nunit = "mm"'), set_unit),
    "unit of the impression wrong": (
        swap('scan = "impression.ply"\nunit = "m"', 'scan = "impression.ply"\nunit = "mm"'),
        set_impression_unit,
    ),
    "scans swapped": (
        lambda desk: (
            desk.good.replace('"base.ply"', '"x"')
            .replace('"impression.ply"', '"base.ply"')
            .replace('"x"', '"impression.ply"')
        ),
        exchange_scans,
    ),
    "check lengths in cm": (
        lambda desk: re.sub(r"(?m)^measured_mm = .*$", lambda found: times(found[0], 0.1), desk.good),
        multiply_lengths,
    ),
    "one check length in cm": (
        swap("measured_mm = 224.000", "measured_mm = 22.4"),
        write_key("measured_mm", "measured_mm = 22.4"),
    ),
    "one check length mistyped": (
        swap("measured_mm = 224.000", "measured_mm = 21"),
        write_key("measured_mm", "measured_mm = 21"),
    ),
    "ends in mm": (lambda desk: ends_times(desk.good, 1000.0), multiply_ends),
    "outline in mm": (points_times(1000.0), multiply_points),
    "outline in true mm": (points_times(None), multiply_points),
    "outline beside the pad": (drawn_beside("zones"), move_points),
    "footprint beside the clay": (drawn_beside("footprint"), move_points),
    "opening beside the pad": (drawn_beside("opening"), move_points),
    "outline on the other scan": (swap('points_on = "base"', 'points_on = "impression"'), say_points_on),
    "clay a tenth": (
        swap("clay_thickness_mm = 30.0", "clay_thickness_mm = 3.0"),
        write_key("clay_thickness_mm", "clay_thickness_mm = 3.0"),
    ),
    "contact deeper than any imprint": (
        swap('scale = "as base"', 'scale = "as base"\ncontact_depth_mm = 40'),
        write_key("contact_depth_mm", "contact_depth_mm = 40"),
    ),
    "contact too deep for a load center": (
        swap('scale = "as base"', 'scale = "as base"\ncontact_depth_mm = 15'),
        write_key("contact_depth_mm", "contact_depth_mm = 15"),
    ),
    "least thickness above the clay": (
        swap("least_thickness_mm = 4.0", "least_thickness_mm = 60"),
        write_key("least_thickness_mm", "least_thickness_mm = 60"),
    ),
    "fit gap too big": (swap("fit_gap_mm = 0.4", "fit_gap_mm = 20.0"), lower_the_gap),
    "share above one": (swap("share = 0.6", "share = 60.0"), within_limits("share = 60.0", "share")),
    "layers thicker than the bead": (
        swap("[printer]\n", "[printer]\nlayer_thickness_mm = 0.8\n"),
        thinner_layers,
    ),
    "key of another zone": (swap('source = "rest"', 'source = "rest"\nradius_mm = 10'), drop_second),
    "load case off the patch": (off_the_patch, leave_out_the_point),
    "load case too great": (swap("force_n = 500.0", "force_n = 50000.0"), less_force),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_message_obeyed_to_the_letter_ends_in_a_part(mistake, desk, capsys):
    make, obey = MISTAKES[mistake]
    wrong = make(desk)
    told = desk.told(wrong, capsys)
    assert re.search(r"error: wrong\.toml:\d+", told)
    try:
        desk.makes_a_part(obey(wrong, told))
    except PadwrightError as error:
        pytest.fail(f"told: {told}\nthen: {error}")


def test_a_file_that_is_no_job_is_told_with_the_job_to_run(desk, capsys, tmp_path):
    for name in ("base.ply", "impression.ply"):
        (tmp_path / name).write_bytes((desk.folder / name).read_bytes())
    (tmp_path / "my.toml").write_text(desk.good, "utf-8")
    (tmp_path / "run.json").write_text('{"part": 1}', "utf-8")
    for wrong in ("base.ply", "run.json", "."):
        assert main(["run", str(tmp_path / wrong)]) == 2
        told = capsys.readouterr().err.strip()
        assert re.search(r"python -m padwright run (\S+)$", told)[1] == str(tmp_path / "my.toml")
    (tmp_path / "my.toml").unlink()
    assert main(["run", str(tmp_path / "base.ply")]) == 2
    assert "python -m padwright new --family seat_pad --out job.toml" in capsys.readouterr().err


def test_a_copy_of_the_base_scan_is_not_taken_for_the_impression(desk, capsys):
    (desk.folder / "copy.ply").write_bytes((desk.folder / "base.ply").read_bytes())
    told = desk.told(desk.good.replace('scan = "impression.ply"', 'scan = "copy.ply"'), capsys)
    (desk.folder / "copy.ply").unlink()
    assert 'impression.scan: "copy.ply" holds the same as the base scan' in told


@pytest.mark.parametrize("kind", ["base", "impression"])
def test_a_scan_of_base_or_clay_is_not_taken_for_the_body(desk, capsys, kind):
    told = desk.told(desk.good.replace("[body]\n", f'[body]\nscan = "{kind}.ply"\n', 1), capsys)
    assert f'body.scan: "{kind}.ply" is the {kind} scan too; expected a scan of the body itself.' in told


def test_of_two_check_lengths_that_disagree_a_third_tells_which_is_wrong(desk, capsys):
    wrong = desk.good.replace("measured_mm = 176.122", "measured_mm = 202.5")
    told = desk.told(wrong, capsys)
    assert "One was measured, typed or picked wrong. To find which, measure a third distance" in told
    told = desk.told(wrong.replace("[impression]", f"{desk.third}[impression]", 1), capsys)
    assert 'Without "screw to screw, left side, front to rear" the others agree' in told


def test_a_mistyped_check_length_is_told_by_name_with_what_the_scan_says(desk, capsys):
    told = desk.told(desk.good.replace("measured_mm = 224.000", "measured_mm = 21"), capsys)
    assert 'measured_mm: Check length "screw to screw, front" of the base scan looks mistyped (21 for 210?)' in told
    assert re.search(r"its ends lie 228\.\d* mm apart on the scan", told)


def test_one_point_far_off_is_told_with_where_the_scan_lies_in_the_same_numbers(desk, capsys):
    told = desk.told(desk.good.replace("[0.209300, -0.466478, 0.446736]", "[2.09300, -0.466478, 0.446736]"), capsys)
    ends = re.search(r"in which it lies from \[(.*?)\] to \[(.*?)\]", told)
    base = read_scan((desk.folder / "base.ply").read_bytes(), "base.ply").mesh
    for end, bound in zip(ends.groups(), base.bounds, strict=True):
        # Four figures are told.
        assert [float(each) for each in end.split(",")] == pytest.approx(bound, rel=1e-3)
    assert "zones[1].points: Point 1 at" in told


def test_scans_swapped_without_a_point_to_tell_are_told_when_they_fit_the_other_way_alone(desk, capsys):
    bare = re.sub(r"(?s)\[\[base\.check_lengths\]\].*?(?=\[impression\])", "", desk.good)
    bare = re.sub(r'(?s)\[\[zones\]\]\nname = "relief".*?(?=\[\[zones\]\])', "", bare)
    bare = re.sub(r"(?m)^point = .*\n", "", bare)
    names = {"base": "impression", "impression": "base"}
    wrong = re.sub(r'"(base|impression)\.ply"', lambda found: f'"{names[found[1]]}.ply"', bare)
    told = desk.told(wrong, capsys)
    assert exchange_scans(wrong, told) == bare


def test_a_load_case_off_the_part_is_not_taken_for_swapped_scans_where_the_check_lengths_fit(desk, capsys):
    """The impression's file lies elsewhere and in a larger frame: a point far off the base may lie on it by chance."""
    impression = read_scan((desk.folder / "impression.ply").read_bytes(), "impression.ply").mesh
    on_it = impression.vertices[len(impression.vertices) // 2]
    point = re.search(r'name = "catch".*?point = (\[.*?\])', desk.good, re.DOTALL)
    said = desk.told(desk.good.replace(point[1], row(on_it)), capsys)
    assert "the ends of the check lengths lie on it" in said and "swapped" not in said
