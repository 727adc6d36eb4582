"""Parts of the other families that a height field describes: a footbed, a helmet-like shell, a rest for the nose.

True frames: mm, z up (towards the body). Sizes are ordinary ones (common practice, no source).
"""

from __future__ import annotations

import numpy as np

from demo_shapes import HeightPart, bump, slab
from scan_making import Float, rounded_box_depth, smooth_step


def superellipse(half_x: float, half_y: float, power: float) -> Float:
    """Return a loop, (4000, 2), between an ellipse (power 2) and a box."""
    angle = np.linspace(0.0, 2.0 * np.pi, 4000, endpoint=False)
    cos, sin = np.cos(angle), np.sin(angle)
    return np.stack(
        [
            half_x * np.sign(cos) * np.abs(cos) ** (2.0 / power),
            half_y * np.sign(sin) * np.abs(sin) ** (2.0 / power),
        ],
        axis=1,
    )


def dent(x: Float, y: Float, at: tuple[float, float], depth: float, width: float) -> Float:
    """Return a round hollow or bump with no edge: a bell `width` mm to where it has fallen to six tenths."""
    return depth * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2.0 * width * width))


def insole_part() -> HeightPart:
    """Return a left shoe's footbed, 262 mm long, x medial, y to the toes: heel cup, arch, upstanding walls."""
    half_length = 131.0

    def middle(y: Float) -> Float:
        return 9.0 * smooth_step(y, -40.0, 90.0)

    def half_width(y: Float) -> Float:
        return 35.0 + 13.0 * smooth_step(y, -30.0, 60.0) - 4.0 * np.exp(-(((y + 10.0) / 35.0) ** 2))

    def depth(x: Float, y: Float) -> Float:
        return rounded_box_depth(x - middle(y), y, half_width(y), half_length, 2.6)

    def wall(x: Float, y: Float) -> Float:
        return (7.0 + 11.0 * smooth_step(y, 40.0, -50.0)) * smooth_step(depth(x, y), 15.0, 3.0)

    def base(x: Float, y: Float) -> Float:
        across = x - middle(y)
        arch = 9.0 * np.exp(-(((y + 5.0) / 38.0) ** 2)) * smooth_step(across, -5.0, 34.0)
        spring = 9.0 * smooth_step(y, 50.0, 150.0)
        cup = dent(x, y, (0.0, -88.0), -3.0, 20.0)
        return wall(x, y) + arch + spring + cup

    def undisturbed(x: Float, y: Float) -> Float:
        return base(x, y) + slab(np.minimum(depth(x, y) - 6.0, 102.0 - y), 14.0, 6.0)

    def body(x: Float, y: Float) -> Float:
        across = x - middle(y)
        foot = 8.0 + across**2 / 75.0 + 0.7 * wall(x, y) + 6.0 * smooth_step(y, 50.0, 120.0)
        foot = foot + dent(x, y, (2.0, -86.0), -4.5, 17.0) + dent(x, y, (24.0, 52.0), -6.0, 12.0)
        foot = foot + dent(x, y, (-14.0, 42.0), -2.5, 16.0)
        foot = foot + 9.0 * smooth_step(-y, 90.0, 131.0)
        return foot + 11.0 * np.exp(-(((y + 8.0) / 36.0) ** 2)) * smooth_step(across, -12.0, 30.0)

    loop = superellipse(1.0, half_length, 2.6)
    loop[:, 0] = middle(loop[:, 1]) + half_width(loop[:, 1]) * loop[:, 0]
    return HeightPart(
        name="Running insole",
        family="insole",
        base=base,
        undisturbed=undisturbed,
        body=body,
        outline=loop,
        floor=-8.0,
        landmarks=(
            ("heel wall to toe mark", (0.0, -126.5), (9.0, 116.0)),
            ("toe marks, side to side", (-18.0, 106.0), (35.0, 107.0)),
        ),
        load_centers=((2.0, -86.0), (24.0, 52.0)),
        base_holes=((10.0, 20.0, 4.0), (-20.0, 75.0, 5.0)),
        impression_holes=((5.0, -40.0, 4.0), (22.0, 60.0, 3.5), (9.0, 110.0, 5.0)),
        fillet=2.5,
        lip=2.5,
        wall=7.0,
        bulge=2.0,
    )


def liner_part() -> HeightPart:
    """Return the inside of a curved shell's patch, 132 x 108 mm, with a rib and two rivets; clay in its middle."""

    def base(x: Float, y: Float) -> Float:
        bowl = 100.0 * (1.0 - np.sqrt(np.clip(1.0 - (x / 105.0) ** 2 - (y / 135.0) ** 2, 0.05, None)))
        rib = 2.6 * np.exp(-(((x + 57.0 + 0.15 * y) / 2.6) ** 2))
        return bowl + rib + bump(x, y, (56.0, 26.0), 5.0, 2.4, 1.6) + bump(x, y, (57.0, -21.0), 5.0, 2.4, 1.6)

    def undisturbed(x: Float, y: Float) -> Float:
        return base(x, y) + slab(rounded_box_depth(x - 1.0, y, 49.0, 45.0, 3.0), 16.0, 6.0)

    def body(x: Float, y: Float) -> Float:
        head = 11.0 + (x - 2.0) ** 2 / 118.0 + (y + 3.0) ** 2 / 150.0
        return head + dent(x, y, (9.0, -8.0), -2.5, 11.0)

    return HeightPart(
        name="Liner pad",
        family="liner_pad",
        base=base,
        undisturbed=undisturbed,
        body=body,
        outline=superellipse(66.0, 54.0, 3.0),
        floor=2.0,
        landmarks=(
            ("rivet to rivet", (56.0, 26.0), (57.0, -21.0)),
            ("rivet to rib's end", (56.0, 26.0), (-52.0, -33.0)),
        ),
        load_centers=((9.0, -8.0),),
        base_holes=((-20.0, 10.0, 4.0), (30.0, 44.0, 3.0)),
        impression_holes=((25.0, 12.0, 3.0), (-58.0, 18.0, 3.0)),
        fillet=1.5,
        lip=2.5,
        wall=3.0,
        bulge=2.0,
    )


def nose_rest_part() -> HeightPart:
    """Return a viewing hood's rest for the nose, a plate of 48 x 38 mm with two studs and a keyway; clay 15 mm high.

    A pad of glasses is 3 mm thick, which leaves no room for walls; what one leans on is thicker.
    """

    def base(x: Float, y: Float) -> Float:
        plate = 2.5 * (x / 20.0) ** 2 - 1.0 * (y / 16.0) ** 2
        studs = bump(x, y, (20.5, 2.0), 1.8, 2.4, 0.8) + bump(x, y, (19.0, -9.5), 1.8, 2.4, 0.8)
        return plate + studs + bump(x, y, (-20.5, -3.5), 1.5, -1.2, 0.8)

    def undisturbed(x: Float, y: Float) -> Float:
        return base(x, y) + slab(rounded_box_depth(x, y, 18.0, 15.5, 2.8), 15.0, 3.0)

    def body(x: Float, y: Float) -> Float:
        saddle = 11.5 + 0.12 * y + (x - 0.8) ** 2 / 70.0 - (y + 0.5) ** 2 / 160.0
        return saddle + dent(x, y, (0.8, -1.0), -1.2, 6.0)

    return HeightPart(
        name="Nose rest",
        family="nose_pad",
        base=base,
        undisturbed=undisturbed,
        body=body,
        outline=superellipse(24.0, 19.0, 2.6),
        floor=-5.0,
        landmarks=(
            ("stud to keyway", (20.5, 2.0), (-20.5, -3.5)),
            ("plate's edge to edge", (1.0, 17.5), (1.0, -17.5)),
        ),
        load_centers=((0.8, -1.0),),
        base_holes=((-8.0, 5.0, 1.0),),
        impression_holes=((7.0, 6.0, 0.8), (20.0, -6.0, 0.7)),
        fillet=1.0,
        lip=1.2,
        wall=1.5,
        bulge=1.0,
        noise_mm=0.06,
    )
