"""The report of a run: what it tells, that it stands alone, that nothing in it is a second time or left out."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh
from tests.support.cases import make_case
from tests.support.mats import csv_of, two_bumps
from tests.support.writers import write_job

from padwright.core.base.files import InputFile
from padwright.core.base.notes import Weight, heaviest_first, weight_of
from padwright.core.base.progress import drain
from padwright.core.geometry.query import NearestSurface
from padwright.core.job.read import read_job
from padwright.core.run.beside import Beside
from padwright.core.run.cutaway import other_side
from padwright.core.run.memory import StageMemory
from padwright.core.run.packing import pack_files
from padwright.core.run.report.cut import RegionColors
from padwright.core.run.report.source import ReportSource
from padwright.core.run.report.turn import turn_section
from padwright.core.run.report_parts import SECTIONS, report_files, report_name
from padwright.core.run.summary_notes import acting_notes, notes_of
from padwright.core.stages.alignment.placed_scans import PlacedScans, body_points
from padwright.core.stages.packing.shading import linear
from padwright.core.stages.packing.thumbnail import firmness_color
from padwright.core.stages.regions.bodies import mirrored
from support.html_pages import page_faults

NAME = "Pad <script>alert(\"1\")</script> & 'Söhne'"
MAT = '\n[mat]\nfile = "mat.csv"\nunit = "kPa"\npitch_mm = [13]\n'
LOAD = '\n[load]\nbody_mass_kg = 70\n\n[target]\ngoal = "even"\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    case = make_case("seat", triangles=8_000, noise_mm=0.1, pose="small", turntable=False)
    job = write_job(case, tmp_path_factory.mktemp("report"), has_pages=True)
    told = re.sub(
        r'(?m)^name = "Test seat"', lambda _: f"name = '''{NAME}'''\nnote = '<i>{NAME[:4]}</i>'", job.read_text("utf-8")
    )
    (job.parent / "mat.csv").write_text(csv_of(two_bumps()))
    job.write_text(told + MAT + LOAD, "utf-8")
    return job.parent


@pytest.fixture(scope="module")
def made(folder: Path) -> SimpleNamespace:
    """A tuned part, its files, and the page in bytes and in words alone."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1700000000")
        memory = StageMemory()
        result = drain(memory.run(read_job(folder / "job.toml"), folder))
        part = result.part
        files, packed = drain(pack_files(part))
    page = result.files[report_name(part.job.part.number)]
    return SimpleNamespace(
        memory=memory, result=result, part=part, packed=packed, files=files, page=page, text=words_of(page)
    )


def test_the_mat_has_a_chapter_with_its_pressures_and_how_far_the_prediction_is_off(made):
    chapter = made.text[made.text.rindex("What did the mat show?") :]
    beside = made.result.evidence["load"]["beside_mat"]
    assert f"{beside['sum_n']['value']:,.0f} N in all" in chapter and "Predicted less mat, kPa" in chapter
    for name, share in beside["share"].items():
        value, low, high = (100.0 * share["mat"][each] for each in ("value", "low", "high"))
        assert f"{name} {value:.0f} % ({low:.0f} % to {high:.0f} %) {100.0 * share['predicted']:.0f} %" in chapter
    assert made.result.evidence["mat"]["sum_n"] == beside["sum_n"]
    assert beside["sum_n"]["high"] == pytest.approx(1.1 * beside["sum_n"]["value"])  # a mat is good to a tenth


def words_of(page: bytes) -> str:
    """Return what one reads of a page: no scripts, no styles, no marks; spaces as one."""
    text = re.sub(r"(?s)<(script|style)\b.*?</\1>", " ", page.decode("utf-8"))
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"(?s)<[^>]*>", " ", text)))


def told(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_the_page_has_no_fault_and_asks_for_nothing(made):
    assert page_faults(made.page) == []
    assert len(made.page) < 3_000_000


def test_chapters_come_in_the_order_in_which_a_person_asks(made):
    found = re.findall(r'<section id="([a-z-]+)"', made.page.decode("utf-8"))
    wanted = ["what", "fit", "feel", "print", "watch", "sources"]
    assert [each for each in found if each in wanted] == wanted
    links = re.findall(r'<li><a href="#([a-z-]+)"', made.page.decode("utf-8"))
    assert links == found


def test_names_that_look_like_marks_are_shown_as_they_are(made):
    text = made.page.decode("utf-8")
    assert f"<h1>{html.escape(NAME)}</h1>" in text
    assert "<script>alert" not in text and "<i>" not in re.sub(r"<i style", "", text)
    assert told(f"<i>{NAME[:4]}</i>") in made.text


def test_each_note_is_told_once_and_what_must_be_acted_on_first(made):
    notes = heaviest_first([*acting_notes(made.part, made.packed), *notes_of(made.part)])
    assert len(notes) > 8
    counts = {note: made.text.count(told(note)) for note in notes}
    assert set(counts.values()) == {1}, {note: count for note, count in counts.items() if count != 1}
    head = made.text[: made.text.index("What it is", made.text.index("Before you print"))]
    for note in notes:
        assert (told(note) in head) == (weight_of(note) is Weight.ACT), note


def test_every_caution_is_there_whole_with_its_source(made):
    for caution in made.part.family.cautions:
        assert told(caution.text) in made.text and told(caution.source) in made.text


def test_files_are_named_with_their_digests(made):
    for name, data in made.files.items():
        assert re.search(rf"{re.escape(name)} {len(data):,} {hashlib.sha256(data).hexdigest()}", made.text), name
    for each in made.part.inputs:
        assert each.sha256 in made.text


def test_files_read_beside_the_job_are_named_too(made):
    beside = Beside(inputs=(InputFile("settings_map", "my words.toml", "ab" * 32),))
    page = drain(report_files(made.part, made.packed, made.files, beside))[report_name(made.part.job.part.number)]
    assert "my words.toml settings map " + "ab" * 32 in words_of(page)


def test_every_region_has_its_settings_and_what_it_weighs(made):
    text = made.text[
        made.text.index("Region by region") : made.text.index("What to watch", made.text.index("Region by region"))
    ]
    for body in made.packed.bodies:
        kpa = made.part.firmness.curves[body.id].modulus_kpa
        assert re.search(rf"\d {re.escape(body.name)} .*?{kpa.value:.0f} \({kpa.low:.0f} to {kpa.high:.0f}\)", text), (
            body.name
        )


def test_the_same_part_gives_the_same_page(made, folder, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    again = drain(made.memory.run(read_job(folder / "job.toml"), folder))
    assert again.files[report_name(made.part.job.part.number)] == made.page


def test_before_tuning_is_shown_beside_after_on_one_scale(made):
    feel = section(made.page, "feel")
    assert "Pressure before tuning" in feel and "Pressure, tuned" in feel
    ticks = re.findall(r'<div>(Pressure[^<]*), kPa</div>.*?<div class="ticks">(.*?)</div>', feel, re.S)
    assert len(ticks) == 2 and ticks[0][1] == ticks[1][1]


def test_without_tuning_there_is_one_pressure(made):
    bare = replace(made.part.firmness, tuning=None)
    found = dict(made.part.found)
    (name,) = (each for each, result in found.items() if result is made.part.firmness)
    source = ReportSource(replace(made.part, found={**found, name: bare}), made.packed, made.files)
    (feel,) = (make(source) for make in SECTIONS if make.__name__ == "feel_section")
    assert "Pressure before tuning" not in feel.body and "What tuning changed" not in feel.body


def test_the_rings_lie_on_the_places_they_name(made):
    """Their places in the picture are those of the evidence, looked at against the press direction."""
    load = made.part.firmness.loads[0][1]
    source = ReportSource(made.part, made.packed, made.files)
    ((_, seen),) = source.pad_views
    x, y = seen.view.on_picture(load.largest_place_mm[None])[0] * 800.0 / seen.view.width
    assert f'cx="{x:.1f}" cy="{y:.1f}"' in section(made.page, "feel")
    assert seen.shows(load.largest_place_mm)
    assert not seen.shows(load.largest_place_mm + 10.0 * np.asarray(made.part.pad.press_direction))


def test_a_mirrored_part_is_shown_mirrored_and_its_scans_are_not(made):
    job = replace(made.part.job, part=replace(made.part.job.part, mirror=True))
    part = replace(made.part, job=job)
    files, packed = drain(pack_files(part))
    page = drain(report_files(part, packed, files, Beside()))[report_name(job.part.number)]
    flip = 'transform="matrix(-1 0 0 1 800 0)"'
    assert made.page.decode("utf-8").count(flip) == 0
    assert section(page, "what").count(flip) == section(page, "what").count("<image ")
    assert section(page, "fit").count(flip) == 0 and section(page, "fit").count("<image ") >= 3
    load = part.firmness.loads[0][1]
    ((_, seen),) = ReportSource(part, packed, files).pad_views
    x, y = seen.view.on_picture(load.largest_place_mm[None])[0] * 800.0 / seen.view.width
    assert f'cx="{800.0 - x:.1f}" cy="{y:.1f}"' in section(page, "feel")


@pytest.mark.parametrize("is_mirrored", [False, True])
def test_the_part_to_turn_tells_places_as_notes_of_trials_take_them(made, is_mirrored):
    """In the base scan's own numbers, wherever a datum puts the part, and on the side that was scanned."""
    scans = made.part.of(PlacedScans)
    (name,) = (each for each, result in made.part.found.items() if result is scans)
    datum = np.array([[0.0, -1.0, 0.0, 30.0], [1.0, 0.0, 0.0, -50.0], [0.0, 0.0, 1.0, 7.0], [0.0, 0.0, 0.0, 1.0]])
    scans = replace(scans, to_part=datum)
    part = replace(made.part, found={**made.part.found, name: scans})
    mirror = mirrored(part.regions.regions, part.pad.press_direction) if is_mirrored else None
    outside = made.packed.outside if mirror is None else mirror.of(made.packed.outside)
    packed = replace(made.packed, mirror=mirror, outside=outside)
    body = turn_section(ReportSource(part, packed, made.files)).body
    data = json.loads(re.search(r'class="turn-data">(.*?)</script>', body, re.DOTALL)[1])
    steps = np.frombuffer(base64.b64decode(data["vertices"]), dtype="<u2").reshape(-1, 3)
    to_job = np.array(data["toJob"])
    typed = (np.array(data["low"]) + steps / 65535.0 * np.array(data["size"])) @ to_job[:, :3].T + to_job[:, 3]
    there = body_points(scans, typed, "base")
    # Simplified by 0.1 mm nearly everywhere; another side or a lost datum would be off by many.
    assert np.percentile(NearestSurface(part.pad.mesh).find(there).distance, 99.0) < 0.2


@pytest.mark.parametrize("is_mirrored", [False, True])
def test_a_cut_place_has_the_color_of_the_region_whose_column_it_lies_in(made, is_mirrored):
    mirror = mirrored(made.part.regions.regions, made.part.pad.press_direction) if is_mirrored else None
    colors = RegionColors(ReportSource(made.part, made.packed, made.files), mirror)
    right = 0
    for region, body in zip(made.part.regions.regions, made.packed.bodies, strict=True):
        up = region.mesh.face_normals @ made.part.pad.press_direction < -0.5
        places = region.mesh.triangles[up].mean(axis=1) + 2.0 * np.asarray(made.part.pad.press_direction)
        places = places if mirror is None else other_side(mirror, places)
        hits = np.abs(colors.at(places) - linear(firmness_color(body.firmness_level))).max(axis=1) < 1e-9
        assert hits.mean() > 0.95, region.name  # all but some along the borders, which run between pixels
        right += len(hits)
    assert right > 300


def test_there_is_none_where_none_is_asked_for_and_none_of_a_selection(made):
    number = made.part.job.part.number
    off = replace(made.part, job=replace(made.part.job, output=replace(made.part.job.output, report=False)))
    assert report_name(number) not in drain(report_files(off, made.packed, made.files, Beside()))
    files, some = drain(pack_files(made.part, [made.packed.bodies[0].id]))
    assert not any("report" in name for name in drain(report_files(made.part, some, files, Beside())))


def test_a_part_without_clay_or_load_has_a_report_that_says_so(folder, monkeypatch):
    """Its base has no check length either."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    job = read_job(folder / "job.toml")
    press = np.array(job.body.press_direction)
    mesh = trimesh.load(folder / job.base.scan)
    box = trimesh.creation.box((90.0, 70.0, 20.0))
    box.apply_transform(trimesh.geometry.align_vectors([0.0, 0.0, -1.0], press))
    middle = mesh.bounds.mean(axis=0)
    near = np.linalg.norm(np.cross(mesh.vertices - middle, press), axis=1) < 60.0
    top = float((-(mesh.vertices[near] - middle) @ press).max())
    box.apply_translation(middle - (top + 5.0) * press)
    box.export(folder / "solid.stl")
    (folder / "envelope.toml").write_text(
        'schema = 1\n[part]\nname = "Plain"\nnumber = "PLAIN"\nfamily = "seat_pad"\n'
        f'[base]\nscan = "{job.base.scan}"\nunit = "mm"\n[body]\npress_direction = {press.tolist()}\n'
        '[pad]\nenvelope = "solid.stl"\n[[zones]]\nname = "all"\nlevel = 2\nsource = "rest"\n'
    )
    result = drain(StageMemory().run(read_job(folder / "envelope.toml"), folder))
    page = result.files["PLAIN.report.html"]
    assert page_faults(page) == []
    text = words_of(page)
    assert "No load was given" in text and "nothing checks that" in text
    assert "Imprint depth" not in text and "Distance between the scans" not in text


def section(page: bytes, name: str) -> str:
    """Return the HTML of one chapter."""
    found = re.search(rf'(?s)<section id="{name}".*?</section>', page.decode("utf-8"))
    assert found is not None
    return found.group(0)
