"""Zones by pressure: of the job's mat, or of a file of the zone's own that is laid on by two or three of its cells."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.notes import to_look_at
from ...geometry.through import PadShape
from ...job.mat_table import Mat
from ..mats.header import header_facts
from ..mats.laid_mat import LaidMat
from ..mats.mat_file import read_mat
from ..mats.mat_pose import map_by_places, refuse_beyond
from ..pad.pad_surface import BODY


@dataclass(frozen=True)
class Ends:
    """The band of a zone; None where it is open."""

    from_kpa: float | None
    to_kpa: float | None
    from_pct: float | None  # of the mat's peak
    to_pct: float | None


def own_mat(data: bytes, name: str, cells: Float, points: Float, pad: PadShape | None) -> LaidMat:
    """Return a file of pressures, text or JSON of any mat, as it lies on a pad; where it states no unit it is in kPa.

    It is laid by cells, (2 or 3, 2) row and column, at points, (2 or 3, 3) mm of the part frame, as `map_by_places`
    does.

    Raises InputError when the pad wraps around, the file is none that `read_mat` reads or names several units, a cell
    is none of the grid, or the places do not fix it.
    """
    if pad is None or pad.press_direction is None:
        raise InputError("A pressure grid needs a pad with one press direction; this one wraps around.")
    asked = Mat(file=name)
    mat = read_mat(data, name, asked, needs_unit=False)
    if mat.unit == "":
        named = header_facts(mat.header).units
        if len(named) > 1:
            raise InputError(
                f'"{name}" names {" and ".join(named)}: which of them its numbers are in is not known.',
                hint="Leave one of them in it; or give it as the job's [mat], with unit.",
            )
        mat = read_mat(data, name, replace(asked, unit="kPa"))
        said = to_look_at(f'"{name}" does not state what unit its numbers are in: taken as kPa.')
        mat = replace(mat, notes=(said, *mat.notes))
    refuse_beyond(mat.shape, cells)
    found = map_by_places(cells, points, pad.press_direction)
    return LaidMat(mat, found, "places", 1, (), None, mat.notes)


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
    mercury = " If its numbers are in mmHg, say so: 1 mmHg is 0.133 kPa." if unit == "kPa" else ""
    return InputError(
        f"On the pad the grid's pressures go from {least:.3g} to {most:.3g} {unit}, and the zone asks for {asked} "
        f"{unit}.",
        hint=f"Give {ends} within that.{mercury}",
    )
