"""How much memory a job is likely to take, and how much this machine has free."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from .stores import Store

BASE_BYTES = 515_000_000
"""What a job takes besides its scans: the libraries and a pad of the demo's size."""
TRIANGLE_BYTES = 820
"""What it takes for each triangle of its scans at its peak; both measured: no row in docs/batches.md is above."""

# Least bytes a triangle takes in a file of each kind: binary PLY with floats, binary STL, text. What is not listed is
# taken as the densest.
_FILE_BYTES = {".ply": 19.0, ".stl": 50.0, ".obj": 45.0, ".off": 45.0, ".glb": 18.0}
_USABLE = 0.8
"""Share of the free memory that jobs may take together; the rest is for the system and for guesses that fall short."""


def need_bytes(files: Iterable[str], jobs: Store) -> int:
    """Return the memory a job with these files is likely to take, from the sizes and kinds of those that are there."""
    triangles = 0.0
    for path in files:
        stamp, ending = jobs.stamp(path), PurePosixPath(path.replace("\\", "/")).suffix.lower()
        if stamp is not None and ending not in (".toml", ".csv", ".json", ".txt"):
            triangles += stamp.size / _FILE_BYTES.get(ending, min(_FILE_BYTES.values()))
    return int(BASE_BYTES + TRIANGLE_BYTES * triangles)


def usable_bytes() -> int | None:
    """Return the memory that jobs may take together on this machine now, None where the system does not tell."""
    free = [each for each in (_system_free(), _group_free()) if each is not None]
    return int(_USABLE * min(free)) if free else None


def usable_cores() -> int:
    """Return the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):  # where the system can keep a process to some of its cores
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _system_free() -> int | None:
    """Return what the kernel says is available without swapping (proc(5), MemAvailable), or what is there at all."""
    try:
        for line in Path("/proc/meminfo").read_text("ascii").splitlines():
            if line.startswith("MemAvailable:"):
                return int(line.split()[1]) * 1024
    except (OSError, ValueError, IndexError):
        pass
    if os.name == "nt":
        return None
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2  # macOS tells the whole alone
    except (ValueError, OSError):
        return None


def _group_free() -> int | None:
    """Return what a container or a queue leaves to this process (control groups, version 2), None without a limit."""
    try:
        own = Path("/proc/self/cgroup").read_text("ascii").strip().rpartition("::")[2]
        folder = Path("/sys/fs/cgroup") / own.lstrip("/")
        most = (folder / "memory.max").read_text("ascii").strip()
        return None if most == "max" else int(most) - int((folder / "memory.current").read_text("ascii"))
    except (OSError, ValueError):
        return None
