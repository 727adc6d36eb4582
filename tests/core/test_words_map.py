"""The words map: the person's names and units for settings, every fault with its line, and the blank one that ships."""

from __future__ import annotations

import json
import re
from dataclasses import fields

import numpy as np
import pytest
from tests.support.packing import pack_files, sidecar_parts

from padwright.cli.main import main
from padwright.core.base.errors import InputError
from padwright.core.stages.material.region_settings import RegionSettings
from padwright.core.stages.report.blank_map import blank_map
from padwright.core.stages.report.setting_lines import RegionLines, body_is_up, setting_lines, shared_lines
from padwright.core.stages.report.setting_words import SETTING_KINDS
from padwright.core.stages.report.words_map import WordsMap, parse_words

SETTINGS = RegionSettings(
    "tpu_85a", 0.4, 0.45, 0.2, "gyroid", 26.4, 2, 3, 4, 30.0, 3.0, 5.0, 225.0, 50.0
).as_json()  # fmt: skip


def told(text: str, settings: dict[str, object] = SETTINGS, *, is_body_up: bool | None = True) -> dict[str, str]:
    lines = setting_lines(settings, parse_words(text.encode(), "my.toml"), is_body_up=is_body_up)
    return {line.name: line.told for line in lines}


def uncommented(text: str) -> str:
    """The blank map with every example taken as it is."""
    return re.sub(r"(?m)^# (\[|[a-z_]+ = )", r"\1", text)


def test_every_setting_of_a_region_has_a_word():
    numbers = {each.name for each in fields(RegionSettings)} - {"basis", "notes"}
    assert numbers <= set(SETTING_KINDS)


def test_the_blank_map_says_nothing():
    assert parse_words(blank_map().encode(), "blank") == WordsMap()


def test_the_examples_of_the_blank_map_are_our_own_words():
    assert {name: value for name, value in told(uncommented(blank_map())).items()} == told("")


def test_lines_come_in_the_order_of_the_map_with_its_names_units_and_words():
    text = """
[solid_share_pct]
name = "How full"
unit = "fraction"
decimals = 3
[fill_structure]
name = "Kind"
[fill_structure.values]
gyroid = "wavy"
[bead_width_mm]
unit = "% of nozzle"
[layers_on_top]
name = "Lid"
unit = "mm"
[max_speed_mm_s]
unit = "mm/min"
unit_words = "per minute"
[nozzle_temperature_degC]
unit = "degF"
[max_volume_flow_mm3_s]
leave_out = true
"""
    found = told(text)
    assert list(found)[:6] == ["How full", "Kind", "line width", "Lid", "speed, at most", "nozzle temperature"]
    assert found["How full"] == "0.264"
    assert found["Kind"] == "wavy"
    assert found["line width"] == "112.5 %"
    assert found["Lid"] == "0.6 mm"  # body side up: its 3 layers of 0.2 mm are on top
    assert found["speed, at most"] == "1800 per minute"
    assert found["nozzle temperature"] == "437 degrees F"
    assert "flow, at most" not in found


@pytest.mark.parametrize(
    ("is_up", "names"),
    [
        (True, {"closed layers at the top": "3", "closed layers at the bottom": "4"}),
        (False, {"closed layers at the top": "4", "closed layers at the bottom": "3"}),
        (None, {"closed layers on the body side": "3", "closed layers on the base side": "4"}),
    ],
)
def test_closed_layers_are_told_by_how_the_part_lies(is_up, names):
    found = told("", is_body_up=is_up)
    assert {name: value for name, value in found.items() if name.startswith("closed")} == names


@pytest.mark.parametrize(("angle", "is_up"), [(0, True), (20, True), (60, None), (90, None), (120, None), (180, False)])
def test_a_part_lies_on_a_side_within_25_degrees(angle, is_up):
    cosine, sine = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    turn = np.array([[1.0, 0.0, 0.0], [0.0, cosine, -sine], [0.0, sine, cosine]])
    assert body_is_up(np.array([0.0, 0.0, -1.0]), turn) is is_up
    assert body_is_up(None, turn) is None


def test_a_solid_region_has_at_least_so_many_contours_and_no_closed_layers():
    found = told("", {**SETTINGS, "fill_structure": "solid", "solid_share_pct": 100.0})
    assert found["fill"] == "solid" and found["contours"] == "at least 2"
    assert not [name for name in found if name.startswith("closed") or name == "fill cell"]


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[solid_share_pct]\nunit = 'percent'", 2, 'expected one of "%", "fraction"; got "percent"'),
        ("[solid_share_pct]\nnmae = 'x'", 2, "did you mean solid_share_pct.name"),
        ("[solid_share]\nname = 'x'", 1, "did you mean solid_share_pct"),
        ("[contour_count]\ndecimals = 9", 2, "a whole number from 0 to 6"),
        ("[contour_count]\ntimes = 0", 2, "a number above 0"),
        ("[fill_structure]\nunit = 'mm'", 2, "has no unit"),
        ("[fill_structure]\ntimes = 2", 2, "no number"),
        ("[contour_count.values]\nsolid = 'x'", 1, "only fill_structure has words for its values"),
        ("[fill_structure.values]\ngyrod = 'x'", 2, "did you mean fill_structure.values.gyroid"),
        ("[contour_count]\nname = 'A'\n[solid_share_pct]\nname = 'a'", 4, "is the name of contour_count too"),
        ("[contour_count]\nname = A", 2, 'Write: name = "A"'),
        ("[[always]]\nname = 'Brim'", 1, "always[1].value: this key is missing"),
    ],
)
def test_every_fault_is_told_with_its_line(text, line, words):
    with pytest.raises(InputError) as caught:
        parse_words(text.encode(), "my.toml")
    assert caught.value.message.startswith(f"my.toml:{line}") and words in caught.value.message


def test_several_faults_are_told_at_once():
    with pytest.raises(InputError) as caught:
        parse_words(b"[contour_count]\ntimes = 0\n[solid_share_pct]\nunit = 'percent'\n", "my.toml")
    assert len(caught.value.message.splitlines()) == 2


def test_a_job_is_told_as_one_and_not_key_by_key():
    with pytest.raises(InputError) as caught:
        parse_words(b"schema = 1\n[part]\nname = 'Pad'\n[base]\nscan = 'a.ply'\n", "job.toml")
    assert caught.value.message == '"job.toml" is a job, not a words map.'


def test_top_and_side_may_share_a_name_as_a_sheet_has_one_of_them():
    parse_words(b"[layers_on_top]\nname = 'Lid'\n[body_side_layer_count]\nname = 'Lid'\n", "my.toml")
    with pytest.raises(InputError, match="names must differ"):
        parse_words(b"[layers_on_top]\nname = 'Lid'\n[layers_at_bottom]\nname = 'Lid'\n", "my.toml")


def test_a_number_that_rounding_would_change_keeps_the_decimals_it_needs():
    assert told("[solid_share_pct]\nunit = 'fraction'\ndecimals = 1")["fill share"] == "0.26"
    assert told("[solid_share_pct]\ndecimals = 0")["fill share"] == "26 %"  # 1.5 % off


def test_what_all_regions_share_is_told_once():
    lines = [
        RegionLines(name, name, setting_lines({**SETTINGS, "solid_share_pct": share}, WordsMap(), is_body_up=True))
        for name, share in (("a", 10.0), ("b", 20.0))
    ]
    same, differing = shared_lines(lines)
    assert [line.key for line in differing] == ["solid_share_pct"]
    assert {line.key for line in same} == {line.key for line in lines[0].lines} - {"solid_share_pct"}
    everything, nothing = shared_lines(lines[:1])
    assert everything == lines[0].lines and not nothing


def written(tmp_path):
    path = tmp_path / "PAD-1.settings.json"
    path.write_bytes(pack_files(sidecar_parts())["PAD-1.settings.json"])
    return path


def test_the_command_prints_the_lines_region_by_region(tmp_path, capsys):
    path, words = written(tmp_path), tmp_path / "my.toml"
    words.write_text(
        "[solid_share_pct]\nname = 'How full'\nwhere = 'page two'\n[[always]]\nname = 'Brim'\nvalue = 'none'"
    )
    assert main(["map", str(path), "--words", str(words)]) == 0
    out = capsys.readouterr().out
    for region in json.loads(path.read_text("utf-8"))["regions"]:
        share = region["settings"]["solid_share_pct"]
        block = out.split(f"{region['name']}:\n")[1].split("\n\n")[0]
        assert re.search(rf"How full +{share:g} % +page two", block)
    assert re.search(r"(?m)^  Brim +none$", out.split("For the whole part:")[1].split("\n\n")[0])


def test_the_command_writes_a_blank_map_and_never_over_a_file(tmp_path, capsys):
    path = tmp_path / "words.toml"
    assert main(["map", "--blank", "--out", str(path)]) == 0
    assert path.read_text("utf-8") == blank_map()
    assert main(["map", "--blank", "--out", str(path)]) == 2
    capsys.readouterr()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["map"], "Give either a .settings.json or --blank."),
        (["map", "PAD-1.settings.json", "--blank"], "Give either"),
        (["map", "gone.settings.json"], "cannot be read"),
        (["map", "other.json"], "does not say how regions are printed"),
        (["map", "frameless.json"], "does not say how the part lies"),
        (["map", "PAD-1.settings.json", "--words", "gone.toml"], "map --blank"),
    ],
)
def test_what_the_command_cannot_use_is_one_clear_error(tmp_path, monkeypatch, capsys, arguments, words):
    monkeypatch.chdir(tmp_path)
    path = written(tmp_path)
    document = json.loads(path.read_text("utf-8"))
    (tmp_path / "other.json").write_text("[1, 2]")
    del document["coordinate_frame"]["to_bed"]
    (tmp_path / "frameless.json").write_text(json.dumps(document))
    assert main(arguments) == 2
    assert words in capsys.readouterr().err
