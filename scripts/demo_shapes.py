"""The sculler's sliding seat of the demo, and what any part is that a height field can describe.

All formulas are the project's own invention; sizes are those of an ordinary adult seat (common practice, no source).
True frame: mm, origin in the middle of the board, x to the sitter's left, y to the rear, z up.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scan_making import Float, Height, NDArray, loop_from_radius, rounded_box_depth, smooth_step


@dataclass(frozen=True)
class HeightPart:
    """A base and the pressed clay on it, both height fields over one outline.

    Attributes
    ----------
    base, clay : height, mm, of (x, y); the clay's is -inf where there is none
    undisturbed : height of the clay before the body came, -inf where there is none
    body : height of the body's underside
    outline : (k, 2) counter-clockwise border of the base
    floor, wall : the scanned walls end at this height, or are this high all around
    landmarks : name, first and second point (x, y) of lengths a caliper can take, on the bare base
    load_centers : (k, 2) where the body was shaped to bear hardest
    base_holes, impression_holes : x, y, radius of what the scanner missed
    """

    name: str
    family: str
    base: Height
    undisturbed: Height
    body: Height
    outline: Float
    floor: float
    landmarks: tuple[tuple[str, tuple[float, float], tuple[float, float]], ...]
    load_centers: tuple[tuple[float, float], ...]
    base_holes: tuple[tuple[float, float, float], ...]
    impression_holes: tuple[tuple[float, float, float], ...]
    fillet: float = 3.0
    lip: float = 5.0
    wall: float | None = None
    bulge: float = 4.0
    noise_mm: float = 0.3
    press_direction: Float = field(default_factory=lambda: np.array([0.0, 0.0, -1.0]))

    def clay(self, x: Float, y: Float) -> Float:
        """Return the pressed clay's height: the lower of clay and body, and a bulge squeezed up around the body."""
        clay, body = self.undisturbed(x, y), self.body(x, y)
        gap = np.clip(body - clay, 0.0, 1e3)  # the rise never exceeds it: its slope over the gap is at most 0.8
        height = clay - self.base(x, y)
        rise = self.bulge * np.exp(-0.5 * gap / self.bulge) * (1.0 - np.exp(-0.8 * gap / self.bulge))
        rise = rise * smooth_step(height, 0.3 * self.bulge, 3.0 * self.bulge)
        return np.minimum(clay + rise, body)

    def is_clay(self, x: Float, y: Float) -> NDArray[np.bool_]:
        """Tell where clay covers the base."""
        return self.clay(x, y) > self.base(x, y)

    def is_contact(self, x: Float, y: Float) -> NDArray[np.bool_]:
        """Tell where the body touched the clay."""
        return self.is_clay(x, y) & (self.body(x, y) <= self.undisturbed(x, y))

    def impression(self, x: Float, y: Float) -> Float:
        """Return the height of what is seen from above: clay where there is some, else the bare base."""
        return np.maximum(self.base(x, y), self.clay(x, y))


def slab(depth: Float, thickness: float, wall: float) -> Float:
    """Return a clay slab's thickness `depth` mm inside its outline: sharp toe, rounded shoulder; -inf outside."""
    rising = thickness * np.sin(0.5 * np.pi * np.clip(depth / wall, 0.0, 1.0))
    return np.where(depth > 0.0, rising, -np.inf)


def bump(x: Float, y: Float, at: tuple[float, float], radius: float, height: float, edge: float) -> Float:
    """Return a flat-topped round bump (a screw head; a dish when the height is negative)."""
    return height * smooth_step(np.hypot(x - at[0], y - at[1]), radius, radius - edge)


SEAT_SCREWS = ((-112.0, -92.0), (112.0, -92.0), (-122.0, 74.0), (118.0, 84.0))
SEAT_BONES = ((-58.0, 24.0), (58.0, 24.0))


def seat_part(clay_mm: float = 30.0) -> HeightPart:
    """Return a sliding seat, 300 x 240 mm: two dished cut-outs under the sit bones, a notch behind, four screws."""

    def radius(angle: Float) -> Float:
        power = 6.0
        cos, sin = np.cos(angle), np.sin(angle)
        plain = ((np.abs(cos) / 150.0) ** power + (np.abs(sin) / 120.0) ** power) ** (-1.0 / power)
        return plain - 26.0 * np.exp(-((plain * cos / 22.0) ** 2)) * (sin > 0.0)

    def base(x: Float, y: Float) -> Float:
        height = 3.0 * (x / 150.0) ** 2 + 5.0 * (np.clip(y, 0.0, None) / 120.0) ** 2
        for at in SEAT_BONES:
            height = height + bump(x, y, at, 46.0, -5.0, 20.0)
        for at in SEAT_SCREWS:
            height = height + bump(x, y, at, 6.0, 2.6, 1.6)
        return height

    def undisturbed(x: Float, y: Float) -> Float:
        depth = rounded_box_depth(x, y + 2.0, 124.0, 92.0, 4.0)
        notch = np.hypot(x, y - 104.0) - 38.0
        return base(x, y) + slab(np.minimum(depth, notch), clay_mm, 9.0)

    def body(x: Float, y: Float) -> Float:
        cheeks = []
        for at in SEAT_BONES:
            away_x, away_y = x - at[0], y - at[1]
            round_part = away_x**2 / 230.0 + np.where(away_y > 0.0, away_y**2 / 190.0, away_y**2 / 300.0)
            bone = 8.0 * np.exp(-(away_x**2 + away_y**2) / (2.0 * 17.0**2))
            cheeks.append(13.0 + round_part - bone)
        return -4.0 * np.logaddexp(-cheeks[0] / 4.0, -cheeks[1] / 4.0)

    return HeightPart(
        name="Sculler seat pad",
        family="seat_pad",
        base=base,
        undisturbed=undisturbed,
        body=body,
        outline=loop_from_radius(radius),
        floor=-9.0,
        landmarks=(
            ("screw to screw, front", SEAT_SCREWS[0], SEAT_SCREWS[1]),
            ("screw to screw, left side, front to rear", SEAT_SCREWS[1], SEAT_SCREWS[3]),
        ),
        load_centers=SEAT_BONES,
        base_holes=((35.0, -85.0, 7.0), (-134.0, 20.0, 6.0)),
        impression_holes=((70.0, 40.0, 6.0), (0.0, -30.0, 5.0), (-105.0, -55.0, 8.0)),
    )
