"""What the load check predicts beside what the mat showed: place by place as fine as the mat is, and the forces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...base.mesh import Bool, Float, Int
from ..mats.laid_mat import LaidMat
from ..mats.pressed_plan import correlated
from .contact import LoadResult
from .load_case import ContactPatch

_COVERED = 0.5  # of a cell's area that the contact must cover for it to be compared; our choice
_MN_PER_N = 1000.0


@dataclass(frozen=True)
class ZoneBeside:
    """What one zone bears by the mat and by the load check, shares of all that bears on the pad."""

    name: str
    mat: float
    predicted: float


@dataclass(frozen=True, eq=False)
class MatBeside:
    """A mat beside the load that was checked first."""

    load_n: float
    sum_n: float | None  # of the whole mat; None where its numbers have no unit
    on_pad_n: float | None  # of what lies on the contact
    scale: float  # by which the mat was multiplied to bear the load's force on the pad
    # By which place the two were compared: (k,) each, kPa, the mat scaled.
    mat_kpa: Float
    predicted_kpa: Float
    rms_kpa: float
    correlation: float
    mat_peak_kpa: float  # of a cell, scaled
    predicted_peak_kpa: float  # of the prediction averaged over a cell
    center_off_mm: float  # from the mat's center of pressure to the predicted one, across the press direction
    zones: tuple[ZoneBeside, ...]
    difference_kpa: Float  # (n,); predicted less mat, at each point of the patch, both averaged over a cell
    shown_kpa: Float  # (n,); the mat, scaled, at each point of the patch
    is_compared: Bool  # (n,)
    measured_on: str  # "base", "clay" or "pad"
    is_load: bool  # the mat gave the load's own distribution

    def as_json(self) -> dict[str, Any]:
        """Return it for the evidence."""
        return {
            "load_n": self.load_n,
            "sum_n": self.sum_n,
            "on_pad_n": self.on_pad_n,
            "sum_over_load": None if self.sum_n is None else self.sum_n / self.load_n,
            "scaled_by": self.scale,
            "cells_compared": len(self.mat_kpa),
            "rms_kPa": self.rms_kpa,
            "correlation": self.correlation,
            "mat_peak_kPa": self.mat_peak_kpa,
            "predicted_peak_kPa": self.predicted_peak_kpa,
            "center_off_mm": self.center_off_mm,
            "share": {each.name: {"mat": each.mat, "predicted": each.predicted} for each in self.zones},
            "measured_on": self.measured_on,
            "used_for_load": self.is_load,
        }


def beside_mat(
    laid: LaidMat, patch: ContactPatch, zone_at: Int, names: Sequence[str], result: LoadResult
) -> MatBeside | None:
    """Return the mat beside a load's result; None where it shows nothing on the contact.

    `zone_at`, (n,), is the zone of each point of the patch, an index of `names`.
    """
    area, place = patch.area_mm2, patch.position
    shown = np.where(laid.covers(place), laid.at(place), 0.0)
    bore = float(shown @ area)
    if bore <= 0.0:
        return None
    force = float(result.pressure_kpa @ area)
    scale = force / bore
    row, column = np.round(laid.cells.row_column(place)).astype(np.int64)
    rows, columns = laid.mat.shape
    is_in = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    cell = np.where(is_in, row * columns + column, 0)
    in_cell = np.where(is_in, area, 0.0)
    covered = np.bincount(cell, in_cell, rows * columns)
    predicted = np.bincount(cell, in_cell * result.pressure_kpa, rows * columns) / np.maximum(covered, 1e-12)
    by_mat = np.bincount(cell, in_cell * shown, rows * columns) / np.maximum(covered, 1e-12) * scale
    down, across = laid.cells.cell_mm
    is_whole = (covered >= _COVERED * down * across) & laid.mat.is_sensor.ravel()
    if not is_whole.any():
        return None
    mat_kpa, predicted_kpa = by_mat[is_whole], predicted[is_whole]
    off = (result.pressure_kpa @ place_by(area, place)) / force - (shown @ place_by(area, place)) / bore
    across_press = laid.cells.plane @ off
    load = area * result.pressure_kpa
    zone = np.asarray(zone_at, dtype=np.int64)
    shares = [np.bincount(zone, each, len(names)) / float(each.sum()) for each in (shown * area, load)]
    is_known = laid.mat.is_kpa
    return MatBeside(
        load_n=result.force_n,
        sum_n=laid.force_n,
        on_pad_n=bore / _MN_PER_N if is_known else None,
        scale=scale,
        mat_kpa=mat_kpa,
        predicted_kpa=predicted_kpa,
        rms_kpa=float(np.sqrt(np.mean((predicted_kpa - mat_kpa) ** 2))),
        correlation=correlated(mat_kpa, predicted_kpa),
        mat_peak_kpa=float(mat_kpa.max()),
        predicted_peak_kpa=float(predicted_kpa.max()),
        center_off_mm=float(np.linalg.norm(across_press)),
        zones=tuple(
            ZoneBeside(name, float(shares[0][number]), float(shares[1][number]))
            for number, name in enumerate(names)
            if shares[0][number] > 0.0 or shares[1][number] > 0.0
        ),
        difference_kpa=np.where(is_whole[cell] & is_in, (predicted - by_mat)[cell], 0.0),
        shown_kpa=shown * scale,
        is_compared=np.asarray(is_whole[cell] & is_in),
        measured_on=laid.measured_on,
        is_load=laid.is_load,
    )


def place_by(area: Float, place: Float) -> Float:
    """Return places, (n, 3), each times the area it stands for."""
    return np.asarray(area[:, None] * place)
