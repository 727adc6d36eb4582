"""A figure of the finished solid with the place where it is worst, and what is too small to matter."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...base.estimate import told
from ...base.mesh import Float
from ...base.text import placed
from ...geometry.frames import moved

SPOT_MM2 = 1.0
"""What is worse on less than this counts for nothing: a few beads' ends (our own choice)."""


@dataclass(frozen=True)
class WorstPlace:
    """A figure and where it was found."""

    value: float
    place_mm: tuple[float, float, float]  # in the build frame, until `moved` into another
    layer: int  # the first is 1
    height_mm: float  # over the bed

    def as_json(self) -> dict[str, Any]:
        """Return it for the evidence."""
        return {
            "value": told(self.value),
            "place_mm": [round(each, 2) + 0.0 for each in self.place_mm],
            "layer": self.layer,
            "height_mm": round(self.height_mm, 2),
        }

    def moved(self, matrix: Float) -> WorstPlace:
        """Return it with the place moved by a 4x4 matrix."""
        x, y, z = (float(each) for each in moved(matrix, np.array([self.place_mm]))[0])
        return replace(self, place_mm=(x, y, z))

    @property
    def where(self) -> str:
        """Say where: "at (12, 40, 8) mm, 8.1 mm over the bed in layer 41"."""
        return f"at {placed(self.place_mm)} mm, {self.height_mm:.1f} mm over the bed in layer {self.layer}"


def beyond(values: Float, area_mm2: float, places: Float, layer_mm: float, spot: float = SPOT_MM2) -> WorstPlace | None:
    """Return the greatest value that is reached on a spot or more.

    Parameters
    ----------
    values : (n,) float
        Each stands for as much area, `area_mm2`.
    places : (n, 3) float
    """
    rank = max(1, math.ceil(spot / area_mm2)) - 1
    if len(values) <= rank:
        return None
    chosen = int(np.argsort(-values, kind="stable")[rank])
    x, y, z = (float(each) for each in places[chosen])
    return WorstPlace(float(values[chosen]), (x, y, z), 1 + max(0, math.ceil(z / layer_mm - 0.5 - 1e-6)), z)
