"""The job file: what is right is read, what is wrong is told with line, key, what was expected and the nearest name."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.cards import load_family
from padwright.core.job.keys import walk_keys
from padwright.core.job.read import key_notes, parse_job, read_job
from padwright.core.job.schema import FAMILIES, Job
from padwright.core.job.write import new_job, write_job
from padwright.core.job.zone_keys import SOURCES

TEN_LINES = """\
schema = 1
[part]
name = "Seat pad"
number = "PAD-1"
family = "seat_pad"
[base]
scan = "base.ply"
[impression]
scan = "impression.ply"
"""


def read(text: str, folder: Path | None = None) -> Job:
    return parse_job(text.encode(), "job.toml", folder)


def refusal(text: str, folder: Path | None = None) -> str:
    with pytest.raises(InputError) as caught:
        read(text, folder)
    assert caught.value.exit_code == 2
    return caught.value.message


def test_ten_lines_are_a_job_and_every_default_is_the_cards():
    job = read(TEN_LINES)
    family = load_family("seat_pad")
    for path, default in family.defaults.items():
        if path[:2] == ("pad", "reliefs") or path[0] == "zones":
            continue  # a job without reliefs has none; zones below
        value = job
        for part in path:
            value = getattr(value, part)
        assert value == (tuple(default.value) if isinstance(default.value, list) else default.value), path
    assert [(zone.name, zone.level, zone.source) for zone in job.zones] == [
        (zone["name"], zone["level"], zone["source"]) for zone in family.zones
    ]
    assert job.zones[0].radius_mm == family.defaults[("zones", "radius_mm")].value


def test_names_of_the_keys_that_a_full_job_uses():
    job = read(
        TEN_LINES
        + """\
scale = "as base"
clay_thickness_mm = 20
[[base.check_lengths]]
name = "screws"
measured_mm = 200.0
plus_minus_mm = 0.1
from = [0, 0.5, 1]
to = [1.0, 2.0, 3.0]
[[alignment.pairs]]
base = [0, 0, 0]
impression = [1, 1, 1]
[[alignment.pairs]]
base = [1, 0, 0]
impression = [2, 1, 1]
[[alignment.pairs]]
base = [0, 1, 0]
impression = [1, 2, 1]
[body]
press_direction = [0.0, 0.0, -1.0]
load_center_spacing_mm = 118.0
[pad]
fit_gap_mm = 0.5
cover_mm = 1.5
[[pad.reliefs]]
kind = "channel"
points = [[0, 0, 0], [1, 0, 0]]
width_mm = 20
depth_mm = 5
[[zones]]
name = "band"
level = 2.5
source = "imprint_depth"
from_mm = 4.0
[[zones]]
name = "rest"
level = 1
source = "rest"
"""
    )
    assert job.base.check_lengths[0].from_point == (0.0, 0.5, 1.0)
    assert job.alignment.pairs[2].impression == (1.0, 2.0, 1.0)
    assert job.body.press_direction == (0.0, 0.0, -1.0)
    assert (
        job.pad.reliefs[0].edge_radius_mm
        == load_family("seat_pad").defaults[("pad", "reliefs", "edge_radius_mm")].value
    )
    assert [zone.level for zone in job.zones] == [2.5, 1.0]


BAD = [
    ("[pad]\nfit_gap = 0.4", "job.toml:11: pad.fit_gap: there is no such key; did you mean pad.fit_gap_mm?"),
    ("[pads]\nfit_gap_mm = 1", "job.toml:10: pads: there is no such key; did you mean pad?"),
    ("[body]\nfit_gap_mm = 1", "job.toml:11: body.fit_gap_mm: there is no such key here; did you mean pad.fit_gap_mm?"),
    ("[pad]\nqqq = 1", "job.toml:11: pad.qqq: there is no such key here; known are fit_gap_mm, least_thickness_mm"),
    ("[pad]\nfit_gap_mm = '1'", 'pad.fit_gap_mm: expected a number from 0 to 20; got "1", a text; write the number'),
    ("[pad]\nfit_gap_mm = true", "pad.fit_gap_mm: expected a number from 0 to 20; got true."),
    ("[pad]\nfit_gap_mm = nan", "pad.fit_gap_mm: expected a number from 0 to 20; got nan."),
    ("[pad]\nfit_gap_mm = -0.1", "pad.fit_gap_mm: expected a number from 0 to 20; got -0.1."),
    ("[pad]\nfit_gap_mm = 1e400", "pad.fit_gap_mm: expected a number from 0 to 20; got inf."),
    (f"[printer]\nnozzle_mm = {10**400}", "printer.nozzle_mm: expected a number from 0.1 to 3; got 1000"),
    ("[blend]\nsteps = 1.0", "blend.steps: expected a whole number from 0 to 8; got 1.0."),
    ("[output]\nstl = 1", "output.stl: expected true or false; got 1."),
    (
        "[regions]\ncontact = 'touchin'",
        'expected one of "touching", "overlapping"; got "touchin". Did you mean "touching"?',
    ),
    ("[body]\npress_direction = 'up'", 'expected a direction [x, y, z], "auto" or "inward"; got "up".'),
    ("[body]\npress_direction = [0, 0, 0]", "got a direction without length"),
    ("[body]\npress_direction = [0, 0, 1e9]", "got a direction of length 1e+09"),
    ("[load]\npoint = [0, 0, 1e300]", "load.point: expected a point [x, y, z]; got 1e+300"),
    ("[printer]\nnozzle_mm = 0x" + "f" * 5000, "got a whole number of 6021 digits or so"),
    ("[printer]\nnozzle_mm = " + "9" * 5000, "a number in it has more digits than any number of a job"),
    ("[load]\nbody_mass_kg = 1e-9", "load.body_mass_kg: expected a number from 1 to 400; got 1e-09"),
    ("[limits]\nsolid_share_pct = [1e-9, 1e-9]", "limits.solid_share_pct: expected a list of 2 numbers"),
    (".".join(["a"] * 20_000) + " = 1", "a key lies more than 40 tables deep"),
    ("x = " + "[" * 41 + "]" * 41, "a key lies more than 40 tables deep"),
    ("x = " + "[" * 100_000 + "]" * 100_000, "lists are nested too deeply"),
    ("[body]\npress_direction = [0, 0]", "got a list of 2"),
    (
        "[pad]\nfootprint = [[0,0,0],[1,0,0]]",
        "pad.footprint: expected a list of 3 or more points [x, y, z]; got a list of 2",
    ),
    (
        "[pad]\nfootprint = [[0,0,0],[1,0,0],[1,1]]",
        "job.toml:11: pad.footprint[3]: expected a point [x, y, z]; got a list of 2",
    ),
    ("[[pad]]\nfit_gap_mm = 1", "job.toml:10: pad: expected a table"),
    ("[zones]\nname = 'x'", "zones: expected a list of tables, [[zones]]"),
    (
        "[[alignment.pairs]]\nbase=[0,0,0]\nimpression=[0,0,0]",
        "alignment.pairs: expected a list of 3 to 1000 tables; got 1.",
    ),
    (
        "[[pad.reliefs]]\nkind = 'channel'\npoints = [[0,0,0],[1,0,0]]\nwidth_mm = 3",
        "pad.reliefs[1].depth_mm: this key is missing",
    ),
    ("[[pad.reliefs]]\nkind = 'opening'\npoints = [[0,0,0],[1,0,0]]", "an opening needs 3 or more points; got 2"),
    ("[[zones]]\nname = 'a'\nlevel = 5\nsource = 'rest'", "zones[1].level: expected a number from 1 to 4; got 5."),
    (
        "[[zones]]\nname = 'a'\nlevel = 2\nsource = 'outline'",
        "zones[1].points: this key is missing; a zone with source",
    ),
    ("[[zones]]\nname = 'a'\nlevel = 2\nsource = 'imprint_depth'", "zones[1].from_mm: give from_mm, to_mm or both."),
    (
        "[[zones]]\nname = 'a'\nlevel = 2\nsource = 'rest'\nradius_mm = 3",
        "does not take this key; it takes no keys of its own",
    ),
    (
        "[[zones]]\nname = 'a'\nlevel = 2\nsource = 'imprint_depth'\nfrom_mm = 3\nto_mm = 2",
        "job.toml:15: zones[1].to_mm: it must be above from_mm.",
    ),
    (
        "[[zones]]\nname = 'a'\nlevel = 2\nsource = 'rest'\n[[zones]]\nname = 'a'\nlevel = 3\nsource = 'rest'",
        'job.toml:15: zones[2].name: there are two zones "a"; names must differ.',
    ),
    ("[[blend.between]]\nzones = ['rest', 'nowhere']\nsteps = 1", 'there is no zone "nowhere"'),
    (
        "[[base.check_lengths]]\nmeasured_mm = 0\nfrom = [1,1,1]\nto = [2,1,1]",
        "base.check_lengths[1].measured_mm: expected a number from 0.1 to 10000; got 0.",
    ),
    (
        "[datum]\nsymmetric = true\nplane=[[0,0,0],[1,0,0],[0,1,0]]\nline=[[0,0,0],[1,0,0]]\npoint=[0,0,0]",
        "datum.symmetric: give",
    ),
    ("[datum]\npoint = [0, 0, 0]", "datum: give plane, line and point together, or none of them."),
    ("[load]\nforce_n = 1\nbody_mass_kg = 1", "load.force_n: give either force_n or body_mass_kg, not both."),
    (
        "[[base.check_lengths]]\nmeasured_mm = 3\nfrom = [1,1,1]\nto = [1,1,1]",
        "base.check_lengths[1].to: it is the same point",
    ),
    ("[material]\ncard = 'tpu_85'\n", 'Material card "tpu_85" is not there.'),
]


@pytest.mark.parametrize(("more", "says"), BAD, ids=[says[:50] for _, says in BAD])
def test_what_is_wrong_is_told_with_its_place(more, says, tmp_path):
    for scan in ("base.ply", "impression.ply"):
        (tmp_path / scan).write_bytes(b"")
    folder = tmp_path if "material" in more else None
    if folder:
        says = 'material.card: the file "tpu_85" is not there'
    assert says in refusal(TEN_LINES + more, folder)


def test_every_fault_is_told_at_once_in_the_order_of_the_file():
    told = refusal(
        TEN_LINES.replace('number = "PAD-1"', 'number = "a b"') + "[pad]\nfit_gap = 1\nrim_radius_mm = -1"
    ).splitlines()
    assert [re.match(r"job\.toml:(\d+): ", line).group(1) for line in told] == ["4", "11", "12"]


def test_missing_keys_and_tables_are_told():
    assert "job.toml:2: part.number: this key is missing" in refusal(TEN_LINES.replace('number = "PAD-1"\n', ""))
    assert "part: this key is missing; expected a table." in refusal("schema = 1\n[base]\nscan = 'x'\n")
    assert "impression: this table is missing" in refusal(TEN_LINES.split("[impression]")[0])
    assert "schema: expected 1; got 2." in refusal(TEN_LINES.replace("schema = 1", "schema = 2"))
    assert 'Did you mean "seat_pad"?' in refusal(TEN_LINES.replace("seat_pad", "seatpad"))


def test_an_envelope_takes_the_place_of_the_impression():
    job = read(TEN_LINES.split("[impression]")[0] + "[pad]\nenvelope = 'mine.stl'\n")
    assert job.impression is None


def test_scale_as_base_and_own_lengths_exclude_each_other():
    own = "[[impression.check_lengths]]\nmeasured_mm = 3\nfrom = [1,1,1]\nto = [2,1,1]\n"
    assert read(TEN_LINES + own).impression.check_lengths[0].measured_mm == 3.0
    assert "impression.scale: give either" in refusal(TEN_LINES + 'scale = "as base"\n' + own)


@pytest.mark.parametrize("number", ["../x", "a/b", ".hidden", "CON", "nul.txt", "x" * 41, "a\\b", "ü", ""])
def test_part_numbers_that_make_bad_file_names_are_refused(number):
    assert "part.number: expected up to 40 letters" in refusal(TEN_LINES.replace("PAD-1", number.replace("\\", "\\\\")))


def test_a_liner_pad_must_say_that_it_is_for_no_certified_gear():
    text = TEN_LINES.replace("seat_pad", "liner_pad")
    caution = next(each.text for each in load_family("liner_pad").cautions if each.code == "CERTIFIED_GEAR")
    assert caution in refusal(text)
    assert caution in refusal(text.replace("[base]", "certified_gear = true\n[base]"))
    assert read(text.replace("[base]", "certified_gear = false\n[base]")).part.certified_gear is False
    assert "certified_gear: it is true" in refusal(TEN_LINES.replace("[base]", "certified_gear = true\n[base]"))


def test_a_missing_file_is_never_guessed_to_be_one_the_job_names_already(tmp_path):
    """ "base.ply" is the nearest name to "bass.ply", but it is the base scan."""
    path = tmp_path / "job.toml"
    (tmp_path / "base.ply").write_bytes(b"")
    path.write_text(TEN_LINES.replace("impression.ply", "bass.ply"))
    with pytest.raises(InputError, match="is not there") as caught:
        read_job(path)
    assert "Did you mean" not in caught.value.message
    (tmp_path / "brass.ply").write_bytes(b"")
    with pytest.raises(InputError, match=r'Did you mean "brass\.ply"'):
        read_job(path)


def test_a_material_that_is_no_file_is_told_with_those_that_ship(tmp_path):
    path = tmp_path / "job.toml"
    for scan in ("base.ply", "impression.ply"):
        (tmp_path / scan).write_bytes(b"")
    path.write_text(TEN_LINES + '\n[material]\ncard = "softish"\n')
    with pytest.raises(InputError, match=r"What ships: .*tpu_85a"):
        read_job(path)
    path.write_text(TEN_LINES + '\n[material]\ncard = "tpu85a"\n')
    with pytest.raises(InputError, match='Did you mean "tpu_85a"'):
        read_job(path)


def test_files_are_looked_for_beside_the_job(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(TEN_LINES)
    (tmp_path / "base.ply").write_bytes(b"")
    (tmp_path / "impresion.ply").write_bytes(b"")
    with pytest.raises(InputError) as caught:
        read_job(path)
    assert caught.value.message == (
        f'job.toml:9: impression.scan: the file "impression.ply" is not there (looked in {tmp_path}).'
        ' Did you mean "impresion.ply"?'
    )
    (tmp_path / "impression.ply").write_bytes(b"")
    assert read_job(path).part.number == "PAD-1"
    path.write_text(TEN_LINES.replace("base.ply", "."))
    with pytest.raises(InputError, match="is a folder"):
        read_job(path)


def test_a_job_that_is_not_there_says_how_to_make_one(tmp_path):
    with pytest.raises(InputError, match=r"cannot be read: .*padwright new --family"):
        read_job(tmp_path / "none.toml")


def test_a_job_that_sets_what_is_written_has_no_key_that_nothing_uses():
    assert key_notes(read(TEN_LINES)) == ()
    assert key_notes(read(TEN_LINES + "[output]\nreport = false\nsettings_map = 'mine.toml'\n")) == ()


def test_keys_of_earlier_versions_are_read_and_left_out_with_a_note():
    job = read(TEN_LINES + '[coupons]\nmake = 7\nsize = "any"\n[output]\nlayout = "items"\nstl = false\n')
    assert not job.output.stl
    coupons, layout = key_notes(job)
    assert "left out, no longer a key: coupons; blocks to press are made by: python -m padwright coupons." in coupons
    assert "left out, no longer a key: output.layout;" in layout
    assert key_notes(read(write_job(job))) == ()


def test_whoever_writes_a_target_is_tuned():
    assert read(TEN_LINES).target.goal == "levels"
    load = "[load]\nbody_mass_kg = 70\n"
    assert read(TEN_LINES + load + "[target]\nsinkage_limit_mm = 3.25\n").target.goal == "even"
    assert read(TEN_LINES + load + '[target]\nrelieve = ["rest"]\n').target.goal == "relieve"
    assert read(TEN_LINES + '[target]\ngoal = "levels"\n').target.goal == "levels"


def test_limits_must_leave_something_to_choose():
    assert read(TEN_LINES).limits.contour_counts == (0, 3)
    assert "the least, 30, is above the most, 20" in refusal(TEN_LINES + "[limits]\nsolid_share_pct = [30, 20]\n")
    assert "expected two whole numbers" in refusal(TEN_LINES + "[limits]\ncontour_counts = [0.5, 2]\n")
    assert "fill_structures" in refusal(TEN_LINES + '[limits]\nfill_structures = ["none"]\n')


def test_the_document_names_every_key_and_no_other():
    document = (Path(__file__).parents[2] / "docs" / "job.md").read_text("utf-8")
    cells = [line.split("|")[1:3] for line in document.splitlines() if line.startswith("|")]
    told = set(re.findall(r"`([a-z_0-9]+)(?:`| = )", " ".join(cell for row in cells for cell in row)))
    keys = {str(path[-1]) for path, described, _ in walk_keys(Job) if described.kind not in ("table",)}
    tables = {str(path[0]) for path, described, _ in walk_keys(Job) if described.kind == "table"}
    headings = set(
        re.findall(r"\[+([a-z_.]+)\]", " ".join(re.findall(r"^#+ .*$|or more `\[\[.*", document, re.MULTILINE)))
    )
    assert keys - told <= {heading.split(".")[-1] for heading in headings}
    assert tables <= headings
    first_cells = set(re.findall(r"`([a-z_0-9]+)`", " ".join(row[0] for row in cells)))
    assert first_cells <= keys
    assert all(f'`"{source}"`' in document for source in SOURCES)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_new_job_reads_as_soon_as_its_scans_are_there(family, tmp_path):
    text = new_job(family)
    if family == "liner_pad":
        assert "part.certified_gear: this key is missing" in refusal(text)
        text = text.replace("# certified_gear = ...", "certified_gear = false")
    path = tmp_path / "job.toml"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_job(path)
    assert len(caught.value.message.splitlines()) == 2  # nothing but the two scans is missing
    for scan in ("base.stl", "impression.stl"):
        (tmp_path / scan).write_bytes(b"")
    job = read_job(path)
    assert key_notes(job) == ()
    assert len(job.given) < 20  # all else is the card's


@pytest.mark.parametrize("family", FAMILIES)
def test_every_default_that_a_new_job_shows_is_a_live_default(family):
    """Uncommenting every line that shows a value changes nothing."""
    text = new_job(family).replace("# certified_gear = ...", "certified_gear = false")
    shown = re.sub(r"^# (?=[a-z_]+ = )(?!.*= \.\.\.)", "", text, flags=re.MULTILINE)
    shown = "\n".join(  # tables of lists stay commented, and so do their keys
        f"# {line}" if commented and not line.startswith(("#", "[")) and line else line
        for line, commented in _under_commented_header(shown)
    )
    assert read(shown) == read(text)


def _under_commented_header(text):
    commented = False
    for line in text.splitlines():
        if re.match(r"(# )?\[", line):
            commented = line.startswith("#")
        if line.startswith("# Zones"):
            commented = False
        yield line, commented


def test_ten_thousand_zones_are_refused_at_once():
    zones = "".join(f'[[zones]]\nname = "z{place}"\nlevel = 3\nsource = "rest"\n' for place in range(10_000))
    start = time.perf_counter()
    message = refusal(TEN_LINES + zones)
    assert "job.toml:10: zones: expected a list of tables, 100 at most; got 10000." in message
    assert time.perf_counter() - start < 20.0  # 3 s on two busy cores; comparing each with each took over 45
