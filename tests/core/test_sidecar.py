"""The settings document: complete, checked, and every number with what it rests on."""

from __future__ import annotations

import copy
import json
from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import ExportError, InputError
from padwright.core.job.cards import load_family
from padwright.core.job.keys import BadValueError, check_value, keys_of
from padwright.core.job.material_cards import load_material
from padwright.core.job.schema import FAMILIES, LONGEST_NAME, Part
from padwright.core.stages.packing.ids import NAMESPACE_URI
from padwright.core.stages.packing.sidecar import (
    run_time_utc,
    sidecar_document,
    write_sidecar,
)
from padwright.core.stages.packing.sidecar_parts import ContactRecord, InputFile
from padwright.core.stages.printing.level_settings import settings_for_level
from padwright.core.stages.regions.bodies import mirrored, pack_bodies
from support.documents import sidecar_faults
from support.packing import LEVELS, Caution, Level, Material, Printer, changed, pack_files, regions, sidecar_parts

GOOD = json.loads(pack_files(sidecar_parts())["PAD-1.settings.json"])


def edited(*path, value):
    document = copy.deepcopy(GOOD)
    place = document
    for step in path[:-1]:
        place = place[step]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return document


def test_a_whole_document_has_no_fault_and_says_what_it_was_given():
    assert sidecar_faults(GOOD) == []
    heel, arch = GOOD["regions"]
    assert GOOD["$schema"] == NAMESPACE_URI
    # Two blocks of 40 x 40.1234(5) x 9 and 20 x 40.1234(5) x 9 mm; the third corner is rounded to 1e-4 mm.
    side = 20 + 20.1234 + (0.0001 if round(20.12345, 4) > 20.1234 else 0.0)
    assert heel["volume_cm3"] == pytest.approx(0.04 * side * 9, rel=1e-9)
    assert arch["volume_cm3"] == pytest.approx(0.02 * side * 9, rel=1e-9)
    assert heel["settings"]["solid_share_pct"] == 35.0
    assert set(heel["settings"]) == set(heel["settings_basis"])
    assert set(heel["settings_basis"].values()) == {"assumed", "model"}  # the speed is held by the flow
    assert GOOD["materials"][0]["hardness"] == {"scale": "shore_a", "value": 85.0}
    assert GOOD["coordinate_frame"]["to_bed"] == sidecar_parts().part.to_bed.ravel().tolist()


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("regions", 1, "id"), "heel", "region id heel is there twice"),
        (("regions", 0, "settings", "material_id"), "pla", "material pla is not there"),
        (("contacts", 0, "between", 1), "toe", "region toe is not there"),
        (("materials", 0, "modulus_kPa", "low"), 15e3, "14000.0 is not between 15000.0"),
        (("regions", 0, "settings", "layer_thickness_mm"), 0.1, "regions share their layers"),
        (("regions", 0, "settings", "max_speed_mm_s"), 36.0, "3.60 mm3/s, above 3.5"),
        (("regions", 0, "settings", "fill_structure"), "none", "none at 35 % (none is 0 %)"),
        (("regions", 0, "settings", "fill_structure"), "solid", "solid at 35 % (solid is 100 %)"),
        (("regions", 0, "settings", "solid_share_pct"), 100, "gyroid at 100 % (solid is 100 %)"),
        (("regions", 0, "min_thickness_mm"), 2.9, "2.9 mm thick, its contours alone need 3 mm"),
        (("firmness_scale", 1, "target_modulus_kPa"), 25.0, "does not rise"),
        (("firmness_scale", 1, "level"), 1, "not in rising order"),
        (("regions", 0, "firmness_level"), 5, "level 5 is not on the firmness scale"),
        (("part", "volume_cm3"), 1.0, "the regions add up to"),
        (("coordinate_frame", "press_direction"), [0, 0, -2], "has length 2.000000"),
        (("coordinate_frame", "to_bed", 0), 1.0, "to_bed is not a turn and a shift"),
        (("regions", 0, "bounding_box_mm", "max"), [-10.0, 20, 12], "no extent"),
        (("regions", 0, "settings_basis", "fill_cell_mm"), "assumed", "differ in ['fill_cell_mm']"),
        (("cautions", 0, "severity"), "stop", "SKIN stops the export"),
        (("cautions", 0, "region_ids"), ["toe"], "SKIN: region toe is not there"),
        (("files", 0, "region_id"), "heel", "one region needs its region_id"),
        (("files", 1, "part_to_mesh"), None, "on the bed it needs part_to_mesh"),
        (("files", 1, "part_to_mesh", 0), 1.0, "part_to_mesh is not a turn and a shift"),
        (("files", 1, "part_to_mesh", 3), 1.0, "their regions do not fit each other"),
        (("files", 0, "part_to_mesh"), [0.0] * 16, "in the part frame none"),
    ],
)
def test_each_rule_beyond_the_schema_is_named(path, value, words):
    faults = sidecar_faults(edited(*path, value=value))
    assert any(words in fault for fault in faults), faults


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        (("part",), None, ""),
        (("part", "nmae"), "x", "part"),
        (("regions", 0, "id"), "Heel", "regions/0/id"),
        (("regions", 0, "closed"), False, "regions/0/closed"),
        (("regions", 0, "settings", "contour_count"), 1.5, "regions/0/settings/contour_count"),
        (("regions", 0, "settings", "contour_count"), True, "regions/0/settings/contour_count"),
        (("regions", 0, "settings", "fill_structure"), "fluffy", "regions/0/settings/fill_structure"),
        (("regions",), [], "regions"),
        (("provenance", "inputs", 0, "file"), "../secret.ply", "provenance/inputs/0/file"),
        (("provenance", "inputs", 0, "file"), "C:/secret.ply", "provenance/inputs/0/file"),
        (("materials", 0, "modulus_kPa", "basis"), "guess", "materials/0/modulus_kPa/basis"),
        (("regions", 0, "volume_cm3"), 0, "regions/0/volume_cm3"),
        (("coordinate_frame", "to_bed"), [1.0] * 12, "coordinate_frame/to_bed"),
        (("contacts", 0, "between"), ["heel", "heel"], "contacts/0/between"),
        (("units", "length"), "in", "units/length"),
    ],
)
def test_the_schema_refuses_what_a_reader_could_not_trust(path, value, place):
    assert [fault.split(": ")[0] for fault in sidecar_faults(edited(*path, value=value))] == [place]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("x_note",), {"any": ["thing"]}),
        (("regions", 0, "settings", "x_fan_pct"), 30),
        (("regions", 0, "settings", "fill_structure"), "x_waves"),
        (("coordinate_frame", "press_direction"), [0.6, 0.0, -0.8]),
        (("regions", 0, "predicted"), {"mass_g": {"value": 9, "low": 8, "high": 11, "basis": "model"}}),
    ],
)
def test_unusual_but_good_documents_pass(path, value):
    assert sidecar_faults(edited(*path, value=value)) == []


def test_nothing_is_written_before_a_stop_is_answered():
    parts = sidecar_parts()
    with pytest.raises(ExportError, match=r"Not for helmets\. \(FIT\)"):
        write_sidecar(replace(parts, cautions=(Caution("FIT", "stop", "Not for helmets."),)))
    answered = replace(
        parts,
        cautions=(Caution("FIT", "stop", "Not for helmets."),),
        stops_answered={"FIT": "part.certified_gear = false"},
    )
    assert json.loads(write_sidecar(answered))["cautions"][0]["answered_by"] == "part.certified_gear = false"


def test_overlapping_regions_need_not_add_up_and_touching_ones_must():
    parts = changed(sidecar_parts(), volume_cm3=20.0)
    assert "add up to" in sidecar_faults(json.loads(write_sidecar(parts)))[0]
    parts = replace(parts, contacts=(ContactRecord("heel", "arch", 3.6, "overlap", 0.4),))
    assert sidecar_faults(json.loads(write_sidecar(parts))) == []


def test_a_mirrored_part_says_so():
    mirror = mirrored(regions(), np.array([0.0, 0.0, -1.0]))
    parts = replace(changed(sidecar_parts(), mirror=mirror), bodies=pack_bodies(mirror.regions))
    part = json.loads(write_sidecar(parts))["part"]
    assert part["mirrored"] == {"plane_normal": [1.0, 0.0, 0.0], "plane_point_mm": [20.0, -0.0617, 7.5]}


@pytest.mark.parametrize(
    ("given", "kept"),
    [("/home/someone/scan.ply", "scan.ply"), ("C:\\Users\\x\\scan.ply", "scan.ply"), ("../up/scan.ply", "scan.ply"),
     ("scans/base.ply", "scans/base.ply"), ("scans\\base.ply", "scans/base.ply")],
)  # fmt: skip
def test_no_path_of_the_persons_machine_travels_along(given, kept):
    parts = sidecar_parts()
    parts = replace(parts, provenance=replace(parts.provenance, inputs=(InputFile("job", given, "0" * 64),)))
    assert sidecar_document(parts)["provenance"]["inputs"][0]["file"] == kept


def test_times_come_from_the_environment_where_it_sets_them():
    assert run_time_utc({"SOURCE_DATE_EPOCH": "1700000000"}) == "2023-11-14T22:13:20Z"
    assert run_time_utc({})[:2] == "20"
    with pytest.raises(InputError, match="SOURCE_DATE_EPOCH"):
        run_time_utc({"SOURCE_DATE_EPOCH": "soon"})


def test_the_longest_names_that_a_job_and_a_card_may_hold_have_room():
    parts = changed(sidecar_parts(), name="n" * LONGEST_NAME, revision="r" * 40, number="N" * 40)
    material = replace(parts.material, name="m" * LONGEST_NAME, symbol="s" * 40)
    assert sidecar_faults(json.loads(write_sidecar(replace(parts, material=material)))) == []
    one_more = changed(parts, name="n" * (LONGEST_NAME + 1))
    assert sidecar_faults(json.loads(write_sidecar(one_more)))[0].startswith("part/name: ")
    with pytest.raises(BadValueError, match=f"got {LONGEST_NAME + 1} characters, {LONGEST_NAME} are the most"):
        check_value(keys_of(Part)["name"][1], "n" * (LONGEST_NAME + 1))


def test_a_number_without_an_end_is_never_written():
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_sidecar(changed(sidecar_parts(), volume_cm3=float("inf")))


def test_a_level_of_the_card_is_taken_as_it_is_and_marked_assumed():
    settings = settings_for_level(3, LEVELS, Printer(), Material())
    assert settings.solid_share_pct == 20.0
    assert settings.contour_count == 2
    assert settings.basis["solid_share_pct"] == "assumed"
    assert set(settings.basis.values()) == {"assumed"}
    assert settings.notes == ()


def test_a_blend_step_lies_between_its_levels():
    settings = settings_for_level(3.25, LEVELS, Printer(), Material(max_volume_flow_mm3_s=100))
    assert settings.solid_share_pct == 23.75
    assert settings.max_speed_mm_s == 32.5
    assert settings.contour_count == 2
    assert settings_for_level(3.5, LEVELS, Printer(), Material()).contour_count == 3


def test_the_speed_is_held_under_the_materials_flow_and_the_printers_limit():
    held = settings_for_level(4, LEVELS, Printer(bead_width_mm=0.47), Material(max_volume_flow_mm3_s=1.0))
    assert held.max_speed_mm_s == 10.63
    assert held.max_speed_mm_s * 0.47 * 0.2 <= 1.0
    assert "10.63 mm/s instead of 40" in held.notes[0]
    assert held.basis["max_speed_mm_s"] == "model"
    limited = settings_for_level(4, LEVELS, Printer(max_speed_mm_s=20.0), Material())
    assert (limited.max_speed_mm_s, limited.basis["max_speed_mm_s"]) == (20.0, "assumed")


@pytest.mark.parametrize(
    ("soft", "firm", "level", "pattern", "density"),
    [
        (("gyroid", 30), ("solid", 100), 1.75, "gyroid", 82.5),
        (("gyroid", 30), ("solid", 100), 2, "solid", 100),
        (("none", 0), ("honeycomb", 20), 1.25, "honeycomb", 5),
        (("none", 0), ("solid", 100), 1.5, "gyroid", 50),
        (("gyroid", 10), ("honeycomb", 30), 1.5, "gyroid", 20),
        (("gyroid", 10), ("honeycomb", 30), 1.75, "honeycomb", 25),
        (("solid", 100), ("solid", 100), 1.5, "solid", 100),
    ],
)
def test_between_two_patterns_the_nearer_one_holds_but_full_and_empty_stay_at_their_level(
    soft, firm, level, pattern, density
):
    levels = [Level(1, "a", 1, soft[1], fill_structure=soft[0]), Level(2, "b", 2, firm[1], fill_structure=firm[0])]
    settings = settings_for_level(level, levels, Printer(), Material())
    assert (settings.fill_structure, settings.solid_share_pct) == (pattern, density)


@pytest.mark.parametrize("level", [0.5, 4.01, float("nan")])
def test_a_level_off_the_card_is_refused(level):
    with pytest.raises(InputError, match="is not on the family card"):
        settings_for_level(level, LEVELS, Printer(), Material())


@pytest.mark.parametrize("family", FAMILIES)
def test_every_family_card_gives_a_document_without_fault(family):
    card = load_family(family)
    material = load_material(card.defaults[("material", "card")].value)
    nozzle = card.defaults[("printer", "nozzle_mm")].value
    parts = sidecar_parts()
    for level in (1, 1.5, 2, 2.25, 3, 3.5, 4):
        settings = settings_for_level(level, card.levels, Printer(nozzle), material)
        bodies = [replace(body, firmness_level=level) for body in parts.bodies]
        document = sidecar_document(
            replace(
                parts,
                bodies=bodies,
                levels=card.levels,
                settings={body.id: settings for body in bodies},
                material=replace(parts.material, id=material.id, name=material.name, hardness=material.hardness),
                cautions=card.cautions,
                stops_answered={each.code: "answered" for each in card.cautions if each.severity == "stop"},
            )
        )
        assert sidecar_faults(json.loads(json.dumps(document))) == []
