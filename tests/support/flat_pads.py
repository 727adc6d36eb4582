"""Jobs of a flat pad: a plate as the base, a block as the artist's own envelope, zones drawn on the plate."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from padwright.core.base.mesh import TriMesh
from padwright.core.job.read import job_from_tables
from padwright.core.job.schema import Job

from .packing import block
from .scanned import grid
from .writers import write_stl_binary


def flat_tables(
    folder: Path, size_mm: tuple[float, float, float], at_mm: tuple[float, float, float], **tables: Any
) -> dict[str, Any]:
    """Write plate and envelope and return the job's tables: a rectangle in the middle of level 4, the rest of level 2.

    Parameters
    ----------
    folder : Path
    size_mm : (3,) float
        Of the pad.
    at_mm : (3,) float
        The middle of its underside.
    tables
        Take the place of the job's tables of these names; without `output` report and print sheet are left out, which
        take as long as all else of a small part.
    """
    width, depth, height = size_mm
    x, y, z = at_mm
    plate = grid(np.arange(-100, 100.1, 2.5), np.arange(-80, 80.1, 2.5), lambda across, along: 0 * across * along)
    write_stl_binary(TriMesh(plate.vertices + np.array(at_mm), plate.faces), folder / "base.stl")
    low, high = (x - width / 2, y - depth / 2, z - 3.0), (x + width / 2, y + depth / 2, z + height)
    write_stl_binary(block(low, high), folder / "envelope.stl")
    found: dict[str, Any] = {
        "schema": 1,
        "part": {"name": "Flat pad", "number": "FLAT-1", "family": "seat_pad"},
        "base": {"scan": "base.stl", "unit": "mm"},
        "pad": {"envelope": "envelope.stl"},
        "body": {"press_direction": [0.0, 0.0, -1.0]},
        "zones": [
            {"name": "middle", "level": 4, **rectangle(at_mm, 0.4 * width, 0.6 * depth)},
            {"name": "rest", "level": 2, "source": "rest"},
        ],
        "output": {"report": False, "sheet": False},
    }
    return found | tables


def rectangle(at_mm: tuple[float, float, float], width: float, depth: float) -> dict[str, Any]:
    """Return the keys of a zone in a rectangle drawn on the plate."""
    x, y, z = at_mm
    corners = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]
    points = [[x + across * width, y + along * depth, z] for across, along in corners]
    return {"source": "outline", "points_on": "base", "points": points}


def flat_job(folder: Path, size_mm: tuple[float, float, float], at_mm: tuple[float, float, float], **more: Any) -> Job:
    """Return the job of `flat_tables`."""
    return job_from_tables(flat_tables(folder, size_mm, at_mm, **more))
