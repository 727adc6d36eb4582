"""A pressure map, rows of numbers from any mat, laid on the pad by two or three of its cells."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.text import counted
from ...geometry.frames import fit_similarity
from ...geometry.through import PadShape
from ..pad.pad_surface import BODY
from .table_rows import cells_of

_GREATEST_KPA = 1e6
"""A body's pressures are hundreds of kPa; beyond this the numbers are none. A choice of ours."""


def read_grid(data: bytes, name: str) -> Float:
    """Return the pressures of a CSV file, (rows, columns), kPa; empty cells count as 0.

    Raises
    ------
    InputError
        When a line is no row of numbers or the rows differ in length (line told).
    """
    rows: list[list[float]] = []
    for number, line in enumerate(data.decode("utf-8-sig", "replace").splitlines(), 1):
        if not line.strip():
            continue
        try:
            row = [float(word) if word else 0.0 for word in cells_of(line)]
        except ValueError:
            raise InputError(f'"{name}", line {number}: expected numbers, got "{line.strip()[:40]}".') from None
        if rows and len(row) != len(rows[0]):
            raise InputError(f'"{name}", line {number}: {counted(len(row), "cell")}; the first row has {len(rows[0])}.')
        if not (np.abs(row) <= _GREATEST_KPA).all():  # also what is not a number
            raise InputError(f'"{name}", line {number}: a pressure in it is no number up to {_GREATEST_KPA:g} kPa.')
        rows.append(row)
    if len(rows) < 2 or len(rows[0]) < 2:
        raise InputError(
            f'"{name}" is no grid: it has {counted(len(rows), "row")}.', hint="Give at least 2 rows and 2 columns."
        )
    return np.array(rows)


def grid_weights(
    grid: Float, cells: Float, points: Float, pad: PadShape | None, low: float | None, high: float | None
) -> tuple[Float, Float]:
    """Return body-side positions (b, 3) of the pad and 1 where the pressure there lies between `low` and `high`.

    Parameters
    ----------
    grid : (rows, columns) float, kPa
    cells : (2 or 3, 2) float
        Row and column, from 0, of the places that are known.
    points : (2 or 3, 3) float, mm
        Those places, part frame.
    pad : PadShape
        With a press direction; the grid lies across it.
    low, high : float or None, kPa
        An open end where None.

    Raises
    ------
    InputError
        When the pad wraps around, or the places do not fix the grid.

    Notes
    -----
    Two places fix a turn, a shift and one scale (seen from the body, rows and columns keep their sense), three also
    how long and how square the cells are. Between cells the pressure is bilinear; beyond the grid it is 0.
    """
    if pad is None or pad.press_direction is None:
        raise InputError("A pressure grid needs a pad with one press direction; this one wraps around.")
    press = np.asarray(pad.press_direction, dtype=np.float64)
    # Rows run down and columns to the right as the person sees the mat from the body's side, looking along the press.
    right = np.cross(press, np.eye(3)[int(np.argmin(np.abs(press)))])
    right /= np.linalg.norm(right)
    plane = np.stack([right, np.cross(press, right)])
    flat = points @ plane.T
    across = np.asarray(cells, dtype=np.float64)[:, ::-1]
    if len(across) == 2:
        if np.ptp(across, axis=0).max() < 1.0 or np.ptp(flat, axis=0).max() < 1.0:
            raise InputError("The two places of the pressure grid are the same.", hint="Take two far apart.")
        fit = fit_similarity(_lifted(flat), _lifted(across))
        matrix, shift = (fit.scale * fit.rotation)[:2, :2], fit.translation[:2]
    else:
        system = np.concatenate([flat, np.ones((3, 1))], axis=1)
        if abs(np.linalg.det(system)) < 1.0:
            raise InputError("The three places of the pressure grid lie on one line.", hint="Take a wide triangle.")
        solution = np.linalg.solve(system, across)
        matrix, shift = solution[:2].T, solution[2]
    body = pad.mesh.vertices[np.asarray(pad.side) == BODY]
    column, row = matrix @ (body @ plane.T).T + shift[:, None]
    pressure = ndimage.map_coordinates(grid, np.stack([row, column]), order=1, mode="constant", cval=0.0)
    is_in = (pressure >= (-np.inf if low is None else low)) & (pressure <= (np.inf if high is None else high))
    return body, is_in.astype(np.float64)


def _lifted(flat: Float) -> Float:
    """Return plane points in space with a third one beside the two, so that the turn is about the normal only."""
    along = flat[1] - flat[0]
    third = flat[0] + np.array([-along[1], along[0]])
    return np.concatenate([np.vstack([flat, third]), np.zeros((3, 1))], axis=1)
