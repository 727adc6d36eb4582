"""From a job and its notes to the next revision: history, notes that are never lost, the job that is written."""

import datetime
import json
import re
import shutil
import tomllib
from pathlib import Path

import pytest

from padwright.cli.main import main
from padwright.core.base.errors import ExportError, InputError, SolveError
from padwright.core.base.estimate import Estimate
from padwright.core.base.progress import Progress, Steps, drain
from padwright.core.job.read import parse_job, read_job
from padwright.core.job.schema import Job
from padwright.core.run.history import earlier_prints, printed_folder
from padwright.core.run.revise import _Made, changed_job, changed_keys_of, level_kpa, propose, revised_text
from padwright.core.run.trial_notes import add_form, add_trial, noted
from padwright.core.stages.trials.learning import WornPrint
from padwright.core.stages.trials.records import Proposal, Trial, ZoneAnswer, ZoneChange

DEMO = Path(__file__).resolve().parents[2] / "shared" / "demo"
TODAY = datetime.date(2026, 1, 31)


def job_of(text: str, folder: Path):
    return parse_job(text.encode(), "job.toml", folder)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    for name in ("base.ply", "impression.ply", "job.toml"):
        shutil.copy(DEMO / name, tmp_path / name)
    return tmp_path


def record(folder: Path, revision: str, previous: str | None = None, **kpa: float) -> None:
    """Leave what a run of a revision leaves as evidence."""
    folder.mkdir(exist_ok=True)
    zones = [{"name": name.replace("_", " "), "reached_kPa": each} for name, each in kpa.items()]
    part = {"number": "DEMO-1", "revision": revision, "previous": previous}
    (folder / "DEMO-1.run.json").write_text(json.dumps({"part": part, "settings": {"zones": zones}}), "utf-8")


def revision(demo: Path, name: str, previous: str, file: str):
    text = (demo / "job.toml").read_text("utf-8")
    text = text.replace('number = "DEMO-1"', f'number = "DEMO-1"\nrevision = "{name}"\nprevious = "{previous}"')
    (demo / file).write_text(text, "utf-8")
    return read_job(demo / file)


def test_revisions_are_found_through_the_folders_that_name_each_other(demo: Path) -> None:
    record(demo / "out", "1", rest=350.0)
    record(demo / "out-2", "2", "out", rest=250.0)
    third = revision(demo, "3", "out-2", "job-3.toml")
    found = earlier_prints(third, demo)
    assert [(each.revision, each.kpa) for each in found] == [("1", {"rest": 350.0}), ("2", {"rest": 250.0})]
    assert printed_folder(third, demo) == demo / "out-3"
    shutil.rmtree(demo / "out")  # an early one is gone: the later ones stay
    assert [each.revision for each in earlier_prints(third, demo)] == ["2"]
    shutil.rmtree(demo / "out-2")
    with pytest.raises(InputError, match="holds no run of part DEMO-1"):
        earlier_prints(third, demo)


def test_revisions_in_a_circle_and_damaged_ones_are_refused(demo: Path) -> None:
    record(demo / "a", "1", "b", rest=1.0)
    record(demo / "b", "2", "a", rest=1.0)
    with pytest.raises(InputError, match="circle"):
        earlier_prints(revision(demo, "3", "b", "job-3.toml"), demo)
    (demo / "b" / "DEMO-1.run.json").write_text("{", "utf-8")
    with pytest.raises(InputError, match="damaged"):
        earlier_prints(read_job(demo / "job-3.toml"), demo)
    (demo / "b" / "DEMO-1.run.json").write_text('{"part": {"revision": "2"}, "settings": 3}', "utf-8")
    with pytest.raises(InputError, match="does not say how stiff"):
        earlier_prints(read_job(demo / "job-3.toml"), demo)


def test_a_form_is_added_once_and_never_takes_what_is_there(demo: Path) -> None:
    job = read_job(demo / "job.toml")
    first, line = add_form(job, demo, TODAY)
    assert first.text.split("\n")[line - 1] == "[[trial]]" and len(first.book.trials) == 1
    again, same = add_form(job, demo, TODAY)
    assert (again.text, same) == (first.text, line)  # one waits to be filled in
    filled = first.text.replace('feels = ""', 'feels = "right"', 1) + "# mine\n"
    first.path.write_text(filled, "utf-8")
    more, line = add_form(job, demo, TODAY)
    assert more.text.startswith(filled) and more.text.split("\n")[line - 1] == "[[trial]]"
    assert first.path.read_text("utf-8") == more.text and len(more.book.trials) == 2


def test_notes_given_for_a_job_are_told_as_notes(demo: Path, capsys) -> None:
    notes = demo / "DEMO-1.trials.toml"
    shutil.copy(DEMO / notes.name, notes)
    assert main(["trial", str(notes)]) == 2
    told = capsys.readouterr().err
    assert '"DEMO-1.trials.toml" holds the notes of trials, not a job.' in told and str(demo / "job.toml") in told
    assert "schema" not in told


def test_the_second_print_is_asked_how_it_compares(demo: Path) -> None:
    record(demo / "out", "1", rest=350.0)
    notes, _ = add_form(revision(demo, "2", "out", "job-2.toml"), demo, TODAY)
    assert "than_last, against revision 1" in notes.text


def test_a_trial_with_a_fault_leaves_the_file_as_it_was(demo: Path) -> None:
    job = read_job(demo / "job.toml")
    good = Trial(revision="1", date="2026-01-30", hours_worn=1.0, zones=(ZoneAnswer(zone="rest", feels="right"),))
    notes = add_trial(job, demo, good, TODAY)
    assert notes.book.trials == (good,)
    bad = Trial(revision="1", date="2026-02-01", hours_worn=1.0, zones=(ZoneAnswer(zone="rest", feels="right"),))
    with pytest.raises(InputError, match="lies ahead"):
        add_trial(job, demo, bad, TODAY)
    assert notes.path.read_text("utf-8") == notes.text and noted(job, demo, TODAY).book.trials == (good,)


def test_a_file_that_cannot_be_written_stays_whole(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job = read_job(demo / "job.toml")
    notes, _ = add_form(job, demo, TODAY)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    notes.path.write_text(notes.text.replace('feels = ""', 'feels = "right"', 1), "utf-8")
    before = notes.path.read_bytes()
    monkeypatch.setattr("os.replace", full)
    with pytest.raises(ExportError, match="No space left"):
        add_form(job, demo, TODAY)
    assert notes.path.read_bytes() == before and sorted(demo.glob("*.new")) == []


def test_revisions_of_other_jobs_beside_may_be_noted(demo: Path) -> None:
    record(demo / "out", "1", rest=350.0)
    revision(demo, "2", "out", "job-2.toml")
    (demo / "DEMO-1.trials.toml").write_text('[[trial]]\nrevision = "2"\ndate = 2026-01-30\nhours_worn = 1\n', "utf-8")
    assert noted(read_job(demo / "job.toml"), demo, TODAY).book.trials[0].revision == "2"
    (demo / "job-2.toml").unlink()
    with pytest.raises(InputError, match="was never printed"):
        noted(read_job(demo / "job.toml"), demo, TODAY)


def change(zone: str, times: float, now: float) -> ZoneChange:
    ideal = Estimate(times, 0.5, 1.0, "measured")
    return ZoneChange(zone, times, now, now * times, ideal, 0.1, "because", "that")


def proposed(*changes: ZoneChange) -> Proposal:
    return Proposal("1", "2", changes)


def test_the_next_job_has_what_changes_and_all_else_of_the_persons(demo: Path) -> None:
    text = (demo / "job.toml").read_text("utf-8")
    job = read_job(demo / "job.toml")
    proposal = proposed(change("rest", 0.7, 352.0), change("sit bones", 1.0, 1200.0))
    made = revised_text(text, job, proposal, demo / "out", demo, "job.toml")
    start = made.index(text[:40])
    head, rest = made[:start], made[start:]
    assert head.startswith(
        '# Revision 2, made from job.toml by its trials.\n# "rest" 30 % softer, 352 -> 246 kPa. because'
    )
    assert all(line.startswith("#") and len(line) <= 120 for line in head.splitlines()) and "sit bones" not in head
    mine = [line for line in rest.split("\n") if line not in text.split("\n")]
    assert mine == ['revision = "2"', 'previous = "out"', "stiffness_times = 0.704"]  # 352 x 0.7 of level 2's 350
    assert [line for line in text.split("\n") if line not in rest.split("\n")] == []
    (demo / "job-2.toml").write_text(made, "utf-8")
    record(demo / "out", "1", rest=352.0)
    then = read_job(demo / "job-2.toml")
    assert then.zones == changed_job(job, proposal).zones and then.part.revision == "2"
    dos = revised_text(text.replace("\n", "\r\n"), job, proposal, demo / "out", demo, "job.toml")
    assert dos == made.replace("\n", "\r\n")
    marked = revised_text(f"#:schema job.schema.json\n{text}", job, proposal, demo / "out", demo, "job.toml")
    assert marked == f"#:schema job.schema.json\n{made}"
    assert then.zones[2].stiffness_times * level_kpa(job, then.zones[2]) == pytest.approx(0.7 * 352.0, rel=0.001)


def test_a_job_with_the_familys_zones_gets_them_written(demo: Path) -> None:
    text = (demo / "job.toml").read_text("utf-8")
    start, end = text.index("# Zones: where"), text.index("[material]")
    (demo / "plain.toml").write_text(text[:start] + text[end:], "utf-8")
    job = read_job(demo / "plain.toml")
    proposal = proposed(change(job.zones[-1].name, 0.7, 350.0))
    made = revised_text((demo / "plain.toml").read_text("utf-8"), job, proposal, demo / "out", demo, "plain.toml")
    then = job_of(made, demo)
    assert then.zones == changed_job(job, proposal).zones and then.zones[-1].stiffness_times == 0.7


def test_a_tuned_print_is_kept_as_it_was_worn(demo: Path) -> None:
    text = (demo / "job.toml").read_text("utf-8") + '\n[target]\ngoal = "even"\n'
    job = job_of(text, demo)
    proposal = proposed(change("rest", 1.0, 280.0), change("sit bones", 1.2, 1000.0))
    keys = changed_keys_of(job, proposal)
    assert keys["target", "goal"] == "levels" and keys["zones", 2, "stiffness_times"] == 0.8
    assert keys["zones", 0, "stiffness_times"] == 1.0
    assert job_of(revised_text(text, job, proposal, demo / "out", demo, "job.toml"), demo).target.goal == "levels"


def test_the_demos_second_revision_is_what_revise_makes_of_its_notes(demo: Path, capsys) -> None:
    """Whole: this print and the next are made. The notes of the second print came later."""
    notes = (DEMO / "DEMO-1.trials.toml").read_text("utf-8")
    (demo / "DEMO-1.trials.toml").write_text(notes[: notes.index('\n[[trial]]\nrevision = "2"')], "utf-8")
    assert main(["revise", str(demo / "job.toml"), "--write", str(demo / "job-2.toml")]) == 0
    told = capsys.readouterr().out
    assert (demo / "job-2.toml").read_bytes() == (DEMO / "job-2.toml").read_bytes()
    assert '"rest" 33 % softer' in told and "first impression" in told and "nothing gets firmer" in told
    assert "bears" in told and "h instead of" in told and "Wrote" in told
    assert tomllib.loads((demo / "job-2.toml").read_text("utf-8"))["part"]["previous"] == "out"
    assert main(["revise", str(demo / "job.toml"), "--write", str(demo / "job-2.toml")]) == 2  # never overwrites


NOTES = "".join(
    f'[[trial]]\nrevision = "1"\ndate = 2026-01-{day}\nhours_worn = 8\n'
    'zones = [{ zone = "rest", feels = "too firm" }]\n'
    for day in (10, 11, 12)
)


def printed(kpa: dict[str, float], pressure: dict[str, float]) -> _Made:
    hours = Estimate(10.0, 9.0, 12.0, "model")
    return _Made(WornPrint("1", kpa, pressure), dict.fromkeys(kpa), hours, hours)


def test_a_changed_pad_that_cannot_be_made_is_tried_half_as_far(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first try is refused, as of folded walls that would slide; the second goes half the way."""
    record(demo / "out", "1", sit_bones=1200.0, tail_relief=200.0, rest=350.0)
    (demo / "DEMO-1.trials.toml").write_text(NOTES, "utf-8")
    asked: list[float] = []

    def made(job: Job, *_: object) -> Steps[_Made]:
        yield Progress(0.5, "making")
        asked.append(job.zones[2].stiffness_times)
        if len(asked) == 1:
            raise SolveError("The pad would slide.")
        return printed({"rest": 350.0 * asked[-1]}, {"rest": 15.0})

    monkeypatch.setattr("padwright.core.run.revise._made", made)
    proposal = drain(propose(read_job(demo / "job.toml"), demo, TODAY))
    assert len(asked) == 2 and asked[1] == pytest.approx(asked[0] ** 0.5, abs=0.002) and asked[0] < 0.75
    (rest,) = (each for each in proposal.changes if each.is_changed)
    assert rest.zone == "rest" and rest.times == pytest.approx(asked[1], abs=0.002)
    assert "half the way. The pad would slide." in rest.notes[-1]
    assert proposal.hours_next is not None and proposal.next_revision == "2"


def test_a_pad_that_can_never_be_made_changes_nothing_and_says_why(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(demo / "out", "1", sit_bones=1200.0, tail_relief=200.0, rest=350.0)
    (demo / "DEMO-1.trials.toml").write_text(NOTES, "utf-8")

    def made(*_: object) -> Steps[_Made]:
        yield Progress(0.5, "making")
        raise SolveError("The pad would slide.")

    monkeypatch.setattr("padwright.core.run.revise._made", made)
    proposal = drain(propose(read_job(demo / "job.toml"), demo, TODAY))
    assert not proposal.is_change and any(
        "The pad would slide." in note for each in proposal.changes for note in each.notes
    )


def test_a_job_changed_since_it_was_printed_is_told(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(demo / "out", "1", rest=500.0)
    path = demo / "out" / "DEMO-1.run.json"
    run = json.loads(path.read_text("utf-8"))
    run["settings"]["zones"][0]["target_kPa"] = 500.0
    path.write_text(json.dumps(run), "utf-8")
    (demo / "DEMO-1.trials.toml").write_text(NOTES.replace("too firm", "right"), "utf-8")
    proposal = drain(propose(read_job(demo / "job.toml"), demo, TODAY))
    assert any('"rest" 500 kPa, now 350' in note for note in proposal.notes)


def test_softer_beside_is_held_where_it_hurts(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(demo / "out", "1", sit_bones=1200.0, rest=350.0)
    path = demo / "out" / "DEMO-1.run.json"
    run = json.loads(path.read_text("utf-8"))
    left = {"value": 0.9}
    run["load"] = {
        "zones": [
            {"name": name, "mean_pressure_kPa": {"value": kpa}, "bottoming_margin": left}
            for name, kpa in (("sit bones", 20.0), ("rest", 15.0))
        ]
    }
    path.write_text(json.dumps(run), "utf-8")

    def made(job: Job, *_: object) -> Steps[_Made]:
        yield Progress(0.5, "making")
        return printed(
            {"rest": 350.0 * job.zones[2].stiffness_times, "sit bones": 1200.0}, {"sit bones": 22.0, "rest": 13.0}
        )

    monkeypatch.setattr("padwright.core.run.revise._made", made)
    for pain, changes in (
        ("", True),
        ('pain = 2\npain_at = "sit bones"\n', False),
        ('pain = 2\npain_at = "rest"\n', True),
    ):
        notes = NOTES.replace("hours_worn = 8\n", f"hours_worn = 8\n{pain}")
        (demo / "DEMO-1.trials.toml").write_text(notes, "utf-8")
        proposal = drain(propose(read_job(demo / "job.toml"), demo, TODAY))
        assert proposal.is_change == changes
        assert any("Caution" in line for line in proposal.stop) == bool(pain)


def test_a_cell_beside_the_part_is_refused_with_the_last_there_is(demo: Path) -> None:
    notes = NOTES.replace("hours_worn = 8\n", 'hours_worn = 8\npain = 2\npain_at = "Z99"\n')
    (demo / "DEMO-1.trials.toml").write_text(notes, "utf-8")
    with pytest.raises(InputError, match='line 1: nothing of the part lies at pain_at = "Z99"') as raised:
        drain(propose(read_job(demo / "job.toml"), demo, TODAY))
    assert re.search(r"run from A1 to [A-N]\d+;", raised.value.hint)


def test_a_revision_is_written_onto_a_job_that_was_corrected(
    demo: Path, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    record(demo / "out", "1", sit_bones=1200.0, tail_relief=200.0, rest=350.0)
    (demo / "DEMO-1.trials.toml").write_text(NOTES, "utf-8")

    def made(job: Job, *_: object) -> Steps[_Made]:
        yield Progress(0.5, "making")
        return printed({"rest": 350.0 * job.zones[2].stiffness_times}, {})

    monkeypatch.setattr("padwright.core.run.revise._made", made)
    revision(demo, "2", "out", "corrected.toml")
    text = (demo / "corrected.toml").read_text("utf-8").replace("nozzle_mm = 0.4", "nozzle_mm = 0.5  # corrected")
    (demo / "corrected.toml").write_text(text, "utf-8")
    call = ["revise", str(demo / "job.toml"), "--onto", str(demo / "corrected.toml")]
    assert main(call) == 2 and "--onto is for --write" in capsys.readouterr().err
    assert main([*call, "--write", str(demo.parent / "job-2.toml")]) == 2
    assert "another folder" in capsys.readouterr().err
    assert main([*call, "--write", str(demo / "job-2.toml")]) == 0
    said = capsys.readouterr().out
    assert "Revision 1 -> 2, " in said and "Another job beside" not in said
    both = read_job(demo / "job-2.toml")
    assert both.printer.nozzle_mm == 0.5 and both.zones[2].stiffness_times < 0.8
    assert (both.part.revision, both.part.previous) == ("2", "out")
    (demo / "corrected.toml").write_text(text.replace('name = "rest"', 'name = "other"'), "utf-8")
    assert main([*call, "--write", str(demo / "job-3.toml")]) == 2
    assert "is not of part DEMO-1 with the zones" in capsys.readouterr().err and not (demo / "job-3.toml").exists()


def test_a_number_that_another_job_beside_has_is_told(demo: Path) -> None:
    record(demo / "out", "1", sit_bones=1200.0, tail_relief=200.0, rest=350.0)
    (demo / "DEMO-1.trials.toml").write_text(NOTES.replace("too firm", "right"), "utf-8")
    alone = drain(propose(read_job(demo / "job.toml"), demo, TODAY))
    text = (demo / "job.toml").read_text("utf-8")
    other = text.replace('number = "DEMO-1"', 'number = "DEMO-1"\nrevision = "2"', 1)
    (demo / "another.toml").write_text(other, "utf-8")
    told = drain(propose(read_job(demo / "job.toml"), demo, TODAY))
    assert (alone.next_revision, told.next_revision) == ("2", "3")
    assert set(told.notes) - set(alone.notes) == {"Another job beside is revision 2 already."}
