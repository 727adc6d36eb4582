"""How a mat lies across the press direction: from places on the body side to its cells, and what it shows there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage

from ...base.errors import InputError
from ...base.mesh import Bool, Float
from ...geometry.frames import fit_similarity


def plane_of(press: Float) -> Float:
    """Return the axes right and down, (2, 3), of a plane across the press direction as seen from the body."""
    press = np.asarray(press, dtype=np.float64)
    right = np.cross(press, np.eye(3)[int(np.argmin(np.abs(press)))])
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(press, right)])


@dataclass(frozen=True, eq=False)
class CellMap:
    """From the plane across the press direction, mm right and down, to column and row of a grid."""

    plane: Float  # (2, 3)
    matrix: Float  # (2, 2)
    shift: Float  # (2,)

    def row_column(self, places: Float) -> Float:
        """Return places of the part frame, (n, 3) mm, as rows and columns, (2, n)."""
        return self.flat_row_column(np.asarray(places) @ self.plane.T)

    def flat_row_column(self, flat: Float) -> Float:
        """Return places of the plane, (n, 2) mm, as rows and columns, (2, n)."""
        column, row = self.matrix @ np.asarray(flat).T + self.shift[:, None]
        return np.stack([row, column])

    def flat_of(self, cells: Float) -> Float:
        """Return cells, (k, 2) row and column, as places of the plane, (k, 2) mm."""
        return np.asarray(np.linalg.solve(self.matrix, np.asarray(cells)[:, ::-1].T - self.shift[:, None]).T)

    @property
    def is_flipped(self) -> bool:
        """Whether the grid shows the mat from below."""
        return bool(np.linalg.det(self.matrix) < 0.0)

    @property
    def cell_mm(self) -> tuple[float, float]:
        """How far apart cells are on the part, mm: row to row, column to column."""
        back = np.linalg.inv(self.matrix)
        return float(np.linalg.norm(back[:, 1])), float(np.linalg.norm(back[:, 0]))

    @property
    def turn_deg(self) -> float:
        """By how much its rows are turned against the plane's down, 0 to 360."""
        down = np.linalg.inv(self.matrix)[:, 1]
        return float(np.degrees(np.arctan2(-down[0], down[1])) % 360.0)

    def turned(self, turns: int, *, flipped: bool, shape: tuple[int, int]) -> CellMap:
        """Return the same place with the grid turned by so many right angles, and flipped, about its own middle."""
        middle = 0.5 * (np.array([shape[1], shape[0]], dtype=np.float64) - 1.0)
        angle = 0.5 * np.pi * turns
        motion = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        if flipped:
            motion = motion @ np.diag([-1.0, 1.0])
        down, across = self.cell_mm
        ratio = np.diag([across, down])  # turned in mm, not in cells
        motion = np.linalg.inv(ratio) @ motion @ ratio
        return CellMap(self.plane, motion @ self.matrix, motion @ (self.shift - middle) + middle)


def rigid_map(
    plane: Float, pitch: tuple[float, float], turn: float, middle: Float, at: Float, *, flipped: bool
) -> CellMap:
    """Return the map of a grid of known distances that lies turned, `middle` of it (column, row) at a place, (2,) mm.

    The turn is in radians, from the plane's axes to the grid's.
    """
    cosine, sine = np.cos(turn), np.sin(turn)
    rotation = np.array([[cosine, sine], [-sine, cosine]])
    if flipped:
        rotation = np.diag([-1.0, 1.0]) @ rotation
    matrix = np.diag([1.0 / pitch[1], 1.0 / pitch[0]]) @ rotation
    return CellMap(plane, matrix, np.asarray(middle, dtype=np.float64) - matrix @ np.asarray(at, dtype=np.float64))


def map_by_places(cells: Float, points: Float, press: Float, *, flipped: bool = False) -> CellMap:
    """Return the map by two or three cells, (k, 2) row and column, and where they lie, (k, 3) mm of the part frame.

    Two places fix a turn, a shift and one scale (seen from the body, rows and columns keep their sense, or with
    `flipped` the columns turn theirs), three also how long and how square the cells are.

    Raises InputError when the places do not fix it.
    """
    plane = plane_of(press)
    flat = np.asarray(points) @ plane.T
    across = np.asarray(cells, dtype=np.float64)[:, ::-1]
    if len(across) == 2:
        if np.ptp(across, axis=0).max() < 1.0 or np.ptp(flat, axis=0).max() < 1.0:
            raise InputError("The two places of the pressure grid are the same.", hint="Take two far apart.")
        sense = np.array([-1.0, 1.0]) if flipped else np.ones(2)
        fit = fit_similarity(_lifted(flat), _lifted(across * sense))
        matrix, shift = (fit.scale * fit.rotation)[:2, :2], fit.translation[:2]
        return CellMap(plane, sense[:, None] * matrix, sense * shift)
    system = np.concatenate([flat, np.ones((3, 1))], axis=1)
    if abs(np.linalg.det(system)) < 1.0 or abs(np.linalg.det(np.column_stack([across, np.ones(3)]))) < 0.5:
        raise InputError("The three places of the pressure grid lie on one line.", hint="Take a wide triangle.")
    solution = np.linalg.solve(system, across)
    return CellMap(plane, solution[:2].T, solution[2])


def refuse_beyond(shape: tuple[int, int], cells: ArrayLike) -> None:
    """Refuse a place in a cell that the grid does not have.

    Raises InputError with the cell and how many there are.
    """
    most = np.array(shape) - 1
    for index, cell in enumerate(np.asarray(cells, dtype=np.float64), 1):
        if (cell < 0).any() or (cell > most).any():
            is_turned = (cell[::-1] <= most).all() and (cell >= 0).all()
            raise InputError(
                f"Place {index} of the pressure grid is cell [{cell[0]:g}, {cell[1]:g}], but its rows go from 0 to "
                f"{most[0]} and its columns from 0 to {most[1]}.",
                hint=f"The row comes first: write cell = [{cell[1]:g}, {cell[0]:g}]."
                if is_turned
                else "Count rows and columns from 0, in all places.",
            )


def at_cells(grid: Float, row_column: Float) -> Float:
    """Return what a grid, (rows, columns), shows at places in it, (2, n): bilinear, out to the outer cells' own edges.

    Beyond it is 0.
    """
    shape = np.array(grid.shape)[:, None]
    is_in = ((row_column >= -0.5) & (row_column <= shape - 0.5)).all(axis=0)
    value = ndimage.map_coordinates(grid, np.clip(row_column, 0, shape - 1), order=1, mode="nearest")
    return np.where(is_in, value, 0.0)


def is_over(is_sensor: Bool, row_column: Float) -> Bool:
    """Return which places in a grid, (2, n), lie on a cell that has a sensor."""
    nearest = np.round(row_column).astype(np.int64)
    shape = np.array(is_sensor.shape)[:, None]
    is_in = ((nearest >= 0) & (nearest < shape)).all(axis=0)
    row, column = np.clip(nearest, 0, shape - 1)
    return np.asarray(is_in & is_sensor[row, column])


def _lifted(flat: Float) -> Float:
    """Return plane points in space with a third one beside the two, so that the turn is about the normal only."""
    along = flat[1] - flat[0]
    third = flat[0] + np.array([-along[1], along[0]])
    return np.concatenate([np.vstack([flat, third]), np.zeros((3, 1))], axis=1)
