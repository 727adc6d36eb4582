"""What the evidence tells of the alignment."""

from __future__ import annotations

from typing import Any

from ...base.mesh import Float
from ...geometry.frames import inverse_rigid
from ..stage import Results
from .align import FoundAlignment
from .placed import PlacedScans


def alignment_evidence(results: Results) -> dict[str, Any]:
    """Return the entry `alignment`; none without an impression."""
    scans = results.of(PlacedScans)
    if scans.alignment is None:
        return {}
    pose_chosen = results.job.alignment.pose is not None
    return {"alignment": _alignment(scans.alignment, scans.to_part, pose_chosen)}


def _alignment(found: FoundAlignment, to_part: Float, pose_chosen: bool) -> dict[str, Any]:
    return {
        "impression_to_base": inverse_rigid(to_part) @ found.matrix,
        "impression_to_part": found.matrix,
        "method": found.method,
        "rms_mm": found.rms_mm,
        "p95_mm": found.p95_mm,
        "overlap": found.overlap,
        "noise_mm": found.noise_mm,
        "margin": found.margin,
        "standard_error_mm": found.standard_error_mm,
        "noise_reach_mm": found.noise_reach_mm,
        "scale_implied": {
            each.basis: {"factor": each.factor, "standard_error": each.standard_error} for each in found.scale_implied
        },
        "motions": found.motions,
        "check": found.check,
        "pose": found.pose or None,
        "pose_chosen": pose_chosen,
        "other_poses": [
            {
                "pose": other.number,
                "score": other.score,
                "apart_mm": other.apart_mm,
                "turn_deg": other.turn_deg,
                "words": other.words,
                "behind": other.behind,
                "behind_error": other.behind_error,
                "is_rival": other.is_rival,
            }
            for other in found.others
        ],
        "pair_misses_mm": found.pair_misses_mm,
        "notes": list(found.notes),
    }
