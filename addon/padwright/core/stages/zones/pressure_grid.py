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

    Raises InputError when a line is no row of numbers or the rows differ in length (line told).
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

    Two places fix a turn, a shift and one scale (seen from the body, rows and columns keep their sense), three also
    how long and how square the cells are. Between cells the pressure is bilinear; beyond the grid it is 0.

    Raises InputError when the pad wraps around, a cell is none of the grid, the places do not fix it, or nothing on the
    pad lies between `low` and `high`.

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
    """
    if pad is None or pad.press_direction is None:
        raise InputError("A pressure grid needs a pad with one press direction; this one wraps around.")
    _refuse_beyond(grid, cells)
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
    if not is_in.any():
        raise _nothing_in(pressure, grid, low, high)
    return body, is_in.astype(np.float64)


def _refuse_beyond(grid: Float, cells: Float) -> None:
    """Refuse a place in a cell that the grid does not have."""
    most = np.array(grid.shape) - 1
    for number, cell in enumerate(np.asarray(cells, dtype=np.float64), 1):
        if (cell < 0).any() or (cell > most).any():
            is_turned = (cell[::-1] <= most).all() and (cell >= 0).all()
            raise InputError(
                f"Place {number} of the pressure grid is cell [{cell[0]:g}, {cell[1]:g}], but its rows go from 0 to "
                f"{most[0]} and its columns from 0 to {most[1]}.",
                hint=f"The row comes first: write cell = [{cell[1]:g}, {cell[0]:g}]."
                if is_turned
                else "Count rows and columns from 0, in all places.",
            )


def _nothing_in(pressure: Float, grid: Float, low: float | None, high: float | None) -> InputError:
    """Return what to say where no pressure on the pad lies in the band."""
    least, most = float(pressure.min()), float(pressure.max())
    if most <= 0.0 < float(grid.max()):
        return InputError(
            f"The pressure grid lies beside the pad: on the pad it shows 0, elsewhere up to {grid.max():.3g} kPa.",
            hint="Check its places: each cell and the point where it lies.",
        )
    asked = f"from {low:g}" if low is not None and most < low else f"up to {0.0 if high is None else high:g}"
    return InputError(
        f"On the pad the grid's pressures go from {least:.3g} to {most:.3g} kPa, and the zone asks for {asked} kPa.",
        hint="Give from_kpa and to_kpa within that. If the mat shows mmHg, 1 mmHg is 0.133 kPa: convert its numbers.",
    )


def _lifted(flat: Float) -> Float:
    """Return plane points in space with a third one beside the two, so that the turn is about the normal only."""
    along = flat[1] - flat[0]
    third = flat[0] + np.array([-along[1], along[0]])
    return np.concatenate([np.vstack([flat, third]), np.zeros((3, 1))], axis=1)
