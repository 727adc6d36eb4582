"""Folders of small jobs for batches, and what a batch left."""

from __future__ import annotations

import hashlib
from pathlib import Path

from padwright.core.job.read import job_from_tables
from padwright.core.job.write import write_job

from .flat_pads import flat_tables
from .run_folders import files_without_times

TINY = (40.0, 30.0, 9.0)
"""Pad of a job that takes about a second, mm."""


def tiny_jobs(root: Path, count: int, *, pictures: int = 4) -> list[str]:
    """Write so many jobs, each in a folder of its own with its scans and a number of its own; returns their names.

    Of so many a picture is drawn, which takes a third of the time of so small a part.
    """
    names = []
    for each in range(1, count + 1):
        folder = root / f"wearer-{each}"
        folder.mkdir(parents=True)
        tables = flat_tables(
            folder,
            (TINY[0] + each % 3, *TINY[1:]),
            (0.0, 0.0, 0.0),
            part={"name": f"Pad of wearer {each}", "number": f"W-{each}", "family": "seat_pad"},
            output={"report": False, "sheet": False, "thumbnail": each <= pictures},
        )
        (folder / "job.toml").write_text(write_job(job_from_tables(tables)), "utf-8")
        names.append(f"wearer-{each}/job.toml")
    return names


def digests(root: Path) -> dict[str, str]:
    """Return the SHA-256 of what a batch put into `out` folders, without times."""
    return {
        f"{folder.relative_to(root)}/{name}": hashlib.sha256(data).hexdigest()
        for folder in sorted(root.rglob("out"))
        for name, data in files_without_times(folder).items()
    }
