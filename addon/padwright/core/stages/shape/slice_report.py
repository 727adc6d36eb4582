"""What cutting the finished solid layer by layer found, and what of it is an error or a note."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...base.errors import SolidError
from ...base.estimate import told
from ...base.mesh import Float
from ...base.notes import to_act_on, to_look_at
from ...base.text import counted, figure
from .loose_tops import LooseTops
from .tips import DRAG_N, WallTip
from .undersides import Hanging, Starts
from .worst_places import WorstPlace

BRIDGE_OVER = 1.2
"""A bridge over its limit by more than a fifth is an error; up to that the printer has the last word (own choice)."""

OVERHANG_OVER_DEG = 5.0
"""Leaning out beyond the limit by more than so much is an error, where it is so over `OVERHANG_MM2` (own choice)."""

OVERHANG_MM2 = 10.0
"""Too far an overhang on less within 7 mm of a place is a few beads that droop a little (own choice)."""


@dataclass(frozen=True)
class SliceLimits:
    """What a solid is held to."""

    overhang_deg: float = 45.0  # from upright
    bridge_mm: float = 5.0
    least_beads: float = 1.0  # of a wall in a level cut
    skin_mm: float = 1.2  # of the base side: what is no thicker is floor, not wall


@dataclass(frozen=True, eq=False)
class SliceReport:
    """The finished solid cut at every layer; places are in the part frame where the check was told it."""

    layer_mm: float
    bead_mm: float
    limits: SliceLimits
    pixel_mm: float
    area_mm2: Float  # (n,); of every layer
    outline_mm: Float  # (n,); length of every layer's outlines
    islands: NDArray[np.int64]  # (n,); pieces of every layer that do not touch
    loops: NDArray[np.int64]  # (n,); closed outlines of every layer
    hanging: Hanging
    starts: Starts
    least_width_mm: WorstPlace | None
    loose_tops: LooseTops
    tip: WallTip | None  # of the wall that gives way most while it is printed
    errors: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def layer_count(self) -> int:
        """How many layers the part has."""
        return len(self.area_mm2)

    @property
    def least_width_beads(self) -> float | None:
        """The least width of a wall in beads."""
        return None if self.least_width_mm is None else self.least_width_mm.value / self.bead_mm

    def as_json(self) -> dict[str, Any]:
        """Return the entry for the evidence."""
        most = int(np.argmax(self.islands))
        return {
            "layers": self.layer_count,
            "layer_mm": self.layer_mm,
            "bead_mm": self.bead_mm,
            "pixel_mm": self.pixel_mm,
            "overhang_deg": _json(self.hanging.overhang_deg),
            "overhang_too_far_mm2": round(self.hanging.too_far_mm2, 1),
            "bridge_mm": _json(self.hanging.bridge_mm),
            "most_too_far_mm2": _json(self.hanging.patch_mm2),
            "supported_cm2": round(self.hanging.supported_mm2 / 100.0, 2),
            "starts_in_air": self.starts.in_air,
            "specks_in_air": self.starts.specks,
            "largest_start_mm2": _json(self.starts.largest_mm2),
            "starts_on_supports": self.starts.on_supports,
            "least_width_mm": _json(self.least_width_mm),
            "least_width_beads": None if self.least_width_beads is None else round(self.least_width_beads, 3),
            "most_islands": {"value": int(self.islands[most]), "layer": most + 1},
            "mean_closed_outlines": round(float(self.loops.mean()), 1),
            "loose_walls": self.loose_tops.count,
            "longest_loose_end_mm": _json(self.loose_tops.longest_mm),
            "tip": None if self.tip is None else _tip_json(self.tip),
            "errors": list(self.errors),
            "notes": [str(note) for note in self.notes],
        }


def refuse_loose_walls(report: SliceReport) -> None:
    """Refuse a solid with walls that hold nothing: it would not be as firm as it was reckoned.

    Raises SolidError with where.
    """
    tops = report.loose_tops
    if tops.count and tops.longest_mm is not None:
        raise SolidError(
            f"{counted(tops.count, 'wall')} would end under the roof without reaching it, the longest along "
            f"{figure(tops.longest_mm.value, 1)} mm {tops.longest_mm.where}.",
            hint="Try other walls ([fill] pitch_mm, wall_beads, direction), or a pad that is less thin there.",
        )


def _json(place: WorstPlace | None) -> dict[str, Any] | None:
    return None if place is None else place.as_json()


def _tip_json(tip: WallTip) -> dict[str, Any]:
    return {
        "moves_mm": tip.moves_mm.as_json(),
        "drag_n": DRAG_N,
        "stiffness_n_mm": told(tip.stiffness_n_mm),
        "height_mm": round(tip.height_mm, 2),
        "width_mm": round(tip.width_mm, 3),
        "slope_deg": round(tip.slope_deg, 1),
        "held": round(tip.held, 2),
    }


def _dragged(tip: WallTip) -> str:
    """Say how far; where it is a large part of the wall's height the formula, for small moves, says only that."""
    most = 0.25 * tip.height_mm
    return f"{figure(tip.moves_mm.value, 1)} mm" if tip.moves_mm.value < most else f"more than {figure(most)} mm"


def breaches(
    limits: SliceLimits,
    bead_mm: float,
    hanging: Hanging,
    starts: Starts,
    width: WorstPlace | None,
    tops: LooseTops,
    tip: WallTip | None,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what stops the part, and what is worth a look.

    An error: an island of more than 1 mm2 that begins in the air; a wall that ends under the roof; a wall narrower than
    a bead; a bridge over its limit by more than a fifth; an overhang over its limit by more than 5 degrees on more than
    10 mm2 in one place. A note: what is over its limit by less, and a wall that the nozzle drags by more than half a
    bead; to be acted on where it is more than the wall is wide. The drag is assumed, so that is no error.
    """
    errors, notes = [], []
    largest = starts.largest_mm2
    if largest is not None and starts.in_air:
        errors.append(
            f"{counted(starts.in_air, 'island')} would begin in the air, the largest {figure(largest.value, 1)} mm2 "
            f"{largest.where}."
        )
    if tops.count and tops.longest_mm is not None:
        errors.append(
            f"{counted(tops.count, 'wall')} would end under the roof without reaching it, the longest along "
            f"{figure(tops.longest_mm.value, 1)} mm {tops.longest_mm.where}."
        )
    # Half a hundredth of a millimeter: what numbers lose on their way through a solid.
    if width is not None and width.value < limits.least_beads * bead_mm - 0.005:
        errors.append(
            f"A wall is {width.value:.2f} mm wide, less than {limits.least_beads:g} of a bead of {bead_mm:g} mm, "
            f"{width.where}."
        )
    bridge = hanging.bridge_mm
    if bridge is not None and bridge.value > BRIDGE_OVER * limits.bridge_mm:
        errors.append(
            f"A roof would hang over {bridge.value:.1f} mm, and the longest bridge is {limits.bridge_mm:g} mm, "
            f"{bridge.where}."
        )
    elif bridge is not None and bridge.value > limits.bridge_mm:
        notes.append(
            to_look_at(
                f"The longest bridge is {bridge.value:.1f} mm, a little over {limits.bridge_mm:g} mm, {bridge.where}."
            )
        )
    lean, patch = hanging.overhang_deg, hanging.patch_mm2
    if lean is not None and patch is not None and patch.value > OVERHANG_MM2:
        errors.append(
            f"{figure(hanging.too_far_mm2)} mm2 would lean out over nothing by more than "
            f"{limits.overhang_deg + OVERHANG_OVER_DEG:g} degrees from upright, as far as {lean.value:.0f} degrees, "
            f"most of it {patch.where}."
        )
    elif lean is not None and lean.value > limits.overhang_deg + OVERHANG_OVER_DEG:
        notes.append(
            to_look_at(
                f"Spots of {figure(hanging.too_far_mm2)} mm2 in all lean out over nothing by up to {lean.value:.0f} "
                f"degrees from upright and may droop a little, the farthest {lean.where}."
            )
        )
    elif lean is not None and lean.value > limits.overhang_deg + 0.5:
        notes.append(
            to_look_at(
                f"The farthest overhang is {lean.value:.0f} degrees from upright, a little over "
                f"{limits.overhang_deg:g}, {lean.where}."
            )
        )
    if tip is not None and tip.moves_mm.value > 0.5 * bead_mm:
        words = (
            f"While it is printed, the nozzle (a drag of {DRAG_N:g} N, assumed) may push the top of a wall "
            f"{tip.height_mm:.0f} mm high and {tip.width_mm:.2f} mm wide aside by {_dragged(tip)}, "
            f"{tip.moves_mm.where}: print slowly, and the blocks of folded walls first."
        )
        notes.append(to_act_on(words) if tip.moves_mm.value > tip.width_mm else to_look_at(words))
    return tuple(errors), tuple(notes)
