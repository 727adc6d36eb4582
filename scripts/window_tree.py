"""A file tree that holds the modeller with its real window, made of Debian packages once and kept."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import time
from pathlib import Path

SUITES = ("trixie", "sid")  # on 2026-11-25: 4.3.2 with Python 3.13, and 5.2.2 with Python 3.14
_READY = ".gui-ready"  # stands in a tree that was made to the end
_PACKAGES = ["blender", "xvfb", "x11-utils", "imagemagick", "libgl1-mesa-dri", "python3-numpy"]
_MISSED = [
    "python3-cattr",
    "python3-requests",
]  # sid's own extension code imports them, its package does not ask for them
_LEFT_OUT = ("/usr/share/doc/*", "/usr/share/man/*", "/usr/share/locale/*")
_APT = Path("/etc/apt")


class WindowError(Exception):
    """No window can be had here; the text says why and what to do."""


def tree_folder(suite: str) -> Path:
    """Return where the tree of a suite is kept."""
    return Path.home() / ".cache" / "padwright" / f"window-{suite}"


def mirror_in(text: str) -> str | None:
    """Return the first Debian mirror in the text of apt's source files."""
    found = re.search(r"https?://\S+/debian/?(?=\s|$)", text)
    return found[0] if found else None


def _mirror() -> str:
    files = [_APT / "sources.list", *sorted((_APT / "sources.list.d").glob("*"))]
    found = mirror_in("\n".join(path.read_text("utf-8") for path in files if path.is_file()))
    if found is None:
        raise WindowError("apt has no Debian mirror here. Give a finished tree with --tree.")
    return found


def make_command(suite: str, tree: Path, mirror: str) -> list[str]:
    """Return the command that makes a tree."""
    packages = _PACKAGES + ([] if suite == "trixie" else _MISSED)
    command = ["mmdebstrap", "--mode=root", "--variant=apt", "--dpkgopt=force-unsafe-io"]
    options = ['APT::Install-Recommends "false"', 'Acquire::Languages "none"']
    if suite != "trixie":  # a mirror's copy may be older than sid's short validity; its signature still counts
        options.append('Acquire::Check-Valid-Until "false"')
    command += [f"--aptopt={option}" for option in options]
    command += [f"--dpkgopt=path-exclude={path}" for path in _LEFT_OUT]
    return [*command, f"--include={','.join(packages)}", suite, str(tree), mirror]


def is_ready(tree: Path) -> bool:
    """Say if a tree is there and finished."""
    return (tree / _READY).exists() and (tree / "usr/bin/blender").exists()


def have_tree(suite: str, tree: Path) -> float:
    """Make the tree of a suite where it is not there yet, and return the seconds that took.

    Raises
    ------
    WindowError
        When it cannot be made here.
    """
    if is_ready(tree):
        return 0.0
    if tree.exists():
        raise WindowError(f"{tree} is there and unfinished. Remove it with: rm -rf --one-file-system {tree}")
    if os.geteuid() != 0:
        raise WindowError("Only root can make the tree with the window.")
    if shutil.which("mmdebstrap") is None:
        raise WindowError("mmdebstrap is missing: apt-get install --no-install-recommends mmdebstrap")
    started = time.monotonic()
    tree.parent.mkdir(parents=True, exist_ok=True)
    done = subprocess.run(
        make_command(suite, tree, _mirror()), stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise WindowError(f"mmdebstrap ended with {done.returncode}:\n" + "\n".join(done.stderr.splitlines()[-15:]))
    mounts = tree / "etc/mtab"  # the modeller looks for it
    mounts.unlink(missing_ok=True)
    mounts.symlink_to("/proc/self/mounts")
    (tree / _READY).touch()
    return time.monotonic() - started
