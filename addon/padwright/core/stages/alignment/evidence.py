"""What the evidence tells of the alignment, and in a few lines the person: how sure it is."""

from __future__ import annotations

import math
from typing import Any

from ...base.mesh import Float
from ...base.plain import picked
from ...geometry.frames import inverse_rigid
from ..stage import Results
from .align import FoundAlignment
from .placed_scans import PlacedScans

_CLEAR = 0.15  # share that the next best pose must fall behind to be called clearly worse; common practice, no source


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
        **picked(
            found, "method", "rms_mm", "p95_mm", "overlap", "noise_mm", "margin", "standard_error_mm", "noise_reach_mm"
        ),
        "scale_implied": {each.basis: picked(each, "factor", "standard_error") for each in found.scale_implied},
        **picked(found, "motions", "check"),
        "pose": found.pose or None,
        "pose_chosen": pose_chosen,
        "other_poses": [
            {
                "pose": other.number,
                **picked(other, "score", "apart_mm", "turn_deg", "words", "behind", "behind_error", "is_rival"),
            }
            for other in found.others
        ],
        "pair_misses_mm": found.pair_misses_mm,
        "notes": list(found.notes),
    }


def alignment_facts(found: FoundAlignment) -> tuple[str, ...]:
    """Return how far gaps reach, which motions are loose, and how sure the pose is; one sentence each."""
    lines = [f"95 % of the gaps between them are below {found.p95_mm:.2f} mm."]
    loose = [motion for motion in found.motions if motion.is_loose]
    for motion in loose:
        by = f"up to {motion.reach_mm:.1f} mm" if math.isfinite(motion.reach_mm) else "nothing holds it"
        lines.append(f"Loose: {motion.name}, {by}.")
    if not loose and found.loosest:
        lines.append(f"Loose: {found.loosest}.")
    if not loose and not found.loosest and found.motions:
        least = max(found.motions, key=lambda motion: motion.reach_mm)
        lines.append(f"All six motions are held; the least firm is the {least.name}, {least.reach_mm:.2f} mm.")
        lines.append(f"The pose is good to {2.0 * found.standard_error_mm:.2f} mm (twice its standard error).")
    lines.append(_how_sure(found))
    return tuple(lines)


def _how_sure(found: FoundAlignment) -> str:
    if found.method == "pairs":
        misses = found.pair_misses_mm
        return f"How sure: by {len(misses)} picked pairs, at most {max(misses, default=0.0):.2f} mm left at one."
    if not found.others:
        return "How sure: no other pose comes near."
    behind = 100 * found.margin
    word = "clearly worse" if found.margin >= _CLEAR else "close: compare it with the colors"
    return f"How sure: the next best pose explains {behind:.0f} % less, {word}."
