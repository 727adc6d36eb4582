"""What the way heights were read says: the instrument's step, blocks read too fast, loads too small for it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from ....base.mesh import Float, Int
from .coupons import READ_MM, Coupon

_LEAST_SD_MM = 0.05
"""Repeats do not help below half of what can be read: plates and eyes err the same way each time. Assumed."""

STEPS_MM = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
"""Between two marks of rulers and calipers, or two numbers they show."""

_FEWEST_FOR_STEP = 6
"""So many heights that are all multiples of a step are so by chance once in 2^6 sets or less."""

_FINE_MM, _FINE_SD_MM = 0.05, 0.07
"""Calipers that show so little, and what a height read with them is off by: boards tilt. Assumed."""

STEPS_FOR_CALIPERS = 10.0
"""A load that moves a block by fewer steps of the instrument is told to a tenth of it at best."""

LEAST_WAIT_S = 20.0
"""Half a minute is what the sheet asks for, with ten seconds to read. Own choice."""

FINER_MM = 0.01
"""What usual calipers show."""

_DROP = 3.0
"""Standard deviations of a mean drop from which on it is told."""


def rounding(heights_mm: Sequence[float]) -> float:
    """Return the coarsest step of which all heights are multiples; `READ_MM` where they are too few to tell."""
    if len(heights_mm) < _FEWEST_FOR_STEP:
        return READ_MM
    for step in STEPS_MM:
        counts = np.asarray(heights_mm) / step
        if np.abs(counts - np.round(counts)).max() < 1e-6:
            return step
    return STEPS_MM[-1]


def height_sd(step_mm: float, times: int) -> float:
    """Return the standard deviation of a mean of so many heights; rounding to coarse marks does not average out."""
    hand = max((_FINE_SD_MM if step_mm <= _FINE_MM else READ_MM) / math.sqrt(times), _LEAST_SD_MM)
    return hand if step_mm <= READ_MM else math.hypot(hand, step_mm / math.sqrt(12.0))


def hasty(wait_s: Mapping[int, float]) -> list[str]:
    """Return which blocks were read before they had settled, by the waits written down."""
    return [
        f"Block {number} was read {wait:g} s after it was loaded, too fast: it still gives, and looks stiffer than the "
        "blocks that had half a minute. Press it again."
        for number, wait in sorted(wait_s.items())
        if wait < LEAST_WAIT_S
    ]


def sinking(rows: Sequence[tuple[int, int, float, list[float]]], blocks: Mapping[int, Coupon]) -> list[str]:
    """Return which blocks were lower in the second round all along: they had not settled in the first.

    A row is line, block, load in kg, heights of the rounds.
    """
    found = []
    for number in sorted({row[1] for row in rows}):
        least = blocks[number].bare_kg
        drops = [row[3][0] - row[3][1] for row in rows if row[1] == number and row[2] > least and len(row[3]) > 1]
        if len(drops) < 3:
            continue
        drop = float(np.mean(drops))
        if drop > _DROP * READ_MM * math.sqrt(2.0 / len(drops)):
            found.append(
                f"Block {number} is {drop:.1f} mm lower in the second round under the same loads: the first was "
                "pressed too fast, or the block had no rest before. Wait half a minute at each load and press it again."
            )
    return found


def ask_for_calipers(block: Int, load_kg: Float, height_mm: Float, step_mm: float) -> tuple[str, ...]:
    """Return what to read with where the first load moves blocks by fewer than ten of the instrument's steps."""
    need = STEPS_FOR_CALIPERS * step_mm
    short = []
    for number in np.unique(block).tolist():
        own = block == number
        bare, loaded = own & (load_kg < 0.5), np.flatnonzero(own & (load_kg >= 0.5))
        if not bare.any() or len(loaded) == 0:
            continue
        first = int(loaded[np.argmin(load_kg[loaded])])
        moved = float(height_mm[bare].mean() - height_mm[first])
        if moved < need - 1e-9:
            short.append(f"{number} ({max(moved, 0.0):.1f} mm under {load_kg[first]:g} kg)")
    if not short:
        return ()
    finer = f"calipers that show {FINER_MM:g} mm" if step_mm > FINER_MM else "more load"
    return (
        f"Heights were read in steps of {step_mm:g} mm, and the first load moves block {', '.join(short)}: "
        f"less than ten steps, {need:g} mm. Read {'it' if len(short) == 1 else 'them'} with {finer}, or begin with a "
        f"load that moves {'it' if len(short) == 1 else 'them'} by {need:g} mm.",
    )
