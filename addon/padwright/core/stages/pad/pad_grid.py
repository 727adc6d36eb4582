"""The grid a pad is made on: its frame, its extent, and how fine it is."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ...base.errors import SolveError
from ...base.mesh import Float, Int, TriMesh
from ...base.notes import to_look_at
from ...base.text import counted
from ...geometry.implicit import Grid
from ...geometry.samples import averaging_width, fineness, median_edge, smoothed_normals
from .pad_settings import ClayReading, PadSettings


def to_grid_frame(press_direction: Float | None) -> Float:
    """Return the 4x4 rotation that turns the press direction to -z."""
    turn = np.eye(4)
    if press_direction is None:
        return turn
    up = -np.asarray(press_direction, dtype=np.float64)
    # The axis least along the press direction gives a well-conditioned frame.
    side = np.cross(np.eye(3)[np.argmin(np.abs(up))], up)
    side /= np.linalg.norm(side)
    turn[:3, :3] = np.stack([side, np.cross(up, side), up])
    return turn


def choose_grid(
    impression: TriMesh | None, base: TriMesh, reading: ClayReading, settings: PadSettings, turn: Float
) -> tuple[Grid, float]:
    """Return the grid that holds the clay, or the envelope, and the width of the averaging kernel, mm."""
    if settings.envelope is not None:
        box = settings.envelope.transformed(turn).vertices
    else:
        assert impression is not None
        box = _clay_box(impression, reading)
    low, high = box.min(axis=0), box.max(axis=0)
    spacing = max(median_edge(scan) for scan in (base, impression) if scan is not None)
    width = averaging_width(spacing, float(np.linalg.norm(high - low)))
    step = 0.75 * width
    if settings.resolution_mm is not None:
        step = settings.resolution_mm
        width = max(width, step / 0.75)
    margin = 4.0 * step + settings.fit_gap_mm
    return Grid.around(low - margin, high + margin, step), width


def _clay_box(impression: TriMesh, reading: ClayReading) -> Float:
    """Return the clay's points and their feet on the base, (n, 3)."""
    clay = impression.vertices[reading.is_clay]
    if len(clay) < 10:
        raise SolveError(
            f"Only {counted(len(clay), 'scan point lies', 'scan points lie')} on clay.",
            hint="Check the alignment and the impression scan.",
        )
    return np.concatenate([clay, below_clay(impression, reading, 1.0)])


def below_clay(impression: TriMesh, reading: ClayReading, share: float) -> Float:
    """Return the points under the clay's surface by a share of its thickness, (n, 3)."""
    lift = np.array([0.0, 0.0, 1.0])
    if reading.press_direction is None:
        lift = smoothed_normals(impression)[reading.is_clay]
    return impression.vertices[reading.is_clay] - share * reading.thickness[reading.is_clay][:, None] * lift


def inner_points(impression: TriMesh | None, reading: ClayReading, grid: Grid) -> Int | None:
    """Return the grid indices half way through the clay, (k, 3): they tell the clay from anything else."""
    if impression is None:
        return None
    index = np.rint(grid.to_index(below_clay(impression, reading, 0.5)).T).astype(np.int32)
    return index[((index >= 0) & (index < np.array(grid.shape))).all(axis=1)]


def coarse_notes(grid: Grid, width: float, scans: Mapping[str, TriMesh | None]) -> list[str]:
    """Say of scans, by what they are called, that they are coarse: beyond two widths averaging closes no gaps.

    The width, mm, is that over which scan points are averaged.
    """
    notes: list[str] = []
    for name, scan in scans.items():
        if scan is None or median_edge(scan) <= 2.0 * width:
            continue
        fine = fineness(scan, *grid.bounds)
        notes.append(
            to_look_at(
                f"The {name} is coarse: its triangles are {fine.edge_mm:.1f} mm across, and the pad is made to "
                f"{width:.1f} mm. Between its points the surface was taken as flat, which may be off by "
                f"{fine.sag_mm:.2f} mm (95 % of places). Scan finer where that matters."
            )
        )
    return notes
