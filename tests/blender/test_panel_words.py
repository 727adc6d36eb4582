"""What is wrong with a part is told by the names of the fields that the artist sees, never by keys of a job file."""

from __future__ import annotations

from types import SimpleNamespace

import bpy
import pytest


def wrong(operator: str) -> str:
    with pytest.raises(RuntimeError) as told:
        getattr(bpy.ops.padwright, operator)()
    return str(told.value)


@pytest.mark.parametrize(
    "field, value, said",
    [
        ("number", " ", 'The part has no number. Type one in the field "Number"'),
        ("number", "a/b", "Number: expected up to 40 letters, digits, -, _ or ., beginning with a letter or digit"),
        ("part_name", "", "Name: expected one line of text; got an empty text"),
        ("part_name", "x" * 201, "Name: expected one line of text; got 201 characters, 200 are the most"),
        ("press_vector", (0, 0, 0), "Direction: expected a direction; got a direction without length"),
    ],
)
def test_a_field_of_the_part_is_named_as_the_panel_does(part, field, value, said):
    part.press = "given"
    setattr(part, field, value)
    assert said in wrong("prepare_scans")


@pytest.mark.parametrize(
    "field, value, said",
    [
        ("measured_mm", 0.05, ", By Hand: expected a number from 0.1 to 10000; got 0.05"),
        ("name", "x" * 501, "Check length 2, Name: expected one line of text; got 501"),
    ],
)
def test_a_field_of_a_check_length_is_named_with_its_length(part, field, value, said):
    length = part.lengths[1]
    setattr(length, field, value)
    before = f'Check length "{length.name}"' if said.startswith(",") else ""
    assert before + said in wrong("prepare_scans")


def test_a_field_of_a_zone_is_named_with_its_zone(part):
    bpy.ops.padwright.build_pad()
    zone = part.zones[0]
    zone.source, zone.from_mm, zone.to_mm = "imprint_depth", 8.0, 3.0
    assert 'Zone "bones", To: it must be above "From".' in wrong("plan_zones")
    zone.to_mm, zone.name = 30.0, " "
    assert "Zone 1, Name: expected one line of text; got an empty text." in wrong("plan_zones")


def test_a_certified_family_chosen_later_asks_for_a_new_start(part):
    part.family = "liner_pad"
    said = wrong("prepare_scans")
    assert 'start the part anew and tick "Not for Certified Gear"' in said and "certified_gear" not in said


@pytest.mark.parametrize("folder", ["out", "  out", "./out"])
def test_a_folder_of_nowhere_is_refused(inside, folder):
    errors, target = inside("core.base.errors"), inside("blender.scene").target_folder
    with pytest.raises(errors.InputError, match="does not say where it is"):
        target(folder)
    with pytest.raises(errors.InputError, match="There is no folder to write to"):
        target("   ")


def test_export_without_zones_does_not_take_those_of_the_family(part, tmp_path):
    for operator in ("build_pad", "plan_zones", "cut_regions"):
        getattr(bpy.ops.padwright, operator)()
    while part.zones:
        bpy.ops.padwright.remove_zone()
    part.folder = str(tmp_path / "out")
    assert "Add a zone first" in wrong("export_part")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("Take one by its number ([alignment] pose in the job), or pick.", "Take one, or pick."),
        ("Say it with [[impression.load_centers]].", 'Say it with the list in the panel "Impression".'),
        ("No load: give load.body_mass_kg.", 'No load: give "Body Mass".'),
        ('Else use fill.kind = "settings".', 'Else choose "By Settings" in the panel "Fill".'),
        ("Let rows run the other way (fill.direction).", 'Let rows run the other way ("Rows Run").'),
        ('Or use [fill] kind = "settings".', 'Or choose "By Settings" in the panel "Fill".'),
        ("Make [fill] pitch_mm larger.", 'Make "Pitch" larger.'),
        ("Walls of more beads (fill.wall_beads).", 'Walls of more beads ("Beads a Wall").'),
        ("Allow wider beads than 0.4 mm, e.g. of seat.ply.", "Allow wider beads than 0.4 mm, e.g. of seat.ply."),
    ],
)  # fmt: skip
def test_keys_of_a_job_are_fields_of_the_window(inside, said, shown):
    assert inside("blender.reporting").in_window(said) == shown


def test_what_must_be_acted_on_is_always_told(inside):
    notes = inside("core.base.notes")
    said = []
    operator = SimpleNamespace(report=lambda kind, text: said.append((*kind, text)))
    known = [f"Known {number}." for number in range(9)]
    acting = [notes.to_act_on(f"Do {number} first.") for number in range(7)]
    inside("blender.reporting").tell(operator, "Done", [*known, *acting])
    assert said[:7] == [("WARNING", note) for note in acting]
    assert said[7:] == [("INFO", "9 more notes stand in the panel's result"), ("INFO", "Done")]


def test_a_warning_is_only_what_is_worth_a_look_or_more(inside):
    notes = inside("core.base.notes")
    said = []
    operator = SimpleNamespace(report=lambda kind, text: said.append((*kind, text)))
    inside("blender.reporting").tell(operator, "Done", ["How it came.", notes.to_look_at("Odd."), "And this."])
    assert said == [("WARNING", "Odd."), ("INFO", "How it came."), ("INFO", "And this."), ("INFO", "Done")]
