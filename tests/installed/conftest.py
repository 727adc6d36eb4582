"""The wheel and the source archive, built once, and an environment for the wheel that knows nothing of the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CLOCK = {"SOURCE_DATE_EPOCH": "1700000000"}


def clean_environment() -> dict[str, str]:
    """Return the environment variables without those that would lead Python to the checkout."""
    return {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}


def build(source: Path, folder: Path, *targets: str) -> None:
    wanted = [part for target in targets for part in ("-t", target)]
    command = [sys.executable, "-m", "hatchling", "build", *wanted, "-d", str(folder)]
    done = subprocess.run(command, cwd=source, env=clean_environment(), capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@dataclass(frozen=True)
class Installed:
    """An environment with the wheel in it."""

    folder: Path

    @property
    def python(self) -> Path:
        return self.folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

    def run(self, *arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
        """Run the command `padwright` of this environment in a folder, at a time that is always the same."""
        command = [str(self.python.with_name("padwright")), *arguments]
        environment = {**clean_environment(), **CLOCK}
        return subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False)

    def pip(self, *arguments: str) -> str:
        command = [str(self.python), "-m", "pip", "--disable-pip-version-check", *arguments]
        done = subprocess.run(command, env=clean_environment(), capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout


@pytest.fixture(scope="session")
def demo(installed, tmp_path_factory) -> Path:
    """Return a folder with the demo, far from the checkout, and its part in `out`, both by the installed command."""
    folder = tmp_path_factory.mktemp("else") / "my demo"
    made = installed.run("new", "--demo", folder.name, cwd=folder.parent)
    assert made.returncode == 0, made.stderr
    assert "padwright run" in made.stdout and "python" not in made.stdout
    done = installed.run("run", f"{folder.name}/job.toml", cwd=folder.parent)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="session")
def built(tmp_path_factory) -> Path:
    """Return a folder with the wheel and the source archive of this checkout."""
    folder = tmp_path_factory.mktemp("built")
    build(ROOT, folder, "sdist", "wheel")
    return folder


@pytest.fixture(scope="session")
def installed(built, tmp_path_factory) -> Installed:
    """Return a fresh environment with the locked libraries and the wheel."""
    made = Installed(tmp_path_factory.mktemp("installed") / "venv")
    subprocess.run([sys.executable, "-m", "venv", str(made.folder)], env=clean_environment(), check=True)
    lock = ROOT / "requirements" / "run-{}.{}.txt".format(*sys.version_info[:2])
    quick = ("install", "--quiet", "--no-deps", "--no-compile")
    made.pip(*quick, "--require-hashes", "--only-binary", ":all:", "-r", str(lock))
    made.pip(*quick, str(next(built.glob("*.whl"))))
    return made
