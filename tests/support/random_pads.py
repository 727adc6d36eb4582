"""Pads at random, each by its seed: notched or not, with openings or none, 6 to 30 mm thick, on curved bases."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .pad_shapes import ShapedPad, height_pad

THIN_MM, THICK_MM = 6.0, 30.0


@dataclass(frozen=True, eq=False)
class RandomPad:
    """A pad and how soft it is wished to be."""

    pad: ShapedPad
    is_notched: bool
    openings: int
    thickness_mm: tuple[float, float]  # least and greatest, away from the rim
    wished_kpa: float
    slope_deg: Any  # of the walls that are wished at x and y

    @property
    def kind(self) -> str:
        """Say what its outline is like."""
        words = ["notched" if self.is_notched else "whole", "with openings" if self.openings else "without openings"]
        return ", ".join(words)


def _bumps(random: np.random.Generator, half: np.ndarray, count: int, least: float, most: float) -> Any:
    """Return a smooth field of x and y made of bumps and hollows."""
    middle = random.uniform(-1.0, 1.0, (count, 2)) * half
    width, height = random.uniform(least, most, count), random.normal(size=count)

    def field(x: Any, y: Any) -> Any:
        return sum(
            tall * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2.0 * wide**2))
            for at, wide, tall in zip(middle, width, height, strict=True)
        )

    return field


def random_pad(seed: int) -> RandomPad:
    """Return the pad of a seed."""
    random = np.random.default_rng(seed)
    half = np.array([random.uniform(35.0, 95.0), random.uniform(30.0, 70.0)])
    power = random.uniform(2.0, 4.0)
    is_notched, openings = bool(random.random() < 0.5), int(random.choice([0, 0, 1, 2]))
    angle = random.uniform(0.0, 2.0 * np.pi)
    notch = half * 1.05 * [np.cos(angle), np.sin(angle)]
    notch_mm = random.uniform(0.25, 0.45) * half.min()
    holes = [(random.uniform(-0.4, 0.4, 2) * half, random.uniform(5.0, 12.0)) for _ in range(openings)]
    usual = random.uniform(8.0, 24.0)
    thicker, curved = _bumps(random, half, 5, 18.0, 45.0), _bumps(random, half, 3, 40.0, 80.0)
    tilt, wave = random.uniform(-0.12, 0.12, 2), random.uniform(0.0, 5.0)

    def inside(x: Any, y: Any) -> Any:
        edge = (1.0 - (np.abs(x / half[0]) ** power + np.abs(y / half[1]) ** power) ** (1.0 / power)) * half.min()
        if is_notched:
            edge = np.minimum(edge, np.hypot(x - notch[0], y - notch[1]) - notch_mm)
        for at, radius in holes:
            edge = np.minimum(edge, np.hypot(x - at[0], y - at[1]) - radius)
        return edge

    def bottom(x: Any, y: Any) -> Any:
        return 30.0 + tilt[0] * x + tilt[1] * y + wave * curved(x, y)

    def thickness(x: Any, y: Any) -> Any:
        return np.clip(usual + 5.0 * thicker(x, y), THIN_MM, THICK_MM)

    pad = height_pad(
        lambda x, y: bottom(x, y) + thickness(x, y), bottom, inside, tuple(half), (0.0, 100.0), step=1.6, rim_mm=2.5
    )
    x, y = np.meshgrid(*(np.linspace(-each, each, 60) for each in half), indexing="ij")
    found = thickness(x, y)[inside(x, y) > 3.0]
    steep = _bumps(random, half, 4, 20.0, 60.0)
    return RandomPad(
        pad, is_notched, openings, (float(found.min()), float(found.max())), float(random.uniform(30.0, 150.0)),
        lambda x, y: 22.5 + 22.5 * np.tanh(steep(x, y) + 0.3),
    )  # fmt: skip
