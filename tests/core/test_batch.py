"""A batch: which jobs lie there, what is skipped by content, what is told, and that parts are those of single runs."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest
from tests.support.html_pages import page_faults
from tests.support.many_jobs import digests, tiny_jobs

from padwright.batch import one_job
from padwright.batch.job_list import listed_jobs
from padwright.batch.one_job import run_task, tool_hash
from padwright.batch.plan import only_batch, plan_batch
from padwright.batch.record import JobRecord, read_records, write_record
from padwright.batch.running import write_tables
from padwright.batch.stores import STATE_FOLDER, open_store
from padwright.batch.words import duration
from padwright.cli.main import main
from padwright.core.base.errors import ExportError, InputError
from padwright.core.base.files import noting_reads, read_named
from padwright.core.base.together import both, together

JOB = '[part]\nname = "Pad"\nnumber = "{}"\nfamily = "seat_pad"\n{}\n[base]\nscan = "base.stl"\nunit = "mm"\n'


def write_jobs(root: Path, **jobs: tuple[str, str]) -> None:
    """Write job files by name ("a/b" for a/b.toml), each with a number and more lines of [part]."""
    for name, (number, more) in jobs.items():
        path = root / f"{name}.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(JOB.format(number, more))


def places(root: Path, *, is_elsewhere: bool = False) -> dict[str, str]:
    return {each.name: each.place for each in listed_jobs(open_store(str(root)), is_elsewhere=is_elsewhere)}


def test_jobs_are_found_by_what_is_in_them_and_sorted_as_people_count(tmp_path):
    write_jobs(tmp_path, **{"w-10/job": ("A-10", ""), "w-9/job": ("A-9", ""), ".hidden/job": ("H", "")})
    (tmp_path / "words.toml").write_text('[program]\nname = "x"\n')
    (tmp_path / "A-9.trials.toml").write_text("[[trial]]\nrevision = '1'\n")
    (tmp_path / "card.toml").write_text('id = "tpu"\n[base]\n')
    (tmp_path / "broken.toml").write_text("[part]\nname = \n")
    (tmp_path / "noise.toml").write_text("= = =\n")
    assert list(places(tmp_path)) == ["broken.toml", "w-9/job.toml", "w-10/job.toml"]


def test_a_folder_without_jobs_is_told_and_so_are_a_file_and_nothing(tmp_path):
    with pytest.raises(InputError, match="No job lies below"):
        plan_batch(str(tmp_path))
    (tmp_path / "words.toml").write_text("a = 1\n")
    with pytest.raises(InputError, match=r"1 \.toml are no jobs"):
        plan_batch(str(tmp_path))
    with pytest.raises(InputError, match="is a file; a batch takes the folder"):
        plan_batch(str(tmp_path / "words.toml"))
    with pytest.raises(InputError, match="is not there"):
        plan_batch(str(tmp_path / "nowhere"))


def test_each_part_has_a_folder_of_its_own(tmp_path):
    write_jobs(
        tmp_path,
        **{
            "a/job": ("A", ""),
            "b/seat": ("B", ""),
            "c/job": ("C", ""),
            "c/left": ("C-L", ""),
            "c/second": ("C", 'previous = "out"\nrevision = "2"'),
            "top": ("T", ""),
        },
    )
    assert places(tmp_path) == {
        "a/job.toml": "a/out",
        "b/seat.toml": "b/out",
        "c/job.toml": "c/out",
        "c/left.toml": "c/out-left",
        "c/second.toml": "c/out-2",
        "top.toml": "out",
    }
    elsewhere = places(tmp_path, is_elsewhere=True)
    assert elsewhere["a/job.toml"] == "a" and elsewhere["c/left.toml"] == "c/left" and elsewhere["top.toml"] == "top"
    for each in (places(tmp_path), elsewhere):
        assert len(set(each.values())) == len(each)


def test_a_revision_comes_after_the_job_that_makes_the_one_before_and_a_circle_waits_for_none(tmp_path):
    write_jobs(tmp_path, **{"z/job": ("Z", ""), "z/a": ("Z", 'previous = "out"\nrevision = "2"')})
    write_jobs(tmp_path, **{"c/a": ("C", 'previous = "out-b"\nrevision = "a"')})
    write_jobs(tmp_path, **{"c/b": ("C", 'previous = "out-a"\nrevision = "b"')})
    plan = plan_batch(str(tmp_path))
    assert plan.after["z/a.toml"] == "z/job.toml"
    assert len([each for each in plan.after if each.startswith("c/")]) == 1


def test_a_number_that_two_jobs_make_is_told(tmp_path):
    write_jobs(tmp_path, **{"a/job": ("PAD-1", ""), "b/job": ("PAD-1", ""), "c/job": ("PAD-2", "")})
    assert plan_batch(str(tmp_path)).doubles == {"PAD-1": ["a/job.toml", "b/job.toml"]}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two jobs, of which the second has a damaged scan, after a batch in this process."""
    root = tmp_path_factory.mktemp("made")
    tiny_jobs(root, 2)
    (root / "wearer-2" / "base.stl").write_bytes(b"solid nothing")
    old = time.time() - 60.0
    for path in root.rglob("*.*"):
        os.utime(path, (old, old))
    plan = plan_batch(str(root))
    fresh = {task.name: run_task(task) for task in plan.tasks}
    assert [each.code for each in fresh.values()] == [0, 3]
    write_tables(plan, fresh, 12.0)
    return root


@pytest.fixture
def again(made: Path, tmp_path: Path) -> Path:
    """A copy of it, with the times of its files."""
    return Path(shutil.copytree(made, tmp_path / "again"))


def todo(root: Path, **more) -> list[str]:
    return [each.name for each in plan_batch(str(root), **more).tasks]


def test_what_is_done_and_unchanged_is_skipped_also_elsewhere_and_touched(again):
    assert todo(again) == []
    for path in again.rglob("*.stl"):
        os.utime(path)  # another time, the same content
    assert todo(again) == []


def test_what_failed_and_is_unchanged_is_tried_again_only_when_asked(again):
    assert todo(again, retry_failed=True) == ["wearer-2/job.toml"]
    assert todo(again, anew=True) == ["wearer-1/job.toml", "wearer-2/job.toml"]
    (again / "wearer-2" / "base.stl").write_bytes((again / "wearer-1" / "base.stl").read_bytes())
    assert todo(again) == ["wearer-2/job.toml"]


def test_a_job_done_by_a_worker_that_died_before_it_could_say_so_is_not_done_again(again):
    task = plan_batch(str(again), anew=True).tasks[0]
    first = run_task(task)
    document = again / "wearer-1" / "out" / "W-1.run.json"
    before = document.stat().st_mtime_ns
    assert run_task(task) == first and document.stat().st_mtime_ns == before
    assert run_task(plan_batch(str(again), anew=True).tasks[0]) != first  # of another batch


def test_what_failed_for_the_place_alone_is_tried_again_each_time(again):
    (again / "wearer-1" / "out" / "W-1.settings.json").write_text("another's")
    [task] = plan_batch(str(again)).tasks
    record = run_task(task)
    assert record.code == ExportError.exit_code and "W-1.settings.json" in record.message
    assert todo(again) == ["wearer-1/job.toml"]
    (again / "wearer-1" / "out" / "W-1.settings.json").unlink()
    assert run_task(plan_batch(str(again)).tasks[0]).is_done and todo(again) == []


def test_files_are_noted_also_where_work_is_done_side_by_side(tmp_path):
    for name in ("a", "b", "c"):
        (tmp_path / name).write_text(name)
    with noting_reads() as noted:
        reads = [partial(read_named, tmp_path / name, "It", most_bytes=9) for name in ("a", "b", "c")]
        together(reads[:2])
        both(reads[0], reads[2])
        with pytest.raises(InputError):
            read_named(tmp_path / "none", "It", most_bytes=9)
    read_named(tmp_path / "a", "It", most_bytes=9)
    assert {path.name: digest and digest[:4] for path, digest in noted.items()} == {
        "a": "ca97", "b": "3e23", "c": "2e7d", "none": None,
    }  # fmt: skip


def same_time(path: Path, data: bytes) -> None:
    """Write a file anew with its old time, as copying programs do."""
    before = path.stat()
    path.write_bytes(data)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns + 1))


@pytest.mark.parametrize(
    "change",
    [
        lambda root: same_time(root / "base.stl", (root / "base.stl").read_bytes()[:-1] + b"\1"),
        lambda root: (root / "job.toml").write_text((root / "job.toml").read_text() + "# a word\n"),
        lambda root: (root / "W-1.trials.toml").write_text("# none yet\n"),
        lambda root: (root / "out" / "W-1.settings.json").unlink(),
        lambda root: (root / "out" / "W-1.run.json").write_text("{}"),
    ],
    ids=["scan", "job", "trials", "a file of the part", "its document"],
)
def test_what_changed_is_made_again(again, change):
    change(again / "wearer-1")
    assert todo(again)[:1] == ["wearer-1/job.toml"]


def test_other_settings_another_tool_and_a_damaged_record_make_again(again, monkeypatch):
    assert len(todo(again, settings=["pad.fit_gap_mm = 0.5"])) == 2
    with monkeypatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1")  # the time that stands in the files
        assert len(todo(again)) == 2
    for path in (again / STATE_FOLDER).glob("*.json"):
        path.write_text(path.read_text()[:-40])
    assert len(todo(again)) == 2
    monkeypatch.setattr("padwright.batch.plan.tool_hash", lambda: "another")
    assert len(todo(again)) == 2


def test_a_part_is_made_again_where_any_library_that_ships_is_another(monkeypatch):
    listed = (Path(__file__).resolve().parents[2] / "requirements" / "run-3.11.in").read_text("utf-8")
    shipped = {line.partition("==")[0] for line in listed.splitlines() if "==" in line}
    assert shipped >= {"numpy", "pillow"}
    seen = {tool_hash.__wrapped__()}
    for name in shipped:
        with monkeypatch.context() as patch:
            patch.setattr(one_job, "library_version", lambda each, name=name: "0" if each == name else version(each))
            seen.add(tool_hash.__wrapped__())
    assert len(seen) == 1 + len(shipped)


def test_a_batch_alone_works_into_a_folder(tmp_path):
    store = open_store(str(tmp_path))
    with only_batch(store), pytest.raises(ExportError, match="Another batch is at work"), only_batch(store):
        pass
    with only_batch(store):
        pass


def test_the_table_has_what_needs_a_look_first_on_top(made):
    rows = list(csv.DictReader(io.StringIO((made / "batch.csv").read_text("utf-8"))))
    assert [(each["state"], each["exit_code"], each["number"]) for each in rows] == [
        ("failed", "3", "W-2"),
        ("made", "0", "W-1"),
    ]
    assert 'text that begins with "solid nothing"' in rows[0]["message"] and rows[0]["hint"]
    run = json.loads((made / "wearer-1" / "out" / "W-1.run.json").read_text())
    assert float(rows[1]["mass_g"]) == pytest.approx(run["print"]["mass_g"]["value"], rel=1e-3)
    assert rows[1]["files"] == "wearer-1/out" and (made / rows[1]["files"]).is_dir()
    assert rows[1]["why"].startswith(run["before_printing"][0])


def test_the_page_is_whole_and_shows_every_part(made):
    page = (made / "batch.html").read_bytes()
    assert page_faults(page) == []
    text = page.decode()
    assert text.index("W-2") < text.index("W-1")  # what failed comes first
    assert text.count("<img src=") == 1 and "solid nothing" in text
    assert "wearer-1/job.toml" in text


def fill_table(root: Path, records: list[JobRecord]) -> tuple[list[dict[str, str]], str]:
    write_jobs(root, **{each.job.removesuffix(".toml"): (f"N-{n}", "") for n, each in enumerate(records)})
    write_tables(plan_batch(str(root)), {each.job: each for each in records}, 1.0)
    found = list(csv.DictReader(io.StringIO((root / "batch.csv").read_text("utf-8"), newline="")))
    page = (root / "batch.html").read_bytes()
    links = {f"{each.place}/{name}" for each in records for name in each.files}
    assert page_faults(page, beside=links) == []
    return found, page.decode()


def test_rows_are_ordered_by_urgency_and_no_text_is_taken_for_more_than_text(tmp_path):
    part = {"number": "=1+1", "name": "<script>alert(1)</script>", "revision": "1", "mass_g": 12.0}
    fine = JobRecord("a/job.toml", 0, part=part, place="a/out", files={"X.report.html": 1})
    records = [
        fine,
        replace(fine, job="b/job.toml", place="b/out", part={**part, "changes": ["one"]}),
        replace(fine, job="c/job.toml", place="c/out", part={**part, "before_printing": ["one", "two"]}),
        JobRecord("d/job.toml", 4, 'A "word", and\na line', "Do."),
        replace(fine, job="e/job.toml", place="e/out", part={**part, "before_printing": ["one"]}),
    ]
    rows, page = fill_table(tmp_path, records)
    assert [each["job"][0] for each in rows] == ["d", "c", "e", "b", "a"]
    assert [each["look"] for each in rows] == ["failed", "before you print", "before you print", "changed", ""]
    assert rows[0]["message"] == 'A "word", and\na line'
    assert rows[4]["number"] == "'=1+1"  # a spreadsheet would reckon
    assert "<script>alert" not in page and 'href="a/out/X.report.html"' in page


def test_a_job_that_is_not_run_yet_stands_in_the_table(tmp_path):
    write_jobs(tmp_path, **{"a/job": ("A", "")})
    ended = write_tables(plan_batch(str(tmp_path)), {}, 1.0)
    assert ended.count("not run") == 1 and b"not run" in (tmp_path / "batch.csv").read_bytes()


def test_a_record_comes_back_as_it_was(tmp_path, made):
    store = open_store(str(tmp_path))
    found = read_records(open_store(str(made)), ["wearer-1/job.toml", "wearer-2/job.toml", "other"])
    assert sorted(found) == ["wearer-1/job.toml", "wearer-2/job.toml"]
    for each in found.values():
        write_record(store, each)
    assert read_records(store, list(found)) == found
    assert set(found["wearer-1/job.toml"].reads) >= {"job.toml", "base.stl", "envelope.stl"}


def test_a_dry_run_tells_and_writes_nothing(again, capsys):
    (again / "wearer-3").mkdir()
    (again / "wearer-3" / "job.toml").write_text((again / "wearer-1" / "job.toml").read_text())
    before = {path: path.stat().st_mtime_ns for path in again.rglob("*")}
    assert main(["batch", str(again), "--dry-run"]) == 4
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "unchanged  wearer-1/job.toml"
    assert said[1].startswith("failed     wearer-2/job.toml: ")
    assert said[2].startswith("would fail wearer-3/job.toml: ") and "base.stl" in said[2]
    assert said[-1].startswith("1 of 3 jobs to do; this machine has ")
    assert {path: path.stat().st_mtime_ns for path in again.rglob("*")} == before


def test_nothing_to_do_is_done_at_once_and_what_failed_is_told(again, capsys):
    assert main(["batch", str(again)]) == 4
    said = capsys.readouterr().out
    assert said.startswith("2 jobs: 0 made, 1 done before and unchanged, 1 failed.\n")
    assert "wearer-2/job.toml (3): " in said and "--retry-failed" in said


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(4.21, "4.2 s"), (48.0, "48 s"), (240.0, "4 min"), (12_000.0, "3 h 20 min"), (200_000.0, "2 days")],
)
def test_times_in_words(seconds, words):
    assert duration(seconds) == words


def kill_a_worker(batch: subprocess.Popen[str]) -> None:
    """Kill a process that does jobs of a batch, as soon as there is one (Linux, proc(5))."""
    while batch.poll() is None:
        for child in Path(f"/proc/{batch.pid}/task/{batch.pid}/children").read_text().split():
            if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes():
                time.sleep(1.0)  # it has begun by then
                os.kill(int(child), signal.SIGKILL)
                return
        time.sleep(0.05)


@pytest.fixture
def in_foreground():
    """Let children hear the terminal's interrupt, also where the tests were started with `&`."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="finds processes in /proc")
def test_parts_are_those_of_single_runs_in_any_order_whatever_was_stopped_or_killed(tmp_path, in_foreground):
    env = {**os.environ, "SOURCE_DATE_EPOCH": "1700000000"}
    root, single = tmp_path / "batch", tmp_path / "single"
    names = tiny_jobs(root, 4, pictures=1)
    tiny_jobs(single, 4, pictures=1)
    quiet: dict[str, Any] = {"env": env, "check": True, "timeout": 600, "stdout": subprocess.DEVNULL}
    for name in reversed(names):
        subprocess.run([sys.executable, "-m", "padwright", "run", str(single / name)], **quiet)
    command = [sys.executable, "-m", "padwright", "batch", str(root), "--jobs", "2"]
    listened: dict[str, Any] = {"env": env, "stderr": subprocess.PIPE, "stdout": subprocess.DEVNULL, "text": True}
    with subprocess.Popen(command, **listened) as first:
        while "[1/4]" not in first.stderr.readline():
            assert first.poll() is None
        first.send_signal(signal.SIGINT)
        said = first.stderr.read()
    assert first.returncode == 130 and "The same command goes on from here" in said
    assert [path for path in root.rglob(".*") if path.name != STATE_FOLDER] == []  # nothing is half done
    assert all(list(folder.glob("*.run.json")) for folder in root.rglob("out"))
    done = digests(root)
    assert 0 < len(done) < len(digests(single))
    with subprocess.Popen(command, **listened) as second:
        kill_a_worker(second)
        said = second.stderr.read()
    assert "its worker died (ended by SIGKILL); it is begun again" in said and second.returncode == 0
    assert digests(root) == digests(single)
    assert done.items() <= digests(root).items()
    states = [each["state"] for each in csv.DictReader(io.StringIO((root / "batch.csv").read_text("utf-8")))]
    assert "unchanged" in states and "made" in states
