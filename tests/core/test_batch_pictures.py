"""A job's scan brought from a storage has its material files and pictures beside it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from padwright.batch.mirror import Brought
from padwright.batch.stores import LocalStore
from support.painted import obj_files, ply_files, rings, textured
from support.scanned import grid

JOB = '[part]\nname = "P"\nnumber = "P-1"\nfamily = "seat_pad"\n[impression]\nscan = "scans/{}"\n'


class Shelf(LocalStore):
    """A folder whose paths start from itself, as those of an object storage do."""

    def join(self, *steps: str) -> str:
        return "/".join(each for each in steps if each)

    def read(self, path: str) -> bytes:
        return super().read(f"{self.root}/{path}")

    def names(self, folder: str) -> dict[str, int]:
        return super().names(f"{self.root}/{folder}")


@pytest.mark.parametrize("name", ["clay.obj", "clay.ply"])
def test_what_a_scans_colors_come_from_is_brought_with_it(tmp_path: Path, name: str) -> None:
    steps = np.arange(0.0, 61.0, 20.0)
    scan = textured(grid(steps, steps, lambda x, y: 0 * x), rings(), 4)
    files = obj_files(scan) if name == "clay.obj" else ply_files(scan)
    (tmp_path / "there" / "scans").mkdir(parents=True)
    for each, data in files.items():
        (tmp_path / "there" / "scans" / each).write_bytes(data)
    (tmp_path / "there" / "job.toml").write_text(JOB.format(name))
    brought = Brought(Shelf(str(tmp_path / "there")), tmp_path / "here")
    job = brought.bring_job("job.toml")
    assert {each.name for each in (job.parent / "scans").iterdir()} == set(files)
