"""Zones by pressure: of the job's mat, or of a table of kPa that is laid on by two or three of its cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.text import counted
from ...geometry.through import PadShape
from ..mats.laid_mat import LaidMat
from ..mats.mat_pose import at_cells, map_by_places, refuse_beyond
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


@dataclass(frozen=True)
class Ends:
    """The band of a zone; None where it is open."""

    from_kpa: float | None
    to_kpa: float | None
    from_pct: float | None  # of the mat's peak
    to_pct: float | None


def grid_weights(
    grid: Float, cells: Float, points: Float, pad: PadShape | None, low: float | None, high: float | None
) -> tuple[Float, Float]:
    """Return body-side positions (b, 3) of the pad and 1 where the pressure there lies between `low` and `high`.

    The grid, (rows, columns) kPa, is laid by cells, (2 or 3, 2) row and column, at points, (2 or 3, 3) mm of the part
    frame, as `map_by_places` does. An end is open where it is None.

    Raises InputError when the pad wraps around, a cell is none of the grid, the places do not fix it, or nothing on the
    pad lies between `low` and `high`.
    """
    if pad is None or pad.press_direction is None:
        raise InputError("A pressure grid needs a pad with one press direction; this one wraps around.")
    refuse_beyond((grid.shape[0], grid.shape[1]), cells)
    found = map_by_places(cells, points, pad.press_direction)
    body = pad.mesh.vertices[np.asarray(pad.side) == BODY]
    return body, _in_band(at_cells(grid, found.row_column(body)), grid, low, high, "kPa")


def mat_weights(laid: LaidMat, pad: PadShape, ends: Ends) -> tuple[Float, Float]:
    """Return body-side positions (b, 3) of the pad and 1 where what a mat shows there lies between the ends.

    Raises InputError when they are in kPa and the mat's numbers have no unit, or nothing on the pad lies between them.
    """
    body = pad.mesh.vertices[np.asarray(pad.side) == BODY]
    shown = laid.at(body)
    if ends.from_kpa is not None or ends.to_kpa is not None:
        if not laid.mat.is_kpa:
            raise InputError(
                "The zone asks for kPa, and the mat's numbers are raw.",
                hint="Write from_pct and to_pct, percent of the mat's peak; or kpa_per_unit under [mat].",
            )
        return body, _in_band(shown, laid.mat.pressure, ends.from_kpa, ends.to_kpa, "kPa")
    share = 100.0 / laid.mat.peak
    return body, _in_band(share * shown, share * laid.mat.pressure, ends.from_pct, ends.to_pct, "%")


def _in_band(pressure: Float, grid: Float, low: float | None, high: float | None, unit: str) -> Float:
    is_in = (pressure >= (-np.inf if low is None else low)) & (pressure <= (np.inf if high is None else high))
    if not is_in.any():
        raise _nothing_in(pressure, grid, low, high, unit)
    return is_in.astype(np.float64)


def _nothing_in(pressure: Float, grid: Float, low: float | None, high: float | None, unit: str) -> InputError:
    """Return what to say where no pressure on the pad lies in the band."""
    least, most = float(pressure.min()), float(pressure.max())
    if most <= 0.0 < float(grid.max()):
        return InputError(
            f"The pressure grid lies beside the pad: on the pad it shows 0, elsewhere up to {grid.max():.3g} {unit}.",
            hint="Check its places: each cell and the point where it lies.",
        )
    asked = f"from {low:g}" if low is not None and most < low else f"up to {0.0 if high is None else high:g}"
    ends = "from_kpa and to_kpa" if unit == "kPa" else "from_pct and to_pct"
    mercury = " If the mat shows mmHg, 1 mmHg is 0.133 kPa: convert its numbers." if unit == "kPa" else ""
    return InputError(
        f"On the pad the grid's pressures go from {least:.3g} to {most:.3g} {unit}, and the zone asks for {asked} "
        f"{unit}.",
        hint=f"Give {ends} within that.{mercury}",
    )
