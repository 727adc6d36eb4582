"""The command for batches: the same codes and words as the command line, and the open scene's part."""

from __future__ import annotations

import json
import signal

import bpy
import pytest


@pytest.fixture
def command(inside):
    return inside("blender.packing.command")


def test_a_job_is_run_as_on_the_command_line(command, inside, job_file, tmp_path, capsys):
    assert command.execute(["run", str(job_file), "--out", str(tmp_path / "by-command")]) == 0
    said = capsys.readouterr().out
    assert inside("cli.main").main(["run", str(job_file), "--out", str(tmp_path / "by-cli")]) == 0
    other = capsys.readouterr().out
    assert said.splitlines()[1:6] == other.splitlines()[1:6]  # the first line has the seconds
    one, two = ({p.name: p.read_bytes() for p in (tmp_path / each).iterdir()} for each in ("by-command", "by-cli"))
    assert one.keys() == two.keys()
    assert [name for name in one if one[name] != two[name]] == ["SEAT-1.run.json"]  # the seconds


def test_the_part_of_a_saved_scene_is_exported_beside_it(command, part, tmp_path, capsys, inside):
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "seat.blend"))
    inside("blender.stage_memory")._memory = None
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "seat.blend"))
    assert command.execute(["export"]) == 0
    said = capsys.readouterr()
    assert "Small seat (SEAT-1" in said.out and "Written to" in said.out
    assert (tmp_path / "out" / "SEAT-1.run.json").is_file()
    bpy.context.scene.padwright.folder = str(tmp_path / "by-button")
    bpy.ops.padwright.build_pad()
    bpy.ops.padwright.plan_zones()
    bpy.ops.padwright.cut_regions()
    bpy.ops.padwright.export_part()
    for path in (tmp_path / "by-button").iterdir():
        if path.name != "SEAT-1.run.json":
            assert path.read_bytes() == (tmp_path / "out" / path.name).read_bytes(), path.name


def test_one_region_of_the_scene_is_exported_as_a_selection(command, part, tmp_path, capsys):
    assert command.execute(["export", "--out", str(tmp_path), "--only", "rest", "--json"]) == 0
    evidence = json.loads(capsys.readouterr().out)
    assert evidence["selection"]["regions"] == ["rest"]
    assert (tmp_path / "SEAT-1.selection.json").is_file() and not (tmp_path / "SEAT-1.run.json").exists()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ([], 2, "The command line is wrong"),
        (["export", "--oops"], 2, "blender -b --command padwright"),
        (["run", "gone.toml"], 2, "gone.toml"),
        (["export"], 2, "has no part to make yet: Start a part first"),
        (["--help"], 0, "export"),
        (["--version"], 0, "padwright"),
    ],
)
def test_whatever_is_typed_ends_with_a_code_and_not_the_session(command, scene, arguments, code, words, capsys):
    assert command.execute(arguments) == code
    assert words in "".join(capsys.readouterr())


def test_a_part_without_a_folder_says_so(command, part, capsys):
    assert command.execute(["export"]) == 2
    assert "There is no folder to write to" in capsys.readouterr().err


def test_a_pad_changed_by_hand_stops_the_batch_with_code_4(command, part, tmp_path, capsys):
    bpy.ops.padwright.build_pad()
    part.pad.data.vertices[0].co.x += 0.001
    assert command.execute(["export", "--out", str(tmp_path / "out")]) == 4
    assert "changed by hand" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.fixture
def handle_interrupt():
    """Set what an interrupt does, whatever the tests inherited (a shell has it ignored in the background)."""
    before = signal.getsignal(signal.SIGINT)
    yield lambda handler: signal.signal(signal.SIGINT, handler)
    signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)


def test_an_interrupt_ends_the_work_with_130_and_the_handler_is_as_before(
    command, monkeypatch, inside, capsys, handle_interrupt
):
    handle_interrupt(signal.SIG_DFL)

    def interrupted(*_args, **_options):
        signal.raise_signal(signal.SIGINT)
        raise AssertionError("the interrupt was lost")

    monkeypatch.setattr(inside("cli.main"), "_parser", interrupted)
    assert command.execute(["export"]) == 130
    assert "interrupted" in capsys.readouterr().err
    assert signal.getsignal(signal.SIGINT) is signal.SIG_DFL


def test_in_the_background_the_terminals_interrupt_is_not_for_us(
    command, monkeypatch, inside, handle_interrupt, scene, capsys
):
    handle_interrupt(signal.SIG_IGN)
    parser = inside("cli.main")._parser

    def interrupted(*args, **options):
        signal.raise_signal(signal.SIGINT)
        return parser(*args, **options)

    monkeypatch.setattr(inside("cli.main"), "_parser", interrupted)
    assert command.execute(["--version"]) == 0
    assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN


def test_registering_is_taken_back_and_can_be_done_again(command):
    assert command._handle is not None
    command.unregister()
    assert command._handle is None
    command.unregister()
    command.register()
    command.register()
    assert command._handle is not None
