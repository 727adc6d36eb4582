"""`new`: a job or the demo written once, and what to type next told as the program was typed."""

from __future__ import annotations

import pytest

from padwright.cli import main as cli
from padwright.core.base.errors import ExportError
from padwright.core.base.resources import shared_path


def test_new_writes_a_job_once(tmp_path, capsys):
    path = tmp_path / "job.toml"
    assert cli.main(["new", "--family", "grip", "--out", str(path)]) == 0
    first = path.read_bytes()
    assert b'family = "grip"' in first
    assert cli.main(["new", "--family", "insole", "--out", str(path)]) == 2
    assert path.read_bytes() == first
    assert "is there already" in capsys.readouterr().err
    assert cli.main(["new", "--family", "grip", "--out", str(tmp_path / "no" / "job.toml")]) == 4


def test_new_puts_the_demo_into_a_folder_once(tmp_path, capsys):
    folder = tmp_path / "my" / "demo"
    assert cli.main(["new", "--demo", str(folder)]) == 0
    first = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert first == {path.name: path.read_bytes() for path in shared_path("demo").iterdir()}
    assert capsys.readouterr().out.endswith(f"python -m padwright run {folder / 'job.toml'}\n")
    (folder / "base.ply").unlink()
    (folder / "job.toml").write_text("mine")
    assert cli.main(["new", "--demo", str(folder)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert (folder / "job.toml").read_text() == "mine" and not (folder / "base.ply").exists()
    assert cli.main(["new", "--demo", str(folder / "job.toml")]) == 2
    assert "is a file, not a folder" in capsys.readouterr().err


def test_a_demo_that_the_disk_refuses_leaves_no_file(tmp_path, monkeypatch, capsys):
    def refuse(path, data, *, hint):
        if path.name == "job.toml":
            raise ExportError("The disk is full.", hint=hint)
        path.write_bytes(data)

    monkeypatch.setattr("padwright.cli.new.write_out", refuse)
    assert cli.main(["new", "--demo", str(tmp_path / "demo")]) == 4
    assert "The disk is full. Give another folder." in capsys.readouterr().err
    assert list((tmp_path / "demo").iterdir()) == []


@pytest.mark.parametrize("program", ["padwright", "blender -b --command padwright", "python -m padwright"])
def test_what_to_type_next_is_told_with_the_program_as_it_was_typed(program, tmp_path, capsys):
    job = tmp_path / "job.toml"
    assert cli.main(["run", str(job)], program=program) == 2
    assert f"with: {program} new --family" in capsys.readouterr().err
    assert cli.main(["new", "--family", "grip", "--out", str(job)], program=program) == 0
    assert f"then: {program} run {job}" in capsys.readouterr().out


def test_new_prints_the_same_job(tmp_path, capsys):
    path = tmp_path / "job.toml"
    cli.main(["new", "--family", "grip", "--out", str(path)])
    capsys.readouterr()
    cli.main(["new", "--family", "grip"])
    assert capsys.readouterr().out == path.read_text("utf-8")
