"""A saved job and the files it names: all or none, and nobody else's file is touched."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from padwright.core.base.errors import ExportError, InputError
from padwright.core.job.files import gather_files, named_files, with_whole_paths
from padwright.core.stages.packing.bundle import mend_folder
from padwright.core.stages.packing.saved_job import write_saved_job
from support.disk import told_of_changes

TEXT = 'schema = 1\n[base]\nscan = "p.base.ply"\n'
OLD = {"p.base.ply": b"base", "p.zone-1.npz": b"paint", "grid.csv": b"1,2"}
NEW = {"p.base.ply": b"base, other", "p.zone-2.npz": b"paint", "grid.csv": b"1,2"}


def snapshot(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()} if folder.is_dir() else {}


def test_saving_again_replaces_what_was_saved_and_takes_the_rest_away(tmp_path):
    write_saved_job(tmp_path / "job.toml", TEXT, OLD)
    (tmp_path / "notes.txt").write_bytes(b"mine")
    found = write_saved_job(tmp_path / "job.toml", TEXT, NEW)
    assert snapshot(tmp_path).keys() == {*NEW, "job.toml", "notes.txt"}
    assert all((tmp_path / name).read_bytes() == data for name, data in NEW.items())
    assert found.removed == ("p.zone-1.npz",)
    assert (tmp_path / "job.toml").read_text().endswith(TEXT)


def test_the_same_save_gives_the_same_text(tmp_path):
    texts = []
    for name in ("first", "second"):
        for _ in range(2):
            write_saved_job(tmp_path / name / "job.toml", TEXT, OLD)
            texts.append((tmp_path / name / "job.toml").read_bytes())
    assert len(set(texts)) == 1


class Killed(BaseException):
    """Stands for the end of the program."""


def test_a_save_stopped_anywhere_leaves_the_job_before_or_the_job_after(tmp_path):
    steps: list[str] = []
    write_saved_job(tmp_path / "count" / "job.toml", TEXT, OLD)
    before = snapshot(tmp_path / "count")
    with told_of_changes(steps.append):
        write_saved_job(tmp_path / "count" / "job.toml", TEXT, NEW)
    after = snapshot(tmp_path / "count")
    assert len(steps) > 10
    ends = set()
    for number in range(len(steps)):
        folder = tmp_path / f"run{number}" / "in"
        write_saved_job(folder / "job.toml", TEXT, OLD)
        left = itertools.count(number, -1)

        def stop(name: str, left=left) -> None:
            if next(left) == 0:
                raise Killed(name)

        with pytest.raises(Killed):
            with told_of_changes(stop):
                write_saved_job(folder / "job.toml", TEXT, NEW)
        mend_folder(folder)
        now = snapshot(folder)
        assert now in (before, after)
        assert [path.name for path in folder.parent.iterdir()] == ["in"]
        ends.add(now == after)
    assert ends == {True, False}


@pytest.mark.parametrize("name", ["p.base.ply", "grid.csv"])
def test_a_file_of_others_is_never_replaced(tmp_path, name):
    (tmp_path / name).write_bytes(b"theirs")
    with pytest.raises(ExportError, match=rf"1 file that was not saved by Padwright .*{name}"):
        write_saved_job(tmp_path / "job.toml", TEXT, OLD)
    assert snapshot(tmp_path) == {name: b"theirs"}


def test_a_saved_file_that_was_changed_since_is_not_replaced(tmp_path):
    write_saved_job(tmp_path / "job.toml", TEXT, OLD)
    (tmp_path / "p.base.ply").write_bytes(b"mended by hand")
    before = snapshot(tmp_path)
    with pytest.raises(ExportError, match="changed since"):
        write_saved_job(tmp_path / "job.toml", TEXT, NEW)
    assert snapshot(tmp_path) == before


def test_a_file_that_is_there_with_the_same_content_stays_whose_it_was(tmp_path):
    (tmp_path / "grid.csv").write_bytes(OLD["grid.csv"])
    write_saved_job(tmp_path / "job.toml", TEXT, OLD)
    assert "grid.csv" not in (tmp_path / "job.toml").read_text()
    write_saved_job(tmp_path / "job.toml", TEXT, {"p.base.ply": b"base"})
    assert (tmp_path / "grid.csv").read_bytes() == OLD["grid.csv"]


def test_a_scan_that_two_jobs_share_is_not_changed_under_the_other(tmp_path):
    write_saved_job(tmp_path / "job.toml", TEXT, OLD)
    write_saved_job(tmp_path / "other.toml", TEXT, OLD)
    before = snapshot(tmp_path)
    with pytest.raises(ExportError, match=r"named by other\.toml too"):
        write_saved_job(tmp_path / "job.toml", TEXT, NEW)
    assert snapshot(tmp_path) == before


def test_a_job_of_ones_own_by_that_name_is_replaced_as_was_asked(tmp_path):
    (tmp_path / "job.toml").write_text("# mine\n" + TEXT)
    write_saved_job(tmp_path / "job.toml", TEXT, OLD)
    assert snapshot(tmp_path).keys() == {*OLD, "job.toml"}


@pytest.fixture
def tables(tmp_path):
    """A job with every kind of file, two of them of one name."""
    for name in ("a/pad.stl", "a/grid.csv", "b/grid.csv", "card.toml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(name)
    return {
        "base": {"scan": "p.base.ply"},
        "pad": {"envelope": "a/pad.stl"},
        "material": {"card": "card.toml"},
        "zones": [{"file": "a/grid.csv"}, {"file": "b/grid.csv"}, {"file": "a/grid.csv"}, {"source": "rest"}],
    }


def test_files_from_anywhere_are_gathered_under_names_of_their_own(tables, tmp_path):
    with_whole_paths(tables, tmp_path)
    tables["base"]["scan"] = "p.base.ply"
    found = gather_files(tables, {"p.base.ply": b"", "PAD.stl": b""})
    assert tables["pad"]["envelope"] == "pad-2.stl"
    assert [zone.get("file") for zone in tables["zones"]] == ["grid.csv", "grid-2.csv", "grid.csv", None]
    assert found == {
        "pad-2.stl": b"a/pad.stl", "card.toml": b"card.toml", "grid.csv": b"a/grid.csv", "grid-2.csv": b"b/grid.csv",
    }  # fmt: skip


def test_a_shipped_card_is_no_file():
    assert list(named_files({"material": {"card": "tpu_85a"}})) == []


def test_a_file_that_is_gone_is_told_by_its_path(tmp_path):
    gone = tmp_path / "gone.stl"
    with pytest.raises(InputError, match=r"gone\.stl"):
        gather_files({"pad": {"envelope": str(gone)}}, {})
