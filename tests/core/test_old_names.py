"""Keys and values of earlier versions: each reads as the one of today, with a note; nothing else says the old words."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from pathlib import Path

import pytest

from padwright.cli import main as cli
from padwright.core.base.errors import InputError
from padwright.core.base.resources import shared_path
from padwright.core.job.cards import Family, read_family
from padwright.core.job.keys import keys_of, walk_keys
from padwright.core.job.material_cards import MaterialCard
from padwright.core.job.read import key_notes, parse_job, tell_place
from padwright.core.job.renames import CARD, JOB
from padwright.core.job.schema import FAMILIES, Job
from padwright.core.job.toml_lines import parse_toml
from padwright.core.job.write import write_job

ROOT = Path(__file__).resolve().parents[2]
HEAD = """\
schema = 1
[part]
name = "Pad"
number = "P-1"
family = "seat_pad"
[base]
scan = "b.ply"
[impression]
scan = "i.ply"
"""
ZONE = '[[zones]]\nname = "one"\nlevel = 4\n'
MARK = 'source = "color_marks"\n'
PAIRS = {  # what a file of an earlier version says: what one of today says, and the note
    "load_centre_count = [1, 3]\n": ("load_center_count = [1, 3]\n", "impression.load_centre_count; it is impression."),
    "[[impression.load_centres]]\nnear = [1, 2, 3]\n": (
        "[[impression.load_centers]]\nnear = [1, 2, 3]\n",
        "impression.load_centres; it is impression.load_centers now.",
    ),
    "[body]\nload_centre_spacing_mm = 118\n": (
        "[body]\nload_center_spacing_mm = 118\n",
        "body.load_centre_spacing_mm; it is body.load_center_spacing_mm now.",
    ),
    ZONE + 'source = "load_centres"\n': (
        ZONE + 'source = "load_centers"\n',
        'zones.source = "load_centres"; it is "load_centers" now.',
    ),
    ZONE + 'source = "colour_marks"\ncolor = "#ff0000"\n': (
        ZONE + MARK + 'color = "#ff0000"\n',
        'zones.source = "colour_marks"; it is "color_marks" now.',
    ),
    ZONE + MARK + 'colour = "#ff0000"\n': (ZONE + MARK + 'color = "#ff0000"\n', "zones.colour; it is zones.color now."),
    ZONE + MARK + 'color = "#ff0000"\ncolour_tolerance = 0.25\n': (
        ZONE + MARK + 'color = "#ff0000"\ncolor_tolerance = 0.25\n',
        "zones.colour_tolerance; it is zones.color_tolerance now.",
    ),
    '[[impression.load_centers]]\nname = "left"\nnear = [1, 2, 3]\n'
    + ZONE
    + 'source = "load_centers"\nload_centres = ["left"]\n': (
        '[[impression.load_centers]]\nname = "left"\nnear = [1, 2, 3]\n'
        + ZONE
        + 'source = "load_centers"\nload_centers = ["left"]\n',
        "zones.load_centres; it is zones.load_centers now.",
    ),
    "[limits]\nfill_density_pct = [7, 33]\n": (
        "[limits]\nsolid_share_pct = [7, 33]\n",
        "limits.fill_density_pct; it is limits.solid_share_pct now.",
    ),
    '[limits]\nfill_patterns = ["honeycomb", "gyroid"]\n': (
        '[limits]\nfill_structures = ["honeycomb", "gyroid"]\n',
        "limits.fill_patterns; it is limits.fill_structures now.",
    ),
}


def read(more: str) -> Job:
    return parse_job((HEAD + more).encode(), "job.toml", None)


@pytest.mark.parametrize("old", PAIRS)
def test_an_old_name_gives_the_same_job_and_a_note(old):
    now, says = PAIRS[old]
    job = read(old)
    assert job == read(now) != read("")
    (note,) = key_notes(job)
    assert note.startswith("Read under its old name: ") and says in note
    assert key_notes(read(now)) == ()
    again = parse_job(write_job(job).encode(), "job.toml", None)
    assert again == job and key_notes(again) == ()


def test_every_old_name_was_tried():
    olds = {str(path[-1]) for path in JOB.keys} | {value for each in JOB.values.values() for value in each}
    assert {name for name in olds if not any(re.search(rf"\b{name}\b", old) for old in PAIRS)} == set()


def test_an_old_name_in_many_zones_is_told_once():
    zones = "".join(f'[[zones]]\nname = "z{at}"\nlevel = 3\nsource = "load_centres"\n' for at in range(3))
    (note,) = key_notes(read(zones))
    assert 'zones.source = "load_centres"; it is "load_centers" now.' in note


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (
            "[limits]\nsolid_share_pct = [5, 30]\nfill_density_pct = [5, 20]\n",
            "job.toml:12: limits.fill_density_pct: it is the old name of solid_share_pct, and both are given; "
            "keep solid_share_pct.",
        ),
        (
            ZONE + 'source = "color_marks"\ncolour = "#ff0000"\ncolor = "#ff0000"\n',
            "job.toml:14: zones[1].colour: it is the old name of color, and both are given; keep color.",
        ),
    ],
)
def test_both_names_at_once_are_refused(more, says):
    with pytest.raises(InputError) as caught:
        read(more)
    assert says in caught.value.message and caught.value.exit_code == 2


def test_a_fault_is_told_with_its_line_and_the_name_in_the_file():
    with pytest.raises(InputError) as caught:
        read("[limits]\nfill_density_pct = [30, 20]\n")
    assert caught.value.message.startswith("job.toml:11: limits.solid_share_pct (here fill_density_pct): the least, 30")
    center = '[[impression.load_centers]]\nname = "left"\nnear = [1, 2, 3]\n'
    job = read(ZONE + 'source = "load_centers"\nload_centres = ["left"]\n' + center)
    error = InputError("it is not there.")
    error.key = ("zones", 0, "load_centers")
    assert tell_place(error, job).message == (
        "job.toml:14: zones[1].load_centers (here load_centres): it is not there."
    )


@pytest.mark.parametrize("family", FAMILIES)
def test_a_card_of_old_names_is_the_same_card(family):
    text = shared_path("families", f"{family}.toml").read_text("utf-8")
    old, changed = text, set()
    for path, now in CARD.keys.items():
        old, count = re.subn(rf"(?m)^{now} = ", f"{path[-1]} = ", old)
        changed |= {str(path[-1])} if count else set()
    old = old.replace('source = "load_centers"', 'source = "load_centres"')
    assert {"fill_pattern", "fill_density_pct", "roof_layer_count", "floor_layer_count", "fill_patterns"} < changed
    read_old = read_family(*parse_toml(old.encode(), "card.toml"), "card.toml")
    read_now = read_family(*parse_toml(text.encode(), "card.toml"), "card.toml")
    assert read_now.renamed == ()
    told = [item for item in fields(Family) if item.name != "renamed"]
    assert all(getattr(read_old, item.name) == getattr(read_now, item.name) for item in told)
    for name in changed:
        assert sum(f".{name}; it is " in note for note in read_old.renamed) >= 1, name
    assert all(note.startswith("Card card.toml: Read under its old name: ") for note in read_old.renamed)


def test_blocks_printed_with_an_earlier_version_can_be_calibrated(tmp_path, capsys):
    from padwright.core.run.coupons import read_record

    assert cli.main(["coupons", "--patterns", "honeycomb", "--densities", "12,20", "--out", str(tmp_path / "old")]) == 0
    said = capsys.readouterr().out
    assert "Read under its old name: --patterns; it is --structures now." in said
    assert "Read under its old name: --densities; it is --shares now." in said
    assert cli.main(["coupons", "--structures", "honeycomb", "--shares", "12,20", "--out", str(tmp_path / "now")]) == 0
    assert "old name" not in capsys.readouterr().out
    data = (tmp_path / "now" / "COUPONS-tpu_85a.run.json").read_bytes()
    assert (
        json.loads(data)["coupons"]
        == json.loads((tmp_path / "old" / "COUPONS-tpu_85a.run.json").read_bytes())["coupons"]
    )
    once = data.decode()
    for old, now in (
        ("fill_density_pct", "solid_share_pct"), ("fill_pattern", "fill_structure"),
        ("roof_layer_count", "body_side_layer_count"), ("floor_layer_count", "base_side_layer_count"),
    ):  # fmt: skip
        assert f'"{now}"' in once
        once = once.replace(f'"{now}"', f'"{old}"')
    assert read_record(once.encode(), "run.json") == read_record(data, "run.json")


BRITISH = re.compile(r"centre|colour|neighbour|metre|mould|grey|fibre|licence|favour")
OLD = re.compile(
    r"\binfill|fill[ _-]?densit|fill[ _-]?pattern|(roof|floor|top|bottom)[ _-](solid[ _-])?layer|"
    r"load_centre_(count|spacing)|colour_(marks|tolerance)",
    re.IGNORECASE,
)
KEEPS_THEM = {"job.schema.json", "renames.py"}
"""They say what names were once."""


def test_keys_and_values_are_in_us_spelling():
    from padwright.core.job.cards import Family

    names = set()
    for table in (Job, Family, MaterialCard):
        for path, described, _ in walk_keys(table):
            names |= {str(path[-1]), *described.choices}
    names |= set(keys_of(MaterialCard))
    assert len(names) > 150
    assert [name for name in sorted(names) if BRITISH.search(name)] == []


def test_no_old_word_is_left_where_people_read():
    files = [ROOT / "README.md", ROOT / "DEVELOPERS.md"]
    for folder, endings in (
        ("docs", ("md",)),
        ("addon", ("py", "toml")),
        ("shared", ("toml", "json")),
        ("scripts", ("py",)),
    ):
        files += [path for ending in endings for path in sorted((ROOT / folder).rglob(f"*.{ending}"))]
    assert len(files) > 250
    found = []
    for path in files:
        if path.name in KEEPS_THEM:
            continue
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
            is_table_of_old_names = path.name == "job.md" and line.startswith("  | ")
            if OLD.search(line) and not is_table_of_old_names:
                found.append(f"{path.name}:{number}: {line.strip()}")
    assert found == []


@pytest.mark.parametrize("text", ["the fill density", "fill_patterns", "Infill", "three floor layers"])
def test_an_old_word_is_found(text):
    assert OLD.search(text)
