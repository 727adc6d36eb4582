"""The revision before: read from its folder, refused where it is none, and laid beside the one now."""

from __future__ import annotations

import datetime
import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from tests.support.flat_pads import flat_tables

from padwright.cli.main import main
from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.job.write import write_job
from padwright.core.run.compared_revisions import felt_rows, side_by_side
from padwright.core.run.history import printed_folder
from padwright.core.run.pipeline import RunResult, run_job
from padwright.core.run.revision_rows import key_rows, setting_rows
from padwright.core.run.revisions import read_previous, read_revision
from padwright.core.stages.packing.bundle import run_document, write_bundle
from padwright.core.stages.packing.read_threemf import read_bodies
from padwright.core.stages.report.shape_change import shape_change
from padwright.core.stages.report.side_by_side import shape_words
from padwright.core.stages.report.words_map import WordsMap
from padwright.core.stages.trials.records import Trial, TrialBook, ZoneAnswer


def tables(folder: Path, revision: str, size=(80.0, 60.0, 10.0), level=2.0, **more):
    part = {"name": "Flat pad", "number": "FLAT-1", "family": "seat_pad", "revision": revision, **more}
    made = flat_tables(folder, size, (0.0, 0.0, 0.0), part=part, output={})
    return {**made, "zones": [{"name": "rest", "level": level, "source": "rest"}]}


def run(folder: Path, out: str, *arguments, **more) -> RunResult:
    """Make a part and put its files into a folder beside its job."""
    job = job_from_tables(tables(folder, *arguments, **more), folder=folder)
    result = drain(run_job(job, folder))
    commit = "FLAT-1.run.json"
    write_bundle(
        folder / out, {**result.files, commit: run_document(result.evidence, result.files)}, commit_name=commit
    )
    return result


@pytest.fixture(scope="module")
def chain(tmp_path_factory):
    """Three revisions: the second thicker and firmer, the third as the second but for its level."""
    folder = tmp_path_factory.mktemp("chain")
    results = [
        run(folder, "out", "1"),
        run(folder, "out-2", "2", (80.0, 60.0, 13.0), 3.0, previous="out"),
        run(folder, "out-3", "3", (80.0, 60.0, 13.0), 2.5, previous="out-2"),
    ]
    return folder, results


def test_the_bodies_of_a_3mf_are_read_as_they_were_written(chain):
    _, results = chain
    bodies = read_bodies(results[0].files["FLAT-1.project.3mf"], "FLAT-1.project.3mf")
    document = json.loads(results[0].files["FLAT-1.settings.json"])
    assert list(bodies) == [each["id"] for each in document["regions"]]
    for region in document["regions"]:
        mesh = bodies[region["id"]]
        assert len(mesh.faces) == region["geometry"]["triangles"]
        assert mesh.volume / 1000.0 == pytest.approx(region["volume_cm3"], rel=1e-9)


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 no", b"<model/>"])
def test_what_is_no_3mf_of_ours_is_refused(data):
    with pytest.raises(InputError, match="holds no regions"):
        read_bodies(data, "a.3mf")


def test_a_revision_says_what_changed(chain):
    _, results = chain
    assert results[0].compared is None and results[0].evidence["since_previous"] is None
    found = results[1].compared
    assert (found.before, found.now, found.folder) == ("1", "2", "out")
    keys = {row.what: (row.before, row.now) for row in found.keys}
    assert keys['zones "rest".level'] == ("2.0", "3.0")
    assert not [name for name in keys if name.startswith("output.")]
    assert not {"part.revision", "part.previous", "given"} & set(keys)
    assert "content of the envelope" in keys
    (stiff,) = (row for row in found.zones if row.what == "stiffness, kPa")
    before, now = (each.evidence["settings"]["zones"][0]["reached_kPa"] for each in results[:2])
    assert stiff.change == f"x {now / before:.2f}" and now > before
    assert {row.what for row in found.settings} & {"fill share", "contours", "line width"}
    weight = next(row for row in found.whole if row.what == "weighs, g")
    masses = [each.evidence["print"]["mass_g"]["value"] for each in results[:2]]
    assert weight.change == f"{100.0 * (masses[1] / masses[0] - 1.0):+.0f} %"
    assert found.shape.usual_mm == pytest.approx(3.0, abs=0.01)
    assert found.shape.thicker_mm == pytest.approx(3.0, abs=0.05)  # the last pixels before the rounded rim


def test_of_settings_only_a_fill_may_move_a_little_and_be_as_before(chain):
    _, results = chain
    document = json.loads(results[0].files["FLAT-1.settings.json"])

    def changed(key: str, times: float) -> list[str]:
        other = json.loads(json.dumps(document))
        other["regions"][0]["settings"][key] *= times
        return [row.what for row in setting_rows(document, other, WordsMap())]

    assert changed("solid_share_pct", 1.004) == []  # half a percent is where what is predicted counts as before too
    assert changed("solid_share_pct", 1.006) == ["fill share"]
    assert changed("max_speed_mm_s", 1.004) == ["speed, at most"]


def test_the_summary_says_what_changed_first(chain):
    _, results = chain
    assert not any("Since revision" in line for line in results[0].summary)
    for told in (results[1].summary, results[1].told_in_full):
        shown = " ".join(" ".join(told[1:]).split())
        assert shown.startswith("Since revision 1 changed: ")
    assert "Mostly thicker by 3.0 mm." in " ".join(results[1].told_in_full)


def test_the_run_document_carries_job_history_and_change(chain):
    _, results = chain
    evidence = results[2].evidence
    assert evidence["part"]["previous"] == "out-2"
    assert evidence["job"]["zones"][0]["level"] == 2.5 and evidence["job"]["part"]["number"] == "FLAT-1"
    assert [each["revision"] for each in evidence["history"]] == ["1", "2"]
    masses = [each["mass_g"]["value"] for each in evidence["history"]]
    assert masses == [each.evidence["print"]["mass_g"]["value"] for each in results[:2]]
    assert evidence["since_previous"]["keys"] == ['zones "rest".level']


def test_the_report_has_the_chapter_and_the_table_of_more_than_two(chain):
    _, results = chain
    pages = [each.files["FLAT-1.report.html"].decode() for each in results]
    assert ['id="revisions"' in page for page in pages] == [False, True, True]
    assert ["All revisions" in page for page in pages] == [False, False, True]
    assert [row.revision for row in results[2].compared.chain] == ["1", "2", "3"]
    assert "Thickness of revision 2 less that of revision 1" in pages[1]
    assert "Thickness of revision 3" not in pages[2]  # it is as before, and so there is no picture


def test_a_part_for_the_other_side_has_the_same_shape(chain, tmp_path):
    folder, _ = chain
    mirrored = run(tmp_path, "out", "1", mirror=True)
    assert "mirrored" in json.loads(mirrored.files["FLAT-1.settings.json"])["part"]
    found = side_by_side(read_revision(folder / "out", "FLAT-1", "out"), read_revision(tmp_path / "out", "FLAT-1", "b"))
    assert max(found.shape.thicker_mm, found.shape.thinner_mm) < 1e-3
    assert found.shape.gained_cm2 < 1.0  # its outline is 80 x 60 mm: 280 pixels of 0.01 cm2 on its edge


def test_another_base_scan_is_not_laid_over(chain, tmp_path):
    folder, _ = chain
    before = read_revision(folder / "out", "FLAT-1", "out")
    settings = json.loads(json.dumps(before.settings))
    settings["provenance"]["inputs"][0]["sha256"] = "0" * 64
    found = side_by_side(before, type(before)(before.run, settings, before.threemf, ""))
    assert "axes of its own" in found.shape.not_compared and found.shape.change is None
    assert any("not laid over" in each for each in found.shape_words)


def test_a_run_without_its_job_says_so(chain):
    folder, _ = chain
    before = read_revision(folder / "out", "FLAT-1", "out")
    old = {name: value for name, value in before.run.items() if name not in ("job", "history")}
    found = side_by_side(type(before)(old, before.settings, before.threemf, "out"), before)
    assert found.keys == () and "does not state its job" in found.notes[0]


def broken(folder: Path, case: str) -> str:
    """Spoil the folder "out" of the revision before, and return what the refusal says."""
    out = folder / "out"
    if case == "missing":
        shutil.rmtree(out)
        return "is not there"
    if case == "a file":
        shutil.rmtree(out)
        out.write_text("no folder")
        return "is a file; the revision before is named by its folder"
    if case == "empty":
        (out / "FLAT-1.run.json").unlink()
        return "holds no run"
    if case == "other part":
        (out / "FLAT-1.run.json").rename(out / "OTHER.run.json")
        return "holds part OTHER, not FLAT-1"
    if case == "changed run":
        text = (out / "FLAT-1.run.json").read_text("utf-8")
        (out / "FLAT-1.run.json").write_text(text.replace('"revision": "1"', '"revision": "7"'), "utf-8")
        return "was changed, or is no run"
    name = "FLAT-1.project.3mf" if case == "changed 3MF" else "FLAT-1.settings.json"
    if case == "no settings":
        (out / name).unlink()
        return "cannot be read"
    (out / name).write_bytes((out / name).read_bytes() + b" ")
    return "was changed since its run"


@pytest.mark.parametrize(
    "case",
    ["missing", "a file", "empty", "other part", "changed run", "changed 3MF", "changed settings", "no settings"],
)
def test_a_folder_that_is_no_revision_before_is_one_clear_error(chain, tmp_path, case):
    folder, _ = chain
    shutil.copytree(folder / "out", tmp_path / "out")
    words = broken(tmp_path, case)
    job = job_from_tables(tables(tmp_path, "2", previous="out"), folder=tmp_path)
    with pytest.raises(InputError, match=words) as caught:
        next(run_job(job, tmp_path))  # before any work
    assert caught.value.key == ("part", "previous") and caught.value.hint


def test_a_revision_needs_a_name_of_its_own(chain, tmp_path):
    folder, _ = chain
    shutil.copytree(folder / "out", tmp_path / "out")
    with pytest.raises(InputError, match='Revision "1" is that of the folder "out" too') as caught:
        read_previous(job_from_tables(tables(tmp_path, "1", previous="out"), folder=tmp_path), tmp_path)
    assert caught.value.key == ("part", "revision")


@pytest.mark.parametrize(
    ("revision", "name"), [("2", "out-2"), ("B", "out-b"), ("2 b/..", "out-2-b"), ("../..", r"out-[0-9a-f]{8}")]
)
def test_the_files_of_a_next_revision_go_beside_those_of_the_last(tmp_path, revision, name):
    job = job_from_tables(tables(tmp_path, revision, previous="out"), folder=tmp_path)
    found = printed_folder(job, tmp_path)
    assert found.parent == tmp_path and re.fullmatch(name, found.name)
    assert printed_folder(job_from_tables(tables(tmp_path, revision), folder=tmp_path), tmp_path) == tmp_path / "out"


@pytest.mark.parametrize("command", ["run", "check"])
def test_the_folder_of_the_revision_before_is_never_written_into(chain, tmp_path, capsys, command):
    folder, _ = chain
    shutil.copytree(folder / "out", tmp_path / "out")
    job = job_from_tables(tables(tmp_path, "2", previous="out"), folder=tmp_path)
    (tmp_path / "job-2.toml").write_text(write_job(job), "utf-8")
    held = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert main([command, str(tmp_path / "job-2.toml"), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert "holds the revision before" in told.err and "out-2" in told.err and "part.previous" in told.err
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()} == held


def block(low, high) -> TriMesh:
    low, high = np.asarray(low, float), np.asarray(high, float)
    corners = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)]) * (high - low) + low
    faces = [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]  # fmt: skip
    return TriMesh(corners, np.array(faces, dtype=np.int32))


def test_the_change_of_shape_is_told_with_its_size_and_place():
    before = block((0, 0, 0), (60, 40, 10))
    now = block((0, 0, 0), (80, 40, 8))
    found = shape_change(before, now, np.array([0.0, 0.0, -1.0]))
    assert (found.volume_before_cm3, found.volume_now_cm3) == pytest.approx((24.0, 25.6))
    assert found.thicker_mm == 0.0 and found.thinner_mm == pytest.approx(2.0, abs=1e-5)
    assert found.thinner_at[2] == pytest.approx(8.0, abs=1e-5)  # on the body side of what is now
    assert found.gained_cm2 == pytest.approx(8.0, abs=0.5) and found.lost_cm2 == 0.0  # a row of pixels is 0.4 cm2
    said = " ".join(shape_words(found, ("", "heel")))
    assert "Mostly thinner by 2.0 mm." in said and 'in "heel"' in said and "8.0 cm2 gained" in said
    apart = shape_change(before, block((100, 0, 0), (160, 40, 10)), np.array([0.0, 0.0, -1.0]))
    assert apart.not_compared and apart.change is None
    same = shape_change(before, before, np.array([0.0, 0.0, -1.0]))
    assert "as before" in shape_words(same)[0] and "as before" in shape_words(same)[1]


def test_keys_of_lists_are_told_by_name_and_long_values_by_their_count():
    before = {"zones": [{"name": "a", "level": 2.0, "points": [[0, 0, 0]] * 5}], "pad": {"fit_gap_mm": 0.4}}
    now = {"zones": [{"name": "a", "level": 2.0, "points": [[0, 0, 1]] * 5}, {"name": "b", "level": 1.0}], "pad": {}}
    rows = {row.what: (row.before, row.now) for row in key_rows(before, now)}
    assert rows == {
        'zones "a".points': ("a list of 5", "a list of 5"),
        'zones "b".name': ("", '"b"'),
        'zones "b".level': ("", "1.0"),
        "pad.fit_gap_mm": ("0.4", ""),
    }


def test_what_was_felt_is_counted_zone_by_zone():
    day = datetime.date(2026, 3, 14).isoformat()

    def trial(revision: str, feels: str, **more) -> Trial:
        return Trial(revision=revision, date=day, hours_worn=2.0, zones=(ZoneAnswer(zone="rest", feels=feels),), **more)

    book = TrialBook(
        trials=(
            trial("1", "too firm"),
            trial("1", "too firm", pain=4.0, pain_at="C4"),
            trial("2", "right"),
        )
    )
    rows = {(row.where, row.what): (row.before, row.now) for row in felt_rows(book, "1", "2")}
    assert rows["rest", "feels"] == ("too firm (2 times)", "right")
    assert rows["", "worst pain, 0 to 10"] == ("4 at C4", "0")
    assert rows["", "worn, h"] == ("4.0", "2.0")
    assert felt_rows(TrialBook(), "1", "2") == ()
    unworn = felt_rows(book, "2", "3")
    assert {row.now for row in unworn} == {"not worn yet"} and unworn[0].before == "right"
