"""The set-up of the scripts: which Pythons it takes, and what it says to others."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

import pytest

import setup_env

ROOT = Path(__file__).resolve().parents[1]
PINNED = re.compile(r"^([\w-]+)==([\w.]+)", re.MULTILINE)


def pins(path: Path) -> dict[str, str]:
    return dict(PINNED.findall(path.read_text("utf-8")))


def test_each_python_has_a_lock_of_all_that_is_shipped_and_a_folder_of_its_own() -> None:
    shipped = {"numpy", "scipy", "manifold3d", "libigl", "pillow"}
    for major, minor in setup_env.FOLDERS:
        wanted = ROOT / "requirements" / f"run-{major}.{minor}.in"
        locked = wanted.with_suffix(".txt")
        assert pins(wanted) == pins(locked) and pins(locked).keys() == shipped
        assert locked.read_text("utf-8").count("--hash=sha256:") >= 4 * len(shipped)  # Linux, Windows, two macOS
    assert len(set(setup_env.FOLDERS.values())) == len(setup_env.FOLDERS)


def bounds(wanted: list[str]) -> dict[str, str]:
    return dict(re.fullmatch(r"([\w-]+)>=([\w.]+)", each).groups() for each in wanted)  # type: ignore[union-attr]


def numbers(version: str) -> tuple[int, ...]:
    return tuple(int(each) for each in version.split("."))


def test_pip_is_asked_for_what_is_shipped_from_the_oldest_that_is_tested_on() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    locked = [pins(ROOT / "requirements" / f"run-{major}.{minor}.txt") for major, minor in setup_env.FOLDERS]
    wanted = bounds(project["dependencies"])
    assert wanted.keys() == locked[0].keys()
    for name, oldest in wanted.items():
        tested = [numbers(each[name]) for each in locked]
        assert min(tested)[: len(numbers(oldest))] == numbers(oldest)
    extra = bounds(project["optional-dependencies"]["cluster"])
    assert extra == pins(ROOT / "requirements" / "cluster.in")
    assert project["requires-python"] == ">={}.{}".format(*min(setup_env.FOLDERS))
    named = [each.rpartition(" ")[2] for each in project["classifiers"] if "Python :: 3." in each]
    assert named == ["{}.{}".format(*version) for version in sorted(setup_env.FOLDERS)]


@pytest.mark.parametrize("version", [(3, 10), (3, 15)])
def test_another_python_is_told_in_one_line_which_will_do(
    version: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "version_info", version)
    with pytest.raises(SystemExit) as ended:
        setup_env.environment_python()
    told = str(ended.value)
    assert told.startswith("Padwright needs Python 3.11 to 3.14 and this is {}.{}.".format(*version))
    assert "\n" not in told


def test_the_readme_names_the_pythons_that_will_do() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    *first, last = ("{}.{}".format(*version) for version in sorted(setup_env.FOLDERS))
    assert f"Python {', '.join(first)} or {last}" in readme
