"""The zip for this machine, built once, and environments without the libraries that it brings itself."""

from __future__ import annotations

import os
import platform
import site
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import build_extension

SITE = Path(next(path for path in site.getsitepackages() if (Path(path) / "bpy").is_dir()))


def here() -> str:
    """Return this machine's platform in the modeller's words."""
    system = {"Linux": "linux", "Windows": "windows", "Darwin": "macos"}[platform.system()]
    return f"{system}-{'arm64' if platform.machine() in ('arm64', 'aarch64') else 'x64'}"


@pytest.fixture(scope="session")
def zip_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_extension.build(here(), tmp_path_factory.mktemp("zip"))


@pytest.fixture(scope="session")
def bare(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with all installed packages but those the zip brings: a copy of them would hide the zip's."""
    folder = tmp_path_factory.mktemp("bare")
    for item in SITE.iterdir():
        if not item.name.lower().startswith(("scipy", "manifold3d", "igl", "libigl", "pil", "padwright", "__")):
            os.symlink(item, folder / item.name)
    return folder


@pytest.fixture(scope="session")
def resources(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("resources")


@pytest.fixture(scope="session")
def in_a_new_process(bare: Path, resources: Path) -> Callable[..., str]:
    """Run a script in the modeller, in a process of its own, and return what it printed."""

    def run(script: str, *arguments: str) -> str:
        start = f"import sys; sys.path.append({str(bare)!r}); import bpy, addon_utils\n"
        answer = subprocess.run(
            [sys.executable, "-S", "-c", start + script, *arguments],
            env={**os.environ, "BLENDER_USER_RESOURCES": str(resources), "PYTHONPATH": ""},
            capture_output=True,
            text=True,
            check=False,
        )
        assert answer.returncode == 0, answer.stdout + answer.stderr
        return answer.stdout

    return run
