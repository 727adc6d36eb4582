"""The benchmark's job: two scans of a seat and five zones on it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from padwright.core.base.mesh import Float
from scan_making import ply_bytes

GAP_MM = 0.4


def write_job(folder: Path, case: Any, more: str = "") -> None:
    """Write a seat's two scans, in meters, and a job of five zones, with more lines of TOML in it."""
    for name, mesh in (("base", case.base), ("impression", case.impression)):
        (folder / f"{name}.ply").write_bytes(ply_bytes(mesh.vertices, mesh.faces))
    lengths = "".join(
        f'[[base.check_lengths]]\nname = "{length.name}"\nmeasured_mm = {length.measured_mm:.3f}\n'
        f"from = {length.base_from.tolist()}\nto = {length.base_to.tolist()}\n"
        for length in case.lengths
    )
    to_file = np.linalg.inv(case.impression_to_true)
    outlines = "".join(
        f'[[zones]]\nname = "{name}"\nlevel = {level}\nsource = "outline"\n'
        f"points = {(outline @ to_file[:3, :3].T + to_file[:3, 3]).tolist()}\n"
        for name, level, outline in (("front", 3, STRIPS[0]), ("rear", 1, STRIPS[1]))
    )
    (folder / "job.toml").write_text(
        'schema = 1\n[part]\nname = "Benchmark seat pad"\nnumber = "BENCH"\nfamily = "seat_pad"\n'
        f'[base]\nscan = "base.ply"\nunit = "m"\n{lengths}'
        '[impression]\nscan = "impression.ply"\nunit = "m"\nscale = "as base"\n'
        f'[body]\npress_direction = "auto"\n[pad]\nfit_gap_mm = {GAP_MM}\nleast_thickness_mm = 5.0\n'
        '[[zones]]\nname = "bones"\nlevel = 4\nsource = "load_centers"\nradius_mm = 28.0\n'
        f'{outlines}[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"\n{more}',
        "utf-8",
    )


def _strip(low: float, high: float) -> Float:
    """Return a drawn outline across the seat between two places along y, (4, 3), true frame, mm."""
    return np.array([[-200.0, low, 20.0], [200.0, low, 20.0], [200.0, high, 20.0], [-200.0, high, 20.0]])


STRIPS = (_strip(-200.0, -55.0), _strip(55.0, 200.0))
