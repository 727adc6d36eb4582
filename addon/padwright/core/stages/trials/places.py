"""Places on a part as a person names them: cells of a lettered grid over the part as it is seen from the body side."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from ...base.frozen import hold
from ...base.mesh import Float, Int
from ...geometry.through import BODY_SIDE, PadShape
from ..packing.long_side import long_side
from ..zones.zones import ZonePlan

_CELL = re.compile(r"([A-Z])([1-9]\d?)")
_STEPS_MM = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0, 100.0)
_MOST_CELLS = 14
"""Along the part's longer side: a fingertip on a seat, and letters still to be read on a sheet (ours)."""


def is_cell(text: str) -> bool:
    """Say if a text can be a cell of the grid, as "C4"."""
    return _CELL.fullmatch(text) is not None


@dataclass(frozen=True, eq=False)
class PlaceGrid:
    """A grid over the part as it lies before its wearer, body side up: letters to the right, numbers down."""

    axes: Float  # (2, 3); to the right and down, in the part frame
    up: Float  # (3,); from the part to the eye
    low: Float  # (2,), mm; the grid's upper left corner along these
    step_mm: float
    columns: int
    rows: int
    at: Float  # (b, 2), mm from that corner; the pad's vertices on its body side
    zone: Int  # (b,); the zone of each
    names: tuple[str, ...]  # of the zones

    def __post_init__(self) -> None:
        hold(self, axes=self.axes, up=self.up, low=self.low, at=self.at, zone=self.zone)

    @property
    def last_cell(self) -> str:
        """The cell at the lower right."""
        return f"{chr(ord('A') + self.columns - 1)}{self.rows}"

    def flat(self, places: Float) -> Float:
        """Return places of the part frame, (n, 3) mm, from the grid's corner, (n, 2) mm."""
        return np.asarray(places @ self.axes.T - self.low)

    def cell_of(self, place: Float) -> str:
        """Return the cell of a place, (3,) mm in the part frame; "" where it lies beside the grid."""
        column, row = np.floor(self.flat(place[None, :])[0] / self.step_mm).astype(int)
        is_in = 0 <= column < self.columns and 0 <= row < self.rows
        return f"{chr(ord('A') + column)}{row + 1}" if is_in else ""

    def middle(self, cell: str) -> Float | None:
        """Return the middle of a cell, (2,) mm from the grid's corner; None where the grid has none of that name."""
        found = _CELL.fullmatch(cell)
        if found is None:
            return None
        column, row = ord(found.group(1)) - ord("A"), int(found.group(2)) - 1
        is_in = column < self.columns and row < self.rows
        return (np.array([column, row]) + 0.5) * self.step_mm if is_in else None

    def zone_of_cell(self, cell: str) -> str | None:
        """Return the zone that has most of a cell; None where no part lies there."""
        middle = self.middle(cell)
        if middle is None:
            return None
        inside = (np.abs(self.at - middle) <= 0.5 * self.step_mm).all(axis=1)
        return self.names[int(np.bincount(self.zone[inside]).argmax())] if inside.any() else None

    def zone_at(self, place: Float) -> str | None:
        """Return the zone at a place, (3,) mm in the part frame; None more than a cell beside the part."""
        away = np.linalg.norm(self.at - self.flat(place[None, :]), axis=1)
        near = int(away.argmin())
        return self.names[int(self.zone[near])] if away[near] <= self.step_mm else None


def place_grid(
    pad: PadShape, plan: ZonePlan, press_direction: Float | None, *, is_mirrored: bool = False
) -> PlaceGrid | None:
    """Return the grid over a pad; None for a part that is pressed from all around, which no plan shows.

    A mirrored part is seen as it is printed: right and left change places.
    """
    if press_direction is None:
        return None
    up = -np.asarray(press_direction, dtype=np.float64)
    right, _ = long_side(pad.mesh, up)
    axes = np.stack([-right if is_mirrored else right, np.cross(right, up)])
    body = np.flatnonzero(np.asarray(pad.side) == BODY_SIDE)
    flat = pad.mesh.vertices @ axes.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    span = high - low
    step = next((step for step in _STEPS_MM if span.max() / step <= _MOST_CELLS), _STEPS_MM[-1])
    count = np.ceil(span / step).astype(int)
    corner = 0.5 * (low + high) - 0.5 * count * step
    return PlaceGrid(
        axes, up, corner, step, min(int(count[0]), 26), int(count[1]), flat[body] - corner, plan.label[body],
        zone_names(plan),
    )  # fmt: skip


def zone_names(plan: ZonePlan) -> tuple[str, ...]:
    """Return for every zone of a plan the one a wearer is asked about: a blend step counts to the first of its two."""
    return tuple(zone.name if zone.between is None else zone.between[0] for zone in plan.zones)
