"""What pip installs: the package and its data, whole, the same from the source archive; a command that works."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest

from support.run_folders import files_without_times

from .conftest import CLOCK, ROOT, build, clean_environment

DATA = ("demo", "families", "materials", "schemas")


def tracked(folder: str) -> dict[str, bytes]:
    """Return the files under version control below a folder of the checkout, by path."""
    command = ["git", "ls-files", "-z", folder]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return {name: (ROOT / name).read_bytes() for name in listed.split("\0") if name}


def members(wheel: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_the_wheel_holds_the_package_and_its_data_and_nothing_else(built):
    inside = members(next(built.glob("*.whl")))
    wanted = {name.removeprefix("addon/"): data for name, data in tracked("addon/padwright").items()}
    for folder in DATA:
        wanted |= {f"padwright/{name}": data for name, data in tracked(f"shared/{folder}").items()}
    assert len(wanted) > 300
    assert {name: data for name, data in inside.items() if ".dist-info/" not in name} == wanted


def test_the_wheel_says_what_it_is(built):
    inside = members(next(built.glob("*.whl")))
    manifest = tomllib.loads((ROOT / "addon/padwright/blender_manifest.toml").read_text("utf-8"))
    about = Parser().parsestr(next(data for name, data in inside.items() if name.endswith("/METADATA")).decode())
    assert about["Version"] == manifest["version"]
    assert [f"SPDX:{about['License-Expression']}"] == manifest["license"]
    assert (ROOT / "LICENSE").read_bytes() in inside.values()
    assert about["Requires-Python"] == ">=3.11"


def test_the_source_archive_makes_the_same_wheel(built, tmp_path):
    with tarfile.open(next(built.glob("*.tar.gz"))) as archive:
        archive.extractall(tmp_path / "source", filter="data")
    build(next((tmp_path / "source").iterdir()), tmp_path, "wheel")
    again, first = next(tmp_path.glob("*.whl")), next(built.glob("*.whl"))
    assert again.name == first.name
    assert again.read_bytes() == first.read_bytes()


def test_the_locked_libraries_are_all_that_it_asks_for(installed):
    assert "No broken requirements" in installed.pip("check")


def test_the_command_makes_the_demo_from_another_folder(installed, demo, tmp_path):
    inside = {path.name: path.read_bytes() for path in demo.iterdir() if path.is_file()}
    assert inside == {Path(name).name: data for name, data in tracked("shared/demo").items()}
    document = json.loads((demo / "out" / "DEMO-1.run.json").read_text("utf-8"))
    assert document["tool"]["version"] == installed.run("--version", cwd=tmp_path).stdout.split()[-1]
    assert {path.name for path in (demo / "out").iterdir()} == {*document["files"], "DEMO-1.run.json"}
    assert "DEMO-1.report.html" in document["files"]  # its scripts and styles are files of the package


WRITE_FLAT_JOB = """
import sys
from pathlib import Path
from tests.support.flat_pads import flat_tables
from padwright.core.job.read import job_from_tables
from padwright.core.job.write import write_job
tables = flat_tables(Path(sys.argv[1]), (90.0, 70.0, 12.0), (3.0, -7.0, 1.0), load={"force_n": 90.0})
Path(sys.argv[1], "job.toml").write_text(write_job(job_from_tables(tables)), "utf-8")
"""


@pytest.mark.skipif(sys.version_info[:2] == (3, 11), reason="this is the Python of the environment to compare with")
def test_the_checkout_with_another_python_and_numpy_makes_the_same_bytes(installed, tmp_path):
    """.venv has Python 3.11 and numpy 1.24; the installed libraries are those locked for this Python.

    Of a part without scans to lay on each other: docs/same-files.md says what another numpy changes there.
    """
    python = ROOT / ".venv" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not python.exists():
        pytest.skip("no .venv here: python3.11 scripts/test.py makes it")
    environment = {**clean_environment(), **CLOCK}
    write = [str(python), "-c", WRITE_FLAT_JOB, str(tmp_path)]
    subprocess.run(write, cwd=ROOT, env={**environment, "PYTHONPATH": str(ROOT)}, check=True)
    make = [str(python), "-m", "padwright", "run", "job.toml", "--out", "checkout"]
    subprocess.run(make, cwd=tmp_path, env=environment, check=True, capture_output=True)
    done = installed.run("run", "job.toml", "--out", "wheel", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    one, other = (files_without_times(tmp_path / name) for name in ("checkout", "wheel"))
    assert one.keys() == other.keys()
    assert [name for name in one if one[name] != other[name]] == []


def test_what_goes_wrong_is_told_with_the_command_as_typed(installed, tmp_path):
    done = installed.run("run", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.endswith("Try: padwright run --help\n")
    done = installed.run("run", "job.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert "with: padwright new --family" in done.stderr and "python" not in done.stderr


def test_workers_of_a_batch_start_from_the_command(installed, tmp_path):
    """They load the program anew; that the scan is no scan is found by one of them."""
    assert installed.run("new", "--demo", "one", cwd=tmp_path).returncode == 0
    for name in ("job-2.toml", "folds.toml", "DEMO-1.trials.toml"):
        (tmp_path / "one" / name).unlink()
    (tmp_path / "one" / "base.ply").write_bytes(b"ply\n")
    done = installed.run("batch", ".", cwd=tmp_path)
    assert done.returncode == 4, done.stderr
    (row,) = csv.DictReader((tmp_path / "batch.csv").read_text("utf-8-sig").splitlines())
    assert row["exit_code"] == "3", row
