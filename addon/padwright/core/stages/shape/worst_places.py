"""A figure of the finished solid with the place where it is worst, and what is too small to matter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...base.estimate import told
from ...base.mesh import Float
from ...base.text import figure

SPOT_MM2 = 1.0
"""What is worse on less than this counts for nothing: a few beads' ends (our own choice)."""


@dataclass(frozen=True)
class WorstPlace:
    """A figure and where it was found, in the build frame."""

    value: float
    place_mm: tuple[float, float, float]
    layer: int  # the first is 1

    def as_json(self) -> dict[str, Any]:
        """Return it for the evidence."""
        return {
            "value": told(self.value),
            "place_mm": [round(each, 2) + 0.0 for each in self.place_mm],
            "layer": self.layer,
        }

    @property
    def where(self) -> str:
        """Say where: "at x 12, y 40, z 8.1 mm on the bed, layer 41"."""
        x, y, z = self.place_mm
        return f"at x {figure(x)}, y {figure(y)}, z {z:.1f} mm on the bed, layer {self.layer}"


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
    return WorstPlace(float(values[chosen]), (x, y, z), 1 + max(0, math.ceil(z / layer_mm - 0.5)))
