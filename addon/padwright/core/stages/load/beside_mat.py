"""What the load check predicts beside what the mat showed: place by place as fine as the mat is, and the forces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Bool, Float, Int
from ..mats.laid_mat import LaidMat
from ..mats.pressed_plan import correlated
from .contact import LoadResult
from .load_case import ContactPatch
from .mat_error import erred, error_ways, with_error

_COVERED = 0.5  # of a cell's area that the contact must cover for it to be compared; our choice
_MN_PER_N = 1000.0


@dataclass(frozen=True)
class ZoneBeside:
    """What one zone bears by the mat and by the load check, shares of all that bears on the pad."""

    name: str
    mat: Estimate
    predicted: float  # its low and high stand with the load check


@dataclass(frozen=True, eq=False)
class MatBeside:
    """A mat beside the load that was checked first."""

    load_n: float
    sum_n: Estimate | None  # of the whole mat; None where its numbers have no unit
    on_pad_n: Estimate | None  # of what lies on the contact
    scale: float  # by which the mat was multiplied to bear the load's force on the pad
    # By which place the two were compared: (k,) each, kPa, the mat scaled.
    mat_kpa: Float
    predicted_kpa: Float
    rms_kpa: float
    rms_of_mat_kpa: float  # of that the mat's own error may be so much
    correlation: float
    mat_peak_kpa: Estimate  # of a cell, scaled
    predicted_peak_kpa: float  # of the prediction averaged over a cell
    center_off_mm: Estimate  # from the mat's center of pressure to the predicted one, across the press direction
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
            "sum_n": None if self.sum_n is None else self.sum_n.as_json(),
            "on_pad_n": None if self.on_pad_n is None else self.on_pad_n.as_json(),
            "sum_over_load": None if self.sum_n is None else self.sum_n.scaled(1.0 / self.load_n).as_json(),
            "scaled_by": self.scale,
            "cells_compared": len(self.mat_kpa),
            "rms_kPa": self.rms_kpa,
            "rms_by_mat_error_kPa": self.rms_of_mat_kpa,
            "correlation": self.correlation,
            "mat_peak_kPa": self.mat_peak_kpa.as_json(),
            "predicted_peak_kPa": self.predicted_peak_kpa,
            "center_off_mm": self.center_off_mm.as_json(),
            "share": {each.name: {"mat": each.mat.as_json(), "predicted": each.predicted} for each in self.zones},
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

    def by_cells(kpa: Float) -> Float:
        return np.asarray(np.bincount(cell, in_cell * kpa, rows * columns) / np.maximum(covered, 1e-12))

    predicted, by_mat = by_cells(result.pressure_kpa), by_cells(shown * scale)
    down, across = laid.cells.cell_mm
    is_whole = (covered >= _COVERED * down * across) & laid.mat.is_sensor.ravel()
    if not is_whole.any():
        return None
    mat_kpa, predicted_kpa = by_mat[is_whole], predicted[is_whole]
    middle = laid.cells.plane @ (result.pressure_kpa @ place_by(area, place)) / force

    def off_mm(kpa: Float) -> float:
        return float(np.linalg.norm(middle - laid.cells.plane @ (kpa @ place_by(area, place)) / float(kpa @ area)))

    zone = np.asarray(zone_at, dtype=np.int64)
    load = area * result.pressure_kpa
    predicted_share = np.bincount(zone, load, len(names)) / float(load.sum())
    ways = error_ways(place, area, shown, laid.cells.plane, laid.accuracy)

    def shared_by(number: int) -> Estimate:
        is_zone = zone == number
        return with_error(lambda kpa: float(kpa[is_zone] @ area[is_zone]) / bore, shown, area, ways, laid.error_words)

    def peak_of(kpa: Float) -> float:
        return float(by_cells(scale * kpa)[is_whole].max())

    moved = [by_cells(scale * erred(shown, area, ways, one))[is_whole] - mat_kpa for one in np.eye(len(ways))]
    is_known = laid.mat.is_kpa
    return MatBeside(
        load_n=result.force_n,
        sum_n=laid.sum_n,
        on_pad_n=laid.as_good_as(bore / _MN_PER_N) if is_known else None,
        scale=scale,
        mat_kpa=mat_kpa,
        predicted_kpa=predicted_kpa,
        rms_kpa=float(np.sqrt(np.mean((predicted_kpa - mat_kpa) ** 2))),
        rms_of_mat_kpa=float(np.sqrt(np.mean(np.sum(np.square(moved), axis=0)))),
        correlation=correlated(mat_kpa, predicted_kpa),
        mat_peak_kpa=with_error(peak_of, shown, area, ways, laid.error_words),
        predicted_peak_kpa=float(predicted_kpa.max()),
        center_off_mm=with_error(off_mm, shown, area, ways, laid.error_words),
        zones=tuple(
            ZoneBeside(name, share, float(predicted_share[number]))
            for number, name in enumerate(names)
            if (share := shared_by(number)).value > 0.0 or predicted_share[number] > 0.0
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
