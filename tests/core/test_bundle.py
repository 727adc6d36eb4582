"""A run's files are on disk all or not at all, and nobody else's file is touched."""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from padwright.core.base.errors import ExportError, InputError
from padwright.core.stages.packing import bundle as bundle_module
from padwright.core.stages.packing.bundle import check_folder, listed_files, mend_folder, run_document, write_bundle
from support.disk import told_of_changes

COMMIT = "PAD-1.run.json"


class Killed(BaseException):
    """Stands for the end of the program: nothing catches it, so nothing tidies up."""


def make_run(**files: bytes) -> dict[str, bytes]:
    named = {name.replace("__", "."): data for name, data in files.items()}
    named = {f"PAD-1.{name}": data for name, data in named.items()}
    return {COMMIT: run_document({"part": "PAD-1"}, named), **named}


OLD = make_run(settings__json=b"old", heel__stl=b"same", arch__stl=b"gone in the new run")
NEW = make_run(settings__json=b"new", heel__stl=b"same", toe__stl=b"toe")
FOREIGN = {"notes.txt": b"mine", "PAD-1.photo.png": b"mine too", "OTHER.run.json": b"{}"}


def snapshot(folder: Path) -> dict[str, bytes]:
    files = [path for path in folder.iterdir() if path.is_file()] if folder.is_dir() else []
    return {path.name: path.read_bytes() for path in files}


def start(folder: Path, files: dict[str, bytes], foreign: dict[str, bytes] = FOREIGN) -> dict[str, bytes]:
    """Return what the folder holds after a run and with other people's files beside it."""
    if files or foreign:
        folder.mkdir(parents=True)
    for name, data in foreign.items():
        (folder / name).write_bytes(data)
    if files:
        write_bundle(folder, files, commit_name=COMMIT)
    return snapshot(folder)


def killer(number: int):
    left = itertools.count(number, -1)

    def on_step(name: str) -> None:
        if next(left) == 0:
            raise Killed(name)

    return on_step


def killer_at(step: str):
    def on_step(name: str) -> None:
        if name == step:
            raise Killed(name)

    return on_step


def count_steps(folder: Path, old: dict[str, bytes], new: dict[str, bytes]) -> int:
    start(folder, old)
    steps: list[str] = []
    with told_of_changes(steps.append):
        write_bundle(folder, new, commit_name=COMMIT)
    return len(steps)


def assert_whole(folder: Path, before: dict[str, bytes], after: dict[str, bytes]) -> bool:
    """Check that the folder holds the run before or the run after, and nothing is left beside it; True for after."""
    now = snapshot(folder)
    assert now in (before, after)
    assert [path.name for path in folder.parent.iterdir() if path != folder] == []
    assert [path.name for path in folder.iterdir() if path.is_dir()] == []
    return now == after


SITUATIONS = {"first run": ({}, NEW), "next revision": (OLD, NEW), "same bytes again": (NEW, NEW)}


@pytest.fixture(autouse=True)
def _no_waiting_for_the_disk(monkeypatch):
    """The tests stop the program, not the power: what a kill leaves does not depend on fsync."""
    if "real" not in os.environ.get("PYTEST_CURRENT_TEST", ""):
        monkeypatch.setattr(os, "fsync", lambda _: None)


@pytest.mark.parametrize("situation", SITUATIONS)
def test_every_kill_leaves_the_run_before_or_the_run_after(tmp_path, situation):
    old, new = SITUATIONS[situation]
    steps = count_steps(tmp_path / "count" / "out", old, new)
    after = {**FOREIGN, **new}
    ends = []
    for number in range(steps):
        folder = tmp_path / str(number) / "out"
        before = start(folder, old)
        with pytest.raises(Killed):
            with told_of_changes(killer(number)):
                write_bundle(folder, new, commit_name=COMMIT)
        assert snapshot(folder).items() >= FOREIGN.items()
        mend_folder(folder)
        ends.append(assert_whole(folder, before, after))
        write_bundle(folder, new, commit_name=COMMIT)
        assert assert_whole(folder, after, after)
    # Killed early the run before must be back, killed late the run after must stand: the test would see a tool that
    # always does one of them.
    assert ends == sorted(ends)
    assert ends[-1]
    assert old == new or not ends[0]


@pytest.mark.parametrize(("situation", "stride"), [("first run", 2), ("next revision", 3), ("same bytes again", 5)])
def test_a_kill_while_mending_is_mended_too(tmp_path, situation, stride):
    old, new = SITUATIONS[situation]
    after = {**FOREIGN, **new}
    kills = 0
    for number in range(0, count_steps(tmp_path / "count" / "out", old, new), stride):
        for second in itertools.count():
            folder = tmp_path / f"{number}-{second}" / "out"
            before = start(folder, old)
            with pytest.raises(Killed):
                with told_of_changes(killer(number)):
                    write_bundle(folder, new, commit_name=COMMIT)
            try:
                with told_of_changes(killer(second)):
                    mend_folder(folder)
            except Killed:
                kills += 1
                mend_folder(folder)
                assert_whole(folder, before, after)
                continue
            assert_whole(folder, before, after)
            break
    assert kills > 25


def test_where_beside_may_not_be_written_the_stage_lies_inside_and_mends_too(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_: False)
    seen: set[str] = set()
    number = 0
    while True:
        folder = tmp_path / f"d{number}" / "out"
        before = start(folder, OLD)
        try:
            with told_of_changes(killer(number)):
                write_bundle(folder, NEW, commit_name=COMMIT)
        except Killed:
            seen |= {path.name for path in folder.iterdir() if path.is_dir()}
            mend_folder(folder)
            assert_whole(folder, before, {**FOREIGN, **NEW})
            number += 3
            continue
        break
    assert number > 20
    assert seen == {f".{COMMIT}.padwright-stage"}


def test_a_first_run_that_is_taken_back_leaves_no_folder(tmp_path):
    folder = tmp_path / "base" / "out"
    (tmp_path / "base").mkdir()
    steps: list[str] = []
    with told_of_changes(steps.append):
        write_bundle(tmp_path / "count", NEW, commit_name=COMMIT)
    for number in range(steps.index(f"rename new/{COMMIT}") + 1):
        with pytest.raises(Killed):
            with told_of_changes(killer(number)):
                write_bundle(folder, NEW, commit_name=COMMIT)
        mend_folder(folder)
        assert list((tmp_path / "base").iterdir()) == []


def test_a_full_disk_leaves_everything_as_it_was(tmp_path):
    after = {**FOREIGN, **NEW}
    steps: list[str] = []
    with told_of_changes(steps.append):
        write_bundle(tmp_path / "count" / "out", NEW, commit_name=COMMIT)
    for number in range(steps.index(f"rename new/{COMMIT}") + 1):

        def on_step(name: str, left=itertools.count(number, -1)) -> None:  # one count a loop  # noqa: B008
            if next(left) == 0:
                raise OSError(28, "No space left on device")

        folder = tmp_path / f"d{number}" / "out"
        before = start(folder, OLD)
        with pytest.raises(ExportError, match=r"No space left on device.*nothing was changed"):
            with told_of_changes(on_step):
                write_bundle(folder, NEW, commit_name=COMMIT)
        assert not assert_whole(folder, before, after)


def test_ctrl_c_while_renaming_takes_the_run_back(tmp_path):
    folder = tmp_path / "out"
    before = start(folder, OLD)

    def on_step(name: str) -> None:
        if name == "rename new/PAD-1.toe.stl":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        with told_of_changes(on_step):
            write_bundle(folder, NEW, commit_name=COMMIT)
    assert not assert_whole(folder, before, {**FOREIGN, **NEW})


_CHILD = """
import os, signal, sys
sys.path[:0] = [{tests!r}, {addon!r}]
from pathlib import Path
from padwright.core.stages.packing.bundle import write_bundle, run_document
from support.disk import told_of_changes
files = {{f"PAD-1.{{name}}.stl": name.encode() * 40_000 for name in "abcdefgh"}}
files["PAD-1.run.json"] = run_document({{"revision": sys.argv[3]}}, files)
left = [int(sys.argv[2])]
def on_step(name):
    left[0] -= 1
    if left[0] < 0:
        os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
with told_of_changes(on_step):
    write_bundle(Path(sys.argv[1]), files, commit_name="PAD-1.run.json")
"""


def test_real_kills_are_mended(tmp_path):
    """SIGKILL (TerminateProcess on Windows) at steps all over the run; the system drops the lock."""
    addon = Path(bundle_module.__file__).parents[3]
    script = _CHILD.format(tests=str(Path(__file__).parents[1]), addon=str(addon))
    folder = tmp_path / "room" / "out"
    run = lambda number, revision: subprocess.run(  # noqa: E731
        [sys.executable, "-c", script, str(folder), str(number), revision], capture_output=True, check=False
    )
    assert run(10_000, "first").returncode == 0
    before = snapshot(folder)
    for number in range(1, 44, 7):
        result = run(number, "second")
        assert result.returncode == (-signal.SIGKILL if os.name != "nt" else signal.SIGTERM), result.stderr
        mend_folder(folder)
        if snapshot(folder) != before:
            break
        assert_whole(folder, before, before)
    now = snapshot(folder)
    assert set(now) == set(before)
    assert listed_files(now[COMMIT]) == listed_files(before[COMMIT])
    assert [path.name for path in folder.parent.iterdir()] == ["out"]


def test_another_living_run_is_not_disturbed(tmp_path):
    folder = tmp_path / "out"
    seen = []

    def on_step(name: str) -> None:
        if name == "rename new/PAD-1.toe.stl":
            with pytest.raises(ExportError, match="Another run is writing"):
                write_bundle(folder, NEW, commit_name=COMMIT)
            assert mend_folder(folder) == ()
            seen.append(name)

    with told_of_changes(on_step):
        write_bundle(folder, NEW, commit_name=COMMIT)
    assert seen
    assert snapshot(folder) == NEW


def test_files_of_the_run_before_go_and_those_of_others_stay(tmp_path):
    folder = tmp_path / "out"
    start(folder, OLD)
    result = write_bundle(folder, NEW, commit_name=COMMIT)
    assert result.removed == ("PAD-1.arch.stl",)
    assert snapshot(folder) == {**FOREIGN, **NEW}


@pytest.mark.parametrize("name", ["PAD-1.settings.json", COMMIT])
def test_a_foreign_file_under_our_name_is_named_and_kept(tmp_path, name):
    folder = tmp_path / "out"
    before = start(folder, {}, {name: b"mine"})
    with pytest.raises(ExportError, match=rf"1 file under .* {name}"):
        write_bundle(folder, NEW, commit_name=COMMIT)
    assert_whole(folder, before, before)


@pytest.mark.parametrize("name", ["PAD-1.settings.json", COMMIT])
def test_a_file_of_ours_that_was_changed_is_not_overwritten(tmp_path, name):
    folder = tmp_path / "out"
    start(folder, OLD)
    (folder / name).write_bytes((folder / name).read_bytes() + b" ")
    before = snapshot(folder)
    with pytest.raises(ExportError, match=name):
        write_bundle(folder, NEW, commit_name=COMMIT)
    assert_whole(folder, before, before)


def test_a_changed_file_that_the_new_run_lacks_is_kept_with_a_note(tmp_path):
    folder = tmp_path / "out"
    start(folder, OLD)
    (folder / "PAD-1.arch.stl").write_bytes(b"edited by hand")
    result = write_bundle(folder, NEW, commit_name=COMMIT)
    assert result.notes == ("PAD-1.arch.stl was changed since it was written and is kept.",)
    assert snapshot(folder) == {**FOREIGN, **NEW, "PAD-1.arch.stl": b"edited by hand"}


@pytest.mark.skipif(os.name == "nt", reason="symbolic links need rights on Windows")
def test_a_link_under_our_name_is_foreign(tmp_path):
    folder = tmp_path / "out"
    start(folder, OLD)
    (tmp_path / "elsewhere").write_bytes(OLD["PAD-1.settings.json"])
    (folder / "PAD-1.settings.json").unlink()
    (folder / "PAD-1.settings.json").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ExportError, match=r"PAD-1\.settings\.json"):
        write_bundle(folder, NEW, commit_name=COMMIT)
    assert (tmp_path / "elsewhere").read_bytes() == OLD["PAD-1.settings.json"]


def test_a_file_put_in_the_way_of_mending_is_kept_and_named(tmp_path):
    folder = tmp_path / "out"
    start(folder, OLD)
    with pytest.raises(Killed), told_of_changes(killer_at("rename new/PAD-1.settings.json")):
        write_bundle(folder, NEW, commit_name=COMMIT)
    (folder / "PAD-1.settings.json").write_bytes(b"mine")
    with pytest.raises(ExportError, match=r"PAD-1\.settings\.json there is not its file"):
        mend_folder(folder)
    assert (folder / "PAD-1.settings.json").read_bytes() == b"mine"
    (folder / "PAD-1.settings.json").unlink()
    mend_folder(folder)
    assert snapshot(folder) == {**FOREIGN, **OLD}


def test_two_folders_with_like_names_are_told_apart(tmp_path):
    for name in ("a", "a.b"):
        start(tmp_path / name, OLD)
    with pytest.raises(Killed):
        with told_of_changes(killer_at("rename new/PAD-1.toe.stl")):
            write_bundle(tmp_path / "a.b", NEW, commit_name=COMMIT)
    mend_folder(tmp_path / "a")
    assert snapshot(tmp_path / "a") == {**FOREIGN, **OLD}
    mend_folder(tmp_path / "a.b")
    assert snapshot(tmp_path / "a.b") == {**FOREIGN, **OLD}


def test_parts_with_other_numbers_share_a_folder(tmp_path):
    other = {"PAD-2.settings.json": b"2"}
    other["PAD-2.run.json"] = run_document({}, other)
    write_bundle(tmp_path / "out", OLD, commit_name=COMMIT)
    write_bundle(tmp_path / "out", other, commit_name="PAD-2.run.json")
    write_bundle(tmp_path / "out", NEW, commit_name=COMMIT)
    assert snapshot(tmp_path / "out") == {**NEW, **other}


@pytest.mark.parametrize("name", ["../x", "a/b", "a\\b", "", "..", "a:b", "a\0b"])
def test_names_that_leave_the_folder_are_refused(tmp_path, name):
    with pytest.raises(ExportError, match="plain file name"):
        write_bundle(tmp_path, {**NEW, name: b""}, commit_name=COMMIT)


def test_a_run_document_must_list_its_files(tmp_path):
    with pytest.raises(ExportError, match="does not list"):
        write_bundle(tmp_path, {**NEW, "PAD-1.more.stl": b""}, commit_name=COMMIT)
    with pytest.raises(ExportError, match="not among"):
        write_bundle(tmp_path, {"PAD-1.more.stl": b""}, commit_name=COMMIT)


def test_the_seal_sees_one_changed_byte():
    data = OLD[COMMIT]
    assert listed_files(data) is not None
    for place in range(0, len(data), 7):
        changed = data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]
        assert listed_files(changed) is None


def test_a_folder_that_cannot_be_is_told_before_the_run(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    check_folder(tmp_path / "new" / "and deeper")
    check_folder(tmp_path)
    assert os.listdir(tmp_path) == ["notes.txt"]
    for name, text in (("notes.txt", "is a file"), ("notes.txt/out", "is a file"), ("x" * 5000, "too long")):
        with pytest.raises(InputError, match=text) as caught:
            check_folder(tmp_path / name)
        assert len(caught.value.message) < 400
    with pytest.raises(InputError, match="too long"):
        check_folder(tmp_path / "new" / ("y" * 300))


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs rights that can be taken away")
def test_a_folder_without_the_right_to_write_is_told_before_the_run(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(ExportError, match="Nothing may be written"):
        check_folder(tmp_path / "out")
