"""More parts that a height field describes: the plate of a nose pad, a board with one screw head.

True frames: mm, z up (towards the body). Sizes are ordinary ones (common practice, no source).
"""

from __future__ import annotations

from demo_shapes import HeightPart, bump, slab
from example_shapes import dent, superellipse
from scan_making import Float, rounded_box_depth


def nose_pad_part() -> HeightPart:
    """Return a nose pad's plate, 21 x 15 mm, with a stud and a keyway; clay 3 mm high, 16 x 12 mm."""

    def base(x: Float, y: Float) -> Float:
        plate = 0.9 * (x / 10.0) ** 2 - 0.5 * (y / 7.5) ** 2
        return plate + bump(x, y, (8.9, 0.8), 0.75, 0.8, 0.4) + bump(x, y, (-8.9, -1.4), 0.75, -0.6, 0.4)

    def undisturbed(x: Float, y: Float) -> Float:
        return base(x, y) + slab(rounded_box_depth(x, y, 7.8, 6.0, 2.6), 3.2, 1.1)

    def body(x: Float, y: Float) -> Float:
        return 2.0 + (x - 0.8) ** 2 / 30.0 + 0.10 * y + (y + 0.5) ** 2 / 22.0

    return HeightPart(
        name="Nose pad",
        family="nose_pad",
        base=base,
        undisturbed=undisturbed,
        body=body,
        outline=superellipse(10.6, 7.6, 2.6),
        floor=-2.2,
        landmarks=(
            ("stud to keyway", (8.9, 0.8), (-8.9, -1.4)),
            ("plate's edge to edge", (1.0, 6.7), (1.0, -6.7)),
        ),
        load_centers=((0.6, -0.5),),
        base_holes=((-3.0, 2.0, 0.5),),
        impression_holes=((3.0, 2.5, 0.4), (8.4, -2.6, 0.3)),
        fillet=0.5,
        lip=0.5,
        wall=0.6,
        bulge=0.4,
        noise_mm=0.04,
    )


def keyed_board_part() -> HeightPart:
    """Return a gently dished board, 200 x 150 mm, alike after half a turn but for one screw head in a corner."""
    screw = (82.0, 56.0)

    def base(x: Float, y: Float) -> Float:
        return 4.0 * (x / 100.0) ** 2 + 3.0 * (y / 75.0) ** 2 + bump(x, y, screw, 6.0, 2.6, 1.6)

    def undisturbed(x: Float, y: Float) -> Float:
        return base(x, y) + slab(rounded_box_depth(x, y, 68.0, 62.0, 4.0), 20.0, 7.0)

    def body(x: Float, y: Float) -> Float:
        return 12.0 + x**2 / 260.0 + y**2 / 240.0 + dent(x, y, (18.0, -10.0), -5.0, 14.0)

    return HeightPart(
        name="Board with one screw head",
        family="seat_pad",
        base=base,
        undisturbed=undisturbed,
        body=body,
        outline=superellipse(100.0, 75.0, 6.0),
        floor=-9.0,
        landmarks=(("screw to the edge", screw, (-90.0, 56.0)), ("edge to edge", (0.0, 69.0), (0.0, -69.0))),
        load_centers=((18.0, -10.0),),
        base_holes=((-40.0, 10.0, 6.0),),
        impression_holes=((30.0, 20.0, 5.0), (-86.0, -30.0, 5.0)),
        lip=4.0,
        bulge=3.0,
    )
