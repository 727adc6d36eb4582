"""The likely mistakes of people who write a job: each message, obeyed to the letter, ends in a part."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from tests.support.cases import make_case
from tests.support.writers import write_job

from padwright.cli.main import main
from padwright.core.base.errors import PadwrightError
from padwright.core.base.progress import drain
from padwright.core.geometry.query import NearestSurface
from padwright.core.job.read import read_job
from padwright.core.run.memory import StageMemory
from padwright.core.run.stages import STAGES
from padwright.core.stages.scans.read import read_scan

NUMBER = re.compile(r"-?\d+\.\d+")


class Desk:
    """A folder with two coarse scans and a job that makes a part; what was worked out is not worked out again."""

    def __init__(self, folder: Path) -> None:
        case = make_case("seat", triangles=8_000, unit="m", base_scale_error=1.02)
        text = write_job(case, folder).read_text("utf-8")
        in_file = case.mm_per_unit * case.base_factor
        base = NearestSurface(case.base_mm)
        middle = base.find(case.load_centres_in_base.mean(axis=0)[None]).point[0]
        press = case.press_direction_in_base
        across = np.cross(press, np.eye(3)[0])
        across /= np.linalg.norm(across)
        turns = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)[:, None]
        ring = base.find(middle + 18.0 * (np.cos(turns) * across + np.sin(turns) * np.cross(press, across))).point
        rows = "".join(f"    {row(point)},\n" for point in ring / in_file)
        relief = (
            f'[[zones]]\nname = "relief"\nlevel = 1\nsource = "outline"\npoints_on = "base"\npoints = [\n{rows}]\n\n'
        )
        text = text.replace("[[zones]]", f"{relief}[[zones]]", 1)
        text = text.replace('scale = "as base"', 'scale = "as base"\nclay_thickness_mm = 30.0')
        cases = (
            "\n[load]\nbody_mass_kg = 74.0\nshare = 0.6\n\n"
            f'[[load.cases]]\nname = "catch"\nforce_n = 500.0\npoint = {row(middle / in_file)}\n'
        )
        self.folder = folder
        self.good = text + cases
        self.true_mm = in_file
        start, end = case.lengths[0].base_from, case.lengths[1].base_to
        self.third = (
            '[[base.check_lengths]]\nname = "third"\nplus_minus_mm = 0.1\n'
            f"measured_mm = {np.linalg.norm(end - start) * in_file:.2f}\nfrom = {row(start)}\nto = {row(end)}\n\n"
        )
        self.memory = StageMemory()

    def told(self, text: str, capsys: pytest.CaptureFixture[str]) -> str:
        """Run a job that is wrong, as a person does, and return what is said; nothing may be written."""
        job = self.folder / "wrong.toml"
        job.write_text(text, "utf-8")
        assert main(["run", str(job), "--out", str(self.folder / "out")]) in (2, 3, 4)
        assert not (self.folder / "out").exists()
        return capsys.readouterr().err

    def makes_a_part(self, text: str) -> None:
        """Bring a job to its last stage."""
        job = self.folder / "mended.toml"
        job.write_text(text, "utf-8")
        part = drain(self.memory.reach(read_job(job), self.folder, STAGES[-1].name))
        assert part.firmness is not None and part.firmness.loads


def row(point: np.ndarray) -> str:
    return "[" + ", ".join(f"{value:.6f}" for value in point) + "]"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    yield Desk(tmp_path_factory.mktemp("desk"))


def swap(old: str, new: str) -> Callable[[Desk], str]:
    """Return what puts one text in the place of another in the good job."""

    def changed(desk: Desk) -> str:
        assert old in desk.good
        return desk.good.replace(old, new, 1)

    return changed


def times(text: str, factor: float) -> str:
    return NUMBER.sub(lambda number: f"{float(number[0]) * factor:.12g}", text)


def points_times(factor: float | None) -> Callable[[Desk], str]:
    def changed(desk: Desk) -> str:
        by = desk.true_mm if factor is None else factor
        return re.sub(r"(?s)points = \[\n.*?\n\]", lambda found: times(found[0], by), desk.good)

    return changed


def ends_times(text: str, factor: float) -> str:
    return re.sub(r"(?m)^(from|to) = .*$", lambda found: times(found[0], factor), text)


def write_line(wrong: str, told: str) -> str:
    """Obey "Write: LINE": it stands for the line that the message names."""
    number = int(re.search(r"wrong\.toml:(\d+)", told)[1])
    lines = wrong.splitlines()
    lines[number - 1] = re.search(r"Write: (.*)", told)[1]
    return "\n".join(lines) + "\n"


def write_path(wrong: str, told: str) -> str:
    return wrong.replace(r"\base.ply", "/base.ply").replace(r"scans/", "") if "Write:" in told else wrong


def set_unit(wrong: str, told: str) -> str:
    unit = re.search(r'set unit = "(\w+)"', told)[1]
    head, tail = wrong.split("[impression]", 1)
    if "unit =" not in head:
        return head.replace('scan = "base.ply"', f'scan = "base.ply"\nunit = "{unit}"') + "[impression]" + tail
    return re.sub(r'unit = "\w+"', f'unit = "{unit}"', head) + "[impression]" + tail


def set_impression_unit(wrong: str, told: str) -> str:
    unit = re.search(r'unit is likely "(\w+)"', told, re.IGNORECASE)[1]
    head, tail = wrong.split("[impression]", 1)
    return head + "[impression]" + re.sub(r'unit = "\w+"', f'unit = "{unit}"', tail, count=1)


def multiply_points(wrong: str, told: str) -> str:
    by = float(re.search(r"multiply by ([\d.e-]+),", told)[1])
    return re.sub(r"(?s)points = \[\n.*?\n\]", lambda found: times(found[0], by), wrong)


def multiply_ends(wrong: str, told: str) -> str:
    assert "The same holds for base.check_lengths[2].from" in told
    return ends_times(wrong, float(re.search(r"multiply by ([\d.e-]+),", told)[1]))


def multiply_lengths(wrong: str, told: str) -> str:
    by = float(re.search(r"multiply each measured_mm by ([\d.]+)\.", told)[1])
    return re.sub(r"(?m)^measured_mm = .*$", lambda found: times(found[0], by), wrong)


def write_key(key: str, was: str) -> Callable[[str, str], str]:
    """Obey "write KEY = VALUE"."""

    def mended(wrong: str, told: str) -> str:
        value = re.search(rf"[Ww]rite {key} = ([\d.]+\d)", told)[1]
        assert was in wrong
        return wrong.replace(was, f"{key} = {value}")

    return mended


def exchange_scans(wrong: str, told: str) -> str:
    assert "look swapped" in told
    for table in ("base", "impression"):
        name = re.search(rf'scan = "(\w+\.ply)" under \[{table}\]', told)[1]
        wrong = re.sub(rf'(?s)(\[{table}\]\nscan = )"\w+\.ply"', rf'\1"{name}"', wrong)
    return wrong


def did_you_mean(old: str) -> Callable[[str, str], str]:
    """Obey "did you mean X?": the last name of the key, or the text in quotes."""

    def mended(wrong: str, told: str) -> str:
        found = re.search(r"[Dd]id you mean \"?([\w.]+?)\"?\?", told)[1]
        return wrong.replace(old, found if found.endswith(".ply") else found.rpartition(".")[2])

    return mended


def lower_the_gap(wrong: str, told: str) -> str:
    """Obey "Lower pad.fit_gap_mm (LOW to HIGH mm is usual)"."""
    usual = re.search(r"pad\.fit_gap_mm: .* Lower pad\.fit_gap_mm \([\d.]+ to ([\d.]+) mm", told)[1]
    return wrong.replace("fit_gap_mm = 20.0", f"fit_gap_mm = {usual}")


def leave_out_line(wrong: str, told: str) -> str:
    """Obey "leave it out": the line that the message names goes."""
    number = int(re.search(r"wrong\.toml:(\d+)", told)[1])
    lines = wrong.splitlines()
    del lines[number - 1]
    return "\n".join(lines) + "\n"


def bare_number(wrong: str, told: str) -> str:
    return wrong.replace('"74 kg"', re.search(r"quotes or unit: ([\d.]+)\.", told)[1])


def within_limits(old: str, key: str) -> Callable[[str, str], str]:
    """Obey "expected a number from LOW to HIGH": the end that is nearer."""

    def mended(wrong: str, told: str) -> str:
        low, high = map(float, re.search(r"expected a number from ([\d.]+) to ([\d.]+);", told).groups())
        was = float(old.split("=")[1])
        return wrong.replace(old, f"{key} = {min(max(was, low), high)}")

    return mended


def leave_out_the_point(wrong: str, told: str) -> str:
    assert 'load.cases[1]: In the load case "catch"' in told and "or leave it out" in told
    return re.sub(r"(?m)^point = .*\n", "", wrong)


def less_force(wrong: str, told: str) -> str:
    assert 'load.cases[1]: In the load case "catch"' in told
    return wrong.replace("50000.0", re.search(r"holds up to (\d+) N", told)[1])


def thinner_layers(wrong: str, told: str) -> str:
    assert "printer.layer_thickness_mm: Layers of 0.8 mm" in told
    return wrong.replace("_mm = 0.8", f"_mm = {re.search(r'to ([0-9.]+) or less', told)[1]}")


def say_points_on(wrong: str, told: str) -> str:
    return wrong.replace('points_on = "impression"', re.search(r'Set (points_on = "\w+")', told)[1])


def off_the_patch(desk: Desk) -> str:
    def moved(found: re.Match[str]) -> str:
        return f"point = {row(np.array([float(each) for each in found[1].split(',')]) + 0.15)}"

    return re.sub(r"(?m)^point = \[(.*)\]$", moved, desk.good)


def drop_second(wrong: str, told: str) -> str:
    """Obey "it takes": a key that a zone of this source does not take goes."""
    assert "does not take this key" in told
    return wrong.replace('source = "rest"\nradius_mm = 10', 'source = "rest"')


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
    "no quotes": (swap('scan = "base.ply"', "scan = base.ply"), write_line),
    "backslashes": (swap('scan = "base.ply"', r'scan = ".\base.ply"'), write_path),
    "body mass as text": (swap("body_mass_kg = 74.0", 'body_mass_kg = "74 kg"'), bare_number),
    "file misspelt": (swap('scan = "base.ply"', 'scan = "bse.ply"'), did_you_mean("bse.ply")),
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
    "ends in mm": (lambda desk: ends_times(desk.good, 1000.0), multiply_ends),
    "outline in mm": (points_times(1000.0), multiply_points),
    "outline in true mm": (points_times(None), multiply_points),
    "outline on the other scan": (swap('points_on = "base"', 'points_on = "impression"'), say_points_on),
    "clay a tenth": (
        swap("clay_thickness_mm = 30.0", "clay_thickness_mm = 3.0"),
        write_key("clay_thickness_mm", "clay_thickness_mm = 3.0"),
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


def test_of_two_check_lengths_that_disagree_a_third_tells_which_is_wrong(desk, capsys):
    wrong = desk.good.replace("measured_mm = 176.122", "measured_mm = 202.5")
    told = desk.told(wrong, capsys)
    assert "One was measured, typed or picked wrong. To find which, measure a third distance" in told
    told = desk.told(wrong.replace("[impression]", f"{desk.third}[impression]", 1), capsys)
    assert 'Without "screw to screw, left side, front to rear" the others agree' in told


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
