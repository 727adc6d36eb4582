"""Make the environment a script needs, once: pinned versions with hashes, Padwright itself on its path.

The Python that runs the script decides: 3.11 makes `.venv`, 3.12 `.venv-3.12` and so on, all beside this repository's
README. Nothing but Python and pip is needed. A second run compares a stamp and starts at once.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = {(3, 11): ".venv", (3, 12): ".venv-3.12", (3, 13): ".venv-3.13", (3, 14): ".venv-3.14"}
STAMP = "padwright-stamp.json"
OLDEST_PIP = (22, 3)  # the first that installs into another environment with --python (pip's release notes)


def environment_python(*, with_tests: bool = False) -> Path:
    """Return the Python of an environment that is ready to use, making it first where needed.

    Parameters
    ----------
    with_tests : bool
        Put the tools for tests and checks in as well.
    """
    version = sys.version_info[:2]
    if version not in FOLDERS:
        oldest, newest = ("{}.{}".format(*each) for each in (min(FOLDERS), max(FOLDERS)))
        sys.exit(
            f"Padwright needs Python {oldest} to {newest} and this is {version[0]}.{version[1]}. Start the script with "
            f"one of them, for example python{newest} (Linux, macOS) or py -{newest} (Windows)."
        )
    locks = [f"run-{version[0]}.{version[1]}.txt"]
    if with_tests:
        locks += ["test.txt", "data.txt"]
        # Batches on a cluster and in a storage are tried with one Python; the libraries are many.
        locks += ["cluster-test.txt"] if version == (3, 11) else []
    return prepared(ROOT / FOLDERS[version], locks)


def prepared(folder: Path, locks: list[str]) -> Path:
    """Return the Python of an environment in a folder that has what the locks list, making it where needed.

    Parameters
    ----------
    folder : Path
    locks : list of str
        Names of files in requirements/, whole lists with hashes.
    """
    wanted = {name: _digest(ROOT / "requirements" / name) for name in locks}
    identity = {"python": sys.version, "root": str(ROOT)}
    stamp = _read_stamp(folder / STAMP)
    python = _python_in(folder)
    is_usable = python.exists() and {key: stamp.get(key) for key in identity} == identity
    installed: dict[str, str] = stamp.get("installed", {}) if is_usable else {}
    missing = [name for name, digest in wanted.items() if installed.get(name) != digest]
    if not missing:
        return python
    print(f"Setting up {folder.name} (once, about a minute) ...", flush=True)
    if not is_usable:
        _run([sys.executable, "-m", "venv", "--clear", "--without-pip", str(folder)], "make the environment")
    arguments = [part for name in missing for part in ("-r", str(ROOT / "requirements" / name))]
    # The lists are complete, so pip need not look for more: the body model is wanted for its data alone.
    _run(
        [
            *_pip_for(python),
            "install",
            "--require-hashes",
            "--no-deps",
            "--only-binary",
            ":all:",
            "--no-compile",  # Python compiles what it imports; to compile all takes longer than to unpack it
            "--quiet",
            *arguments,
        ],
        "install the packages (the internet is needed this once)",
    )
    _link_package(python)
    record = {**identity, "installed": {**installed, **{name: wanted[name] for name in missing}}}
    (folder / STAMP).write_text(json.dumps(record, indent=1), "utf-8")
    return python


def run_in_environment(python: Path, arguments: list[str], *, cwd: Path | None = None) -> int:
    """Run the environment's Python with these arguments and return its exit code."""
    try:
        return subprocess.run([str(python), *arguments], cwd=cwd, env=_clean_environment(), check=False).returncode
    except KeyboardInterrupt:
        return 130


def _python_in(folder: Path) -> Path:
    return folder / "Scripts" / "python.exe" if os.name == "nt" else folder / "bin" / "python"


def _digest(path: Path) -> str:
    # Line ends are left out: a checkout on Windows may have changed them.
    return hashlib.sha256(path.read_text("utf-8").encode("utf-8")).hexdigest()


def _read_stamp(path: Path) -> dict[str, Any]:
    try:
        stamp = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def _clean_environment() -> dict[str, str]:
    """Return the environment variables without those that would lead Python to other packages."""
    return {key: value for key, value in os.environ.items() if key not in {"PYTHONPATH", "PYTHONHOME"}}


def _run(command: list[str], purpose: str) -> None:
    code = subprocess.run(command, env=_clean_environment(), stdin=subprocess.DEVNULL, check=False).returncode
    if code != 0:
        sys.exit(f"Could not {purpose}; the reason stands above.")


def _pip_for(python: Path) -> list[str]:
    """Return the command of a pip that installs into the environment of `python`.

    The running Python's own pip serves where it is new enough: some systems ship no ensurepip.
    """
    answer = subprocess.run(
        [sys.executable, "-m", "pip", "--version"],
        capture_output=True,
        text=True,
        env=_clean_environment(),
        check=False,
    )
    found = re.match(r"pip (\d+)\.(\d+)", answer.stdout)
    if found and (int(found[1]), int(found[2])) >= OLDEST_PIP:
        return [sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", str(python)]
    _run([str(python), "-m", "ensurepip", "--upgrade"], "find pip (install pip 22.3 or newer for this Python)")
    return [str(python), "-m", "pip", "--disable-pip-version-check"]


def _link_package(python: Path) -> None:
    """Put the add-on's folder on the environment's path, so that `python -m padwright` runs this checkout."""
    answer = subprocess.run(
        [str(python), "-c", "import json, sysconfig; print(json.dumps(sysconfig.get_path('purelib')))"],
        capture_output=True,
        text=True,
        env=_clean_environment(),
        check=True,
    )
    site_packages = Path(json.loads(answer.stdout))
    # Written as an ASCII statement: Python 3.11 reads .pth files in the system's encoding, which may lack a letter.
    line = f"import sys; sys.path.append({str(ROOT / 'addon')!a})\n"
    (site_packages / "padwright.pth").write_text(line, "ascii")
