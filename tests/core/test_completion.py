"""Completion by Tab: bash is asked itself; for zsh and fish what is written has every command, option and choice."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from padwright.cli import main as cli
from padwright.cli.command_words import Taken, commands_of
from padwright.cli.options import add_command, add_run_options
from padwright.core.job.schema import FAMILIES

ASK = """
source "$1"; shift
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1))
_padwright
printf '%s\\n' "${COMPREPLY[@]}"
"""
NEEDS_BASH = pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash")


def script(shell: str, capsys) -> str:
    assert cli.main(["completion", shell]) == 0
    return capsys.readouterr().out


@pytest.fixture
def offered(tmp_path: Path, capsys):
    """Ask bash what it offers for the last of some words, in a folder with files."""
    (tmp_path / "padwright.bash").write_text(script("bash", capsys))
    (tmp_path / "here" / "scans").mkdir(parents=True)
    for name in ("job.toml", "my job.toml", "readings.csv", "base.ply"):
        (tmp_path / "here" / name).touch()

    def ask(*words: str) -> set[str]:
        asked = ["bash", "--norc", "-c", ASK, "ask", str(tmp_path / "padwright.bash"), "padwright", *words]
        done = subprocess.run(asked, cwd=tmp_path / "here", capture_output=True, text=True, timeout=30, check=True)
        assert done.stderr == ""
        return set(done.stdout.splitlines()) - {""}

    return ask


@NEEDS_BASH
@pytest.mark.parametrize(
    ("words", "offers"),
    [
        (("ru",), {"run"}),
        (("c",), {"check", "coupons", "calibrate", "compare", "completion"}),
        (("--v",), {"--version"}),
        (("run", "--pro"), {"--progress"}),
        (("run", "job.toml", "--no"), {"--no-progress"}),
        (("run", ""), {"job.toml", "my job.toml", "scans"}),
        (("check", "my"), {"my job.toml"}),
        (("run", "--out", ""), {"scans"}),
        (("look", "b"), {"base.ply"}),
        (("look", "base.ply", ""), {"base.ply", "job.toml", "my job.toml", "readings.csv", "scans"}),
        (("calibrate", "r"), {"readings.csv"}),
        (("new", "--family", ""), set(FAMILIES)),
        (("new", ""), set()),
        (("run", "--set", ""), set()),
        (("completion", ""), {"bash", "zsh", "fish"}),
        (("coupons", "--den"), set()),  # an old name, read but not offered
    ],
)
def test_bash_offers_what_the_command_line_takes(words, offers, offered):
    assert offered(*words) == offers


@NEEDS_BASH
def test_the_script_makes_a_command_that_starts_from_anywhere(tmp_path, capsys):
    path = tmp_path / "padwright.bash"
    path.write_text(script("bash", capsys))
    asked = ["bash", "--norc", "-c", f'source "{path}"; padwright --version']
    done = subprocess.run(asked, capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.startswith("padwright ")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_every_command_option_and_choice_is_in_it(shell, capsys):
    said = script(shell, capsys)
    commands = commands_of(cli._parser("padwright", None))
    assert {command.name for command in commands} >= {"run", "check", "look", "new", "coupons", "calibrate", "schema"}
    for command in commands:
        assert command.about and command.name in said
        for option in command.options:
            # fish names an option without its dashes, behind -l or -s
            assert all((f" {name.lstrip('-')}" if shell == "fish" else name) in said for name in option.names)
            assert all(choice in said for choice in option.taken.choices)
    if shutil.which(shell):
        done = subprocess.run([shell, "-n"], input=said, capture_output=True, text=True, timeout=30, check=False)
        assert (done.returncode, done.stderr) == (0, "")


def test_commands_added_from_outside_are_known(capsys):
    def add_export(commands):
        export = add_command(commands, "export", "make the part of the scene")
        add_run_options(export, default="out")
        export.set_defaults(body=lambda _: [])

    assert cli.main(["completion", "bash"], program="blender -b --command padwright", add_commands=add_export) == 0
    said = capsys.readouterr().out
    assert "export) if" in said and 'padwright() { blender -b --command padwright "$@"; }' in said


def test_the_installed_command_does_not_call_itself_where_it_is_not_found(capsys):
    assert cli.main(["completion", "bash"], program="padwright") == 0
    assert f'padwright() {{ {shlex.quote(sys.executable)} -m padwright "$@"; }}' in capsys.readouterr().out


def test_what_each_option_takes_is_told_by_its_parser():
    commands = {command.name: command for command in commands_of(cli._parser("padwright", None))}
    run = {name: option.taken for option in commands["run"].options for name in option.names}
    assert (run["--json"], run["--no-progress"], run["--out"].kind, run["--set"].kind) == (
        Taken(""),
        Taken(""),
        "folder",
        "text",
    )
    assert commands["run"].places == (Taken("file", ends=".toml", name="JOB"),)
    assert commands["new"].places == () and "--densities" not in str(commands["coupons"])


def test_another_shell_is_refused(capsys):
    assert cli.main(["completion", "csh"]) == 2
    assert "invalid choice: 'csh'" in capsys.readouterr().err
