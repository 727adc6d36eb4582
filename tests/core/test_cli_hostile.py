"""The command line given what nobody should give it: numbers that are none, pipes, a stdout that is full or gone."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from padwright.cli import main as cli


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
@pytest.mark.parametrize(("argv", "full"), [((), 4), (("--json",), 4)])
def test_a_result_that_cannot_be_printed_is_told_and_nothing_is_lost(argv, full, tmp_path):
    scan = tmp_path / "a.off"
    scan.write_text("OFF\n4 4 0\n0 0 0\n1 0 0\n0 2 0\n0 0 3\n3 0 2 1\n3 0 1 3\n3 0 3 2\n3 1 2 3\n")
    command = [sys.executable, "-m", "padwright", "look", str(scan), *argv]
    with open("/dev/full", "w") as nowhere:
        done = subprocess.run(command, stdout=nowhere, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == full
    assert done.stderr.startswith("error: What was asked for is done, but it could not be printed: No space left")
    assert done.stderr.count("\n") == 1
    for nobody in (subprocess.DEVNULL, None):
        kept = {} if nobody is None else {"stdout": nobody}
        closing = ["sh", "-c", 'exec "$0" "$@" >&-', *command] if nobody is None else command
        done = subprocess.run(closing, stderr=subprocess.PIPE, text=True, check=False, **kept)
        assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(os.name == "nt", reason="pipes of Windows end otherwise")
def test_a_reader_that_went_away_makes_no_error(tmp_path):
    out = tmp_path / "job.toml"
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "padwright", "new", "--family", "grip", "--out", str(out)],
        stdout=write, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    os.close(write)
    assert (done.returncode, done.stderr) == (0, "") and out.is_file()
    for closed in (">&-", "2>&-", ">&- 2>&-"):
        done = subprocess.run(
            ["sh", "-c", f'exec "$0" "$@" {closed}', sys.executable, "-m", "padwright", "--version"], check=False
        )
        assert done.returncode == 0


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--contours", "inf"), ("--contours", "1.5"), ("--contours", "0,nan"), ("--bed", "nan,nan"), ("--bed", "220"),
        ("--bed", "220,220,220"), ("--bed", "1e9,220"), ("--layer", "0"), ("--layer", "-0.2"), ("--bead", "0"),
        ("--bead", "nan"), ("--nozzle", "0"), ("--nozzle", "1e-9"), ("--nozzle", "inf"), ("--shares", ""),
        ("--shares", "10,,15"), ("--shares", "1e400"), ("--body-mass", "0"), ("--body-mass", "1e9"),
    ],
)  # fmt: skip
def test_a_number_that_cannot_be_is_refused_before_any_work(option, value, capsys, tmp_path):
    out = tmp_path / "blocks"
    assert cli.main(["coupons", f"{option}={value}", "--out", str(out)]) == 2
    said = capsys.readouterr().err
    assert said.startswith(f"error: The command line is wrong: argument {option}: ") and said.count("\n") == 1
    assert not out.exists()


def test_layers_thicker_than_the_bead_is_wide_are_refused(capsys, tmp_path):
    assert cli.main(["coupons", "--bead=0.3", "--layer=0.6", "--out", str(tmp_path / "blocks")]) == 2
    assert "cannot be printed" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="Windows has no pipes with a file name")
@pytest.mark.parametrize(
    "argv",
    [
        ("run", "PIPE"), ("look", "PIPE"), ("calibrate", "PIPE", "--out=card.toml"),
        ("calibrate", "FILE", "--coupons=PIPE", "--out=card.toml"), ("coupons", "--material=PIPE", "--out=blocks"),
    ],
)  # fmt: skip
def test_a_pipe_or_a_device_is_told_and_never_waited_for(argv, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe")
    Path("file").write_text("block,load_kg,height_mm\n1,0,25\n")
    for what, says in (("pipe", "a pipe"), ("/dev/zero", "a device"), (".", "a folder"), ("none", "")):
        given = [word.replace("PIPE", what).replace("FILE", "file") for word in argv]
        assert cli.main(given) == 2
        said = capsys.readouterr().err
        assert says in said and said.count("\n") == 1 and "Traceback" not in said
