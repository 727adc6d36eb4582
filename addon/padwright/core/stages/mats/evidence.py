"""What the evidence tells of the pressure mat."""

from __future__ import annotations

from typing import Any

from ..reading.work import ReadBodySide
from ..stage import Results
from .find_pose import FoundPose
from .mat_look import picture_facts
from .work import MatResult, share_beyond


def mat_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `mat`; none where the job has no mat."""
    found = results.find(MatResult)
    if found is None:
        return {}
    laid = found.laid
    mat = laid.mat
    return {
        "mat": {
            "rows": mat.shape[0],
            "columns": mat.shape[1],
            "unit": mat.unit or None,
            "unit_from": mat.unit_basis,
            "kpa_per_unit": mat.kpa_per_unit,
            "pitch_mm": list(laid.cell_mm),
            "pitch_from": mat.pitch_basis,
            "picture": None if mat.foil is None else picture_facts(mat.foil),
            "frames": mat.frame_count,
            "frame_rule": mat.frame_rule,
            "accuracy_percent": 100.0 * laid.accuracy,
            "sum_n": None if laid.sum_n is None else laid.sum_n.as_json(),
            "peak_kpa": laid.as_good_as(mat.peak).as_json() if mat.is_kpa else None,
            "saturated_cells": [list(each) for each in mat.saturated],
            "filled_cells": [list(each) for each in mat.filled],
            "laid": laid.laid,
            "pose": laid.pose,
            "poses": [_pose(each) for each in laid.poses],
            "flipped": laid.cells.is_flipped,
            "first_cell": {"plane": laid.cells.plane, "to_column_row": laid.cells.matrix, "shift": laid.cells.shift},
            "agreement": laid.agreement,
            "share_beside_clay": share_beyond(laid, results.of(ReadBodySide)),
            "notes": list(laid.notes),
        }
    }


def _pose(pose: FoundPose) -> dict[str, Any]:
    return {"agreement": pose.agreement, "turn_deg": pose.cells.turn_deg, "flipped": pose.is_flipped}
