"""A folded wall between two skins, in numbers: one record for a place or for a hundred thousand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ....base.cached import cached_property
from ....base.errors import InputError
from ....base.frozen import hold
from ....base.mesh import Float

FEET_GIVE, KINKS_STIFFEN, KINKS_GROW = 0.36, 0.50, 1.6
"""What a segment's two ends add to its free length and take from it, in wall thicknesses, and the power of tan(slope)
with which they take. Fitted on 148 of our own plane finite elements; see `Walls.free_length_mm`."""

LEAST_FREE = 0.3
"""A segment keeps at least this share of its length free, however thick the wall: outside of what was checked."""

SKIN_TO_WALL = 0.8
"""Least thickness of a skin over the width of its walls: under stiff walls a thinner one ripples and gives."""

Numbers = float | int | Float | Sequence[float]


@dataclass(frozen=True, eq=False)
class Walls:
    """Walls that stand side by side between two skins, folded `folds` times over the height; mm and degrees.

    All are numbers or arrays (n,) that broadcast; held as arrays (n,). Raises InputError when one is out of range.
    """

    height_mm: Numbers  # of the core, between the skins
    width_mm: Numbers  # of a wall in a level cut, as it is printed: whole beads
    pitch_mm: Numbers  # from wall to wall, across their run
    slope_deg: Numbers  # of the segments from upright, across their run; 0 to 80
    folds: Numbers = 1  # chevrons over the height: two segments each
    # of the walls' line seen along the press, infinite if straight; of a waved wall the bends' own: 1 over the root of
    # the mean square of their curvature.
    radius_mm: Numbers = np.inf
    waver: Numbers = 0.0  # mean sin^2 of the angle between a waved wall and its run

    def __post_init__(self) -> None:
        names = [each.name for each in fields(self)]
        arrays = [np.atleast_1d(np.asarray(getattr(self, name), dtype=np.float64)) for name in names]
        shaped = dict(zip(names, (np.array(each) for each in np.broadcast_arrays(*arrays)), strict=True))
        for name, low, high in _LIMITS:
            bad = ~((shaped[name] >= low) & (shaped[name] <= high))
            if bad.any():
                place = int(np.argmax(bad))
                raise InputError(
                    f"A folded wall's {name} cannot be {shaped[name][place]:g}; it must be {low:g} to {high:g}."
                )
        bad = shaped["width_mm"] >= shaped["pitch_mm"]
        if bad.any():
            width, pitch = (shaped[name][int(np.argmax(bad))] for name in ("width_mm", "pitch_mm"))
            raise InputError(
                f"Walls of {width:g} mm have no room at a pitch of {pitch:g} mm.",
                hint="Take a wider pitch or thinner walls.",
            )
        hold(self, **shaped)

    def __len__(self) -> int:
        return len(self.array("height_mm"))

    def array(self, name: str) -> Float:
        """Return a field as the array (n,) it is held as."""
        return np.asarray(getattr(self, name), dtype=np.float64)

    @cached_property
    def slope(self) -> Float:
        """Slope from upright in radians (n,), as it is across the wall itself: a waved wall stands askew to its run."""
        return np.asarray(np.arctan(np.tan(np.radians(self.array("slope_deg"))) * np.sqrt(1.0 - self.array("waver"))))

    @cached_property
    def spacing_mm(self) -> Float:
        """From wall to wall across the walls themselves (n,)."""
        return np.asarray(self.array("pitch_mm") * np.sqrt(1.0 - self.array("waver")))

    @cached_property
    def thickness_mm(self) -> Float:
        """True thickness of a wall (n,): what a level cut shows, times the slope's cosine."""
        return np.asarray(self.array("width_mm") * np.cos(self.slope))

    @cached_property
    def segment_mm(self) -> Float:
        """Length of one straight segment of a wall's middle line, from foot to fold (n,)."""
        return np.asarray(self.array("height_mm") / (2.0 * self.array("folds") * np.cos(self.slope)))

    @cached_property
    def free_length_mm(self) -> Float:
        """Length of a straight strip with stiff ends that gives as much as a segment does (n,).

        Notes
        -----
        At a skin the foot gives a little, and the strip shears: that makes it longer. Where a leaning wall ends at a
        skin or turns at a fold, a square cut through it reaches its far side only some way up: the wedge before that is
        stiff and makes it shorter. l + t (0.36 - 0.5 tan^1.6) meets plane finite elements (cores of 4 to 24 mm, walls
        of 0.45 to 2.25 mm, 0 to 50 degrees, t up to 0.3 l, skins of 0.8 walls or more) within 4 % in 95 of 100 cases
        and 11 % in all.
        """
        length = self.segment_mm
        ends = FEET_GIVE - KINKS_STIFFEN * np.tan(self.slope) ** KINKS_GROW
        return np.maximum(length + self.thickness_mm * ends, LEAST_FREE * length)

    def at_slope(self, slope_deg: Float) -> Walls:
        """Return the same walls at other slopes."""
        return self.changed(slope_deg=slope_deg)

    def changed(self, **values: Numbers) -> Walls:
        """Return the walls with some fields changed."""
        return Walls(**{each.name: values.get(each.name, self.array(each.name)) for each in fields(self)})

    def at(self, index: int | NDArray[np.intp] | slice) -> Walls:
        """Return the walls of some places."""
        return Walls(**{each.name: self.array(each.name)[index] for each in fields(self)})


_LIMITS = (
    ("height_mm", 0.2, 1000.0),
    ("width_mm", 0.05, 100.0),
    ("pitch_mm", 0.1, 1000.0),
    ("slope_deg", 0.0, 80.0),
    ("folds", 1, 20),
    ("radius_mm", 0.5, np.inf),
    ("waver", 0.0, 0.9),
)


def least_skin_mm(width_mm: float) -> float:
    """Return how thick a skin must be over walls of a width, mm."""
    return SKIN_TO_WALL * width_mm
