"""Scans of a dished, narrow seat with a nose in front and an open slot along its middle, and their truth.

`make_dished_seat(seed)` is the door; it takes well under a second. The shape is the project's own invention; sizes are
those of a narrow adult seat (common practice, no source). True frame: mm, x to the sitter's left, y to the rear, z up.

It is a hard one: no mirror-free feature but its ends, a quarter of the impression shows bare base (its nose and its
edges), the body pressed the clay down right to the clay's edge, the clay bridges the slot, and the noise of both scans
is correlated, as that of real scanners is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

import scan_making as making
from demo_shapes import HeightPart, slab
from scan_making import Float, Sheet, rounded_box_depth, smooth_step

from .cases import KINDS, Case, Model, height_model, make_case

HALF_LENGTH = 132.0
SIT_BONES = ((-44.0, 52.0), (44.0, 52.0))
SLOT = (-96.0, 66.0, 6.5)
"""Where the slot's middle line begins and ends along y, and half its width."""
_SEEN = 5.0
"""How far down the slot's walls are scanned."""


def half_width(y: Float) -> Float:
    """Return half the seat's width: a nose in front, a broad rear."""
    return 21.0 + 52.0 * smooth_step(y, -75.0, 70.0)


def dish(x: Float, y: Float) -> Float:
    """Return the seat's upper side without its slot: sides and rear rise, the nose is crowned and drops."""
    sides = 9.0 * (x / 72.0) ** 2 * smooth_step(y, -50.0, 40.0)
    crown = -((x / 21.0) ** 2) * 3.5 * smooth_step(y, -20.0, -80.0)
    return sides + crown + 9.0 * smooth_step(y, 25.0, 130.0) - 7.0 * smooth_step(y, -60.0, -140.0)


def in_slot(x: Float, y: Float) -> Float:
    """Return how far inside the slot's outline each place lies, mm; negative outside."""
    start, end, half = SLOT
    return half - np.hypot(x, y - np.clip(y, start, end))


def _depth(x: Float, y: Float) -> Float:
    return rounded_box_depth(x, y, half_width(y), HALF_LENGTH, 2.8)


def clay_inside(x: Float, y: Float) -> Float:
    """Return how far inside the clay's edge each place lies, mm; negative outside."""
    return np.minimum(_depth(x, y) - 4.0, y + 90.0)


def dished_seat_part(clay_mm: float = 18.0) -> HeightPart:
    """Return the seat with clay on its broad part, pressed by two sit bones.

    The clay was laid over the slot without sinking in, so the truth counts it down to the dish there.
    """

    def undisturbed(x: Float, y: Float) -> Float:
        return dish(x, y) + slab(clay_inside(x, y), clay_mm, 7.0)

    def body(x: Float, y: Float) -> Float:
        cheeks = []
        for at in SIT_BONES:
            away_x, away_y = x - at[0], y - at[1]
            round_part = away_x**2 / 260.0 + np.where(away_y > 0.0, away_y**2 / 210.0, away_y**2 / 520.0)
            bone = 6.5 * np.exp(-(away_x**2 + away_y**2) / (2.0 * 15.0**2))
            cheeks.append(19.0 + round_part - bone)
        return -4.0 * np.logaddexp(-cheeks[0] / 4.0, -cheeks[1] / 4.0)

    angle = np.linspace(0.0, 2.0 * np.pi, 4000, endpoint=False)
    cos, sin = np.cos(angle), np.sin(angle)
    y = HALF_LENGTH * np.sign(sin) * np.abs(sin) ** (2.0 / 2.8)
    x = half_width(y) * np.sign(cos) * np.abs(cos) ** (2.0 / 2.8)
    return HeightPart(
        name="Dished seat pad",
        family="seat_pad",
        base=dish,
        undisturbed=undisturbed,
        body=body,
        outline=np.stack([x, y], axis=1),
        floor=-16.0,
        landmarks=(
            ("nose to rear edge", (0.0, -126.0), (0.0, 122.0)),
            ("rear edge, side to side", (-60.0, 100.0), (60.0, 100.0)),
        ),
        load_centers=SIT_BONES,
        base_holes=((30.0, -10.0, 5.0),),
        impression_holes=((-20.0, 20.0, 5.0),),
        lip=2.0,
        wall=5.0,
        bulge=2.5,
    )


def dished_seat_model() -> Model:
    """Return the seat as `make_case` takes it: its height field with the slot cut open where no clay lies."""
    part = dished_seat_part()

    def slotted(x: Float, y: Float) -> Float:
        return dish(x, y) - 12.0 * smooth_step(in_slot(x, y), -1.5, 2.5)

    def pressed(x: Float, y: Float) -> Float:
        return np.where(part.is_clay(x, y), part.clay(x, y), slotted(x, y))

    def surface(is_impression: bool, triangles: int, rng: np.random.Generator) -> Sheet:
        vertices, faces = making.sheet_over(
            pressed if is_impression else slotted,
            part.outline, part.floor, triangles, rng, fillet=part.fillet, lip=part.lip, wall=part.wall,
        )  # fmt: skip
        middle = vertices[faces].mean(axis=1)
        deep = (in_slot(middle[:, 0], middle[:, 1]) > 0.0) & (middle[:, 2] < dish(middle[:, 0], middle[:, 1]) - _SEEN)
        return making.without_loose_vertices((vertices, faces[~deep]))

    return replace(height_model(part), surface=surface)


KINDS["dished_seat"] = dished_seat_model


def make_dished_seat(
    seed: int = 0,
    *,
    noise_mm: float = 0.6,
    wave_mm: tuple[float, float] | None = (2.0, 30.0),
    triangles: int = 20_000,
    pose: str = "any",
    holes: bool = True,
    debris: bool = False,
    **others: Any,
) -> Case:
    """Return two scans of the seat in any pose with correlated noise; `seed` draws noise and poses.

    Parameters
    ----------
    noise_mm : root mean square of each scan's noise along its normals
    wave_mm : shortest and longest wave length of the noise, mm; None for white noise
    triangles : about how many each scan has
    pose : "any", "small" or "none", as for `make_case`, which takes all `others` too
    """
    return make_case(
        "dished_seat", seed=seed, noise_mm=noise_mm, wave_mm=wave_mm, triangles=triangles, pose=pose, holes=holes,
        debris=debris, turntable=debris, **others,
    )  # fmt: skip
