"""Layouts of folded walls on small pads with a round-cornered outline, as shell elements: what may be built, compared.

Walls' feet and heads stand on the same lines. Rings are level lines of the distance to the outline and lean outward;
rows run along y, wave as sin(2 pi y / length) and lean towards x. Slopes follow the height so that straight walls would
have one modulus everywhere, 45 degrees at most.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from padwright.core.stages.folds.sway import Sheet, turned
from padwright.core.stages.material.folds.law import modulus_kpa, shear_kpa
from padwright.core.stages.material.folds.walls import Walls
from support.fold_shells import PadShells, Strip, strip

Array = NDArray[np.float64]
SOLID_KPA, POISSON, PITCH, SKIN = 13200.0, 0.45, 6.0, 1.2
_SLOPES = np.linspace(3.0, 45.0, 200)
_LEAST_BEND = 1.5


@dataclass(frozen=True)
class Outline:
    """A rectangle with round corners, and how high the core is over it: flat, or a dish that is deepest in the middle.

    Lengths in mm.
    """

    half: tuple[float, float]
    bend: float
    heights: tuple[float, float] = (20.0, 20.0)  # in the middle, at the outline

    def depth(self, x: Array, y: Array) -> Array:
        """Return the distance to the outline, negative outside."""
        over = [np.abs(at) - (half - self.bend) for at, half in zip((x, y), self.half, strict=True)]
        outside = np.hypot(*(np.maximum(each, 0.0) for each in over))
        return np.asarray(self.bend - outside - np.minimum(np.maximum(*over), 0.0))

    def height(self, x: Array, y: Array) -> Array:
        """Return the height of the core."""
        far = np.minimum((x / self.half[0]) ** 2 + (y / self.half[1]) ** 2, 1.0)
        return np.asarray(self.heights[0] + (self.heights[1] - self.heights[0]) * far)

    def ring(self, depth: float, size: float) -> Callable[[Array], Array]:
        """Return a function that gives the points (n, 2) of a level line, moved inward by (n,) or a number."""
        bend = max(self.bend - depth, _LEAST_BEND)
        straight = [max(2, round(2 * max(half - depth - bend, 1.0) / size)) for half in self.half]
        corner = max(4, round(0.5 * np.pi * bend / size))
        signs = ((1, -1), (1, 1), (-1, 1), (-1, -1))
        at, ways = [], []  # where between the corners' middles, in their signs; the way of the normal
        for quarter, (here, ahead) in enumerate(zip(signs, signs[1:] + signs[:1], strict=True)):
            side = straight[1 - quarter % 2]
            for share in np.arange(side) / side:
                at.append(np.array(here) + (np.array(ahead) - here) * share)
                ways.append(0.5 * np.pi * quarter)
            for share in np.arange(corner) / corner:
                at.append(np.array(ahead, dtype=float))
                ways.append(0.5 * np.pi * (quarter + share))
        signed, way = np.array(at), np.array(ways)

        def points(inward: Array | float) -> Array:
            inner = depth + np.asarray(inward)
            round_mm = np.maximum(self.bend - inner, _LEAST_BEND)
            long = [np.maximum(half - inner - round_mm, 0.2) for half in self.half]
            return np.stack(
                [signed[:, 0] * long[0] + round_mm * np.cos(way), signed[:, 1] * long[1] + round_mm * np.sin(way)], -1
            )

        return points


@dataclass(frozen=True)
class Layout:
    """Which walls stand."""

    name: str
    rings: int | None  # None: everywhere
    folds: int = 1
    width_mm: float = 1.35
    wave_deg: float = 0.0  # steepest
    wave_mm: float = 80.0

    @property
    def swing_mm(self) -> float:
        """Amplitude of the wave."""
        return float(np.tan(np.radians(self.wave_deg)) * self.wave_mm / (2.0 * np.pi))


@dataclass(frozen=True, eq=False)
class Laid:
    """A layout on an outline whose straight walls would have one modulus, kPa."""

    outline: Outline
    layout: Layout
    kpa: float
    cell_mm: float = 2.5
    size_mm: float = 3.0
    rows: int = 4  # elements from foot to fold

    def slope(self, height: Array) -> Array:
        """Return the slope for the height, degrees."""
        layout = self.layout
        tall = np.linspace(*np.sort(self.outline.heights) + np.array([0.0, 1e-3]), 12)
        grid = np.stack([each.ravel() for each in np.meshgrid(tall, _SLOPES, indexing="ij")])
        walls = Walls(grid[0], layout.width_mm, PITCH, grid[1], layout.folds)
        kpa = modulus_kpa(walls, SOLID_KPA, POISSON).reshape(len(tall), -1)
        own = np.array([np.interp(-self.kpa, -each, _SLOPES) for each in kpa])
        return np.asarray(np.interp(height, tall, own))

    def _lean(self, height: Array) -> Array:
        return np.asarray(np.tan(np.radians(self.slope(height))) * height / (2.0 * self.layout.folds))

    @cached_property
    def first_depth(self) -> float:
        """How far in the outermost ring's foot stands: its fold stays inside."""
        rim = np.array([self.outline.half[0]])
        lean = float(self._lean(self.outline.height(rim, np.zeros(1)))[0])
        return lean + 0.5 * self.layout.width_mm

    @cached_property
    def innermost(self) -> float:
        """Depth of the rows' ends less a pitch."""
        return self.first_depth + ((self.layout.rings or 0) - 1) * PITCH

    @cached_property
    def strips(self) -> list[Strip]:
        """All walls."""
        rings = int(1e6) if self.layout.rings is None else self.layout.rings
        found, depth = [], self.first_depth
        while rings > 0 and depth < min(self.outline.half) - 0.45 * PITCH:
            points = self.outline.ring(depth, self.size_mm)
            foot = points(0.0)
            height = self.outline.height(*foot.T)
            found.append(self._wall(foot, points(-self._lean(height)), height, is_closed=True))
            depth, rings = depth + PITCH, rings - 1
        return found if self.layout.rings is None else found + self._rows()

    def _rows(self) -> list[Strip]:
        half, layout, found = self.outline.half, self.layout, []
        y = np.linspace(-half[1], half[1], 801)
        swing = layout.swing_mm * np.sin(2.0 * np.pi * y / layout.wave_mm)
        for number in range(-int(half[0] / PITCH) - 2, int(half[0] / PITCH) + 3):
            stands = np.flatnonzero(self.outline.depth(number * PITCH + swing, y) >= self.innermost + 0.98 * PITCH)
            if len(stands) < 20:
                continue
            run = max(np.split(stands, np.flatnonzero(np.diff(stands) > 1) + 1), key=len)
            count = max(3, round((y[run[-1]] - y[run[0]]) / self.size_mm) + 1)
            along = np.linspace(y[run[0]], y[run[-1]], count)
            foot = np.column_stack([number * PITCH + np.interp(along, y, swing), along])
            height = self.outline.height(*foot.T)
            fold = foot + np.column_stack([self._lean(height), np.zeros(count)])
            found.append(self._wall(foot, fold, height, is_closed=False))
        return found

    def _wall(self, foot: Array, fold: Array, height: Array, *, is_closed: bool) -> Strip:
        count = 2 * self.layout.folds + 1
        flat = np.stack([fold if level % 2 else foot for level in range(count)], axis=1)
        tall = height[:, None] * np.linspace(0.0, 1.0, count)
        levels = np.concatenate([flat, tall[:, :, None]], axis=2)
        return strip(levels, self.layout.width_mm, max(2, self.rows // self.layout.folds + 1), is_closed=is_closed)

    @cached_property
    def shells(self) -> PadShells:
        """The pad in elements."""
        half, cell = np.array(self.outline.half), self.cell_mm
        count = np.round(2.0 * half / cell).astype(int)
        middle = [(np.arange(n) + 0.5) * cell - h for n, h in zip(count, half, strict=True)]
        corner = [np.arange(n + 1) * cell - h for n, h in zip(count, half, strict=True)]
        x, y = np.meshgrid(*middle, indexing="ij")
        top = self.outline.height(*np.meshgrid(*corner, indexing="ij")) + 0.5 * SKIN
        inside = self.outline.depth(x, y) > 0.0
        return PadShells(self.strips, (-half[0], -half[1]), cell, inside, top, SKIN, 1e-3 * SOLID_KPA, POISSON)

    def sheet(self, pressure_kpa: float, step: float = 3.0) -> Sheet:
        """Return the body skin on springs, as the product takes it: straight walls' stiffness by their run."""
        half, layout = self.outline.half, self.layout
        x, y = np.meshgrid(*(np.arange(-h + 0.5 * step, h, step) for h in half), indexing="ij")
        depth, height = self.outline.depth(x, y), self.outline.height(x, y)
        walls = Walls(height.ravel(), layout.width_mm, PITCH, self.slope(height).ravel(), layout.folds)
        across, along = (each.reshape(x.shape) for each in shear_kpa(walls, SOLID_KPA, POISSON))
        tilt = layout.swing_mm * 2.0 * np.pi / layout.wave_mm * np.cos(2.0 * np.pi * y / layout.wave_mm)
        run = 0.5 * np.pi - np.arctan(tilt)
        slope = np.gradient(depth, step)
        is_ring = depth < self.innermost + 0.5 * PITCH if layout.rings is not None else depth > -1.0
        run = np.where(is_ring, np.arctan2(slope[0], -slope[1]), run)
        bare = depth < self.first_depth - 0.5 * PITCH
        stiff = turned(np.where(bare, 0.0, along), np.where(bare, 0.0, across), run)
        return Sheet(step, depth > 0.0, height, stiff, np.full(x.shape, pressure_kpa), SKIN, SOLID_KPA, POISSON)


def tip_n_mm(wall: Strip, levels: int, modulus: float = 1e-3 * SOLID_KPA) -> float:
    """Return the least stiffness of a half-printed wall's upper edge against a push aside, N/mm.

    Parameters
    ----------
    levels : int
        Rows of elements that stand: those up to the first fold.
    """
    from support.shells import assemble, element_stiffness, factors

    half = Strip(wall.places[:, : levels + 1], wall.thickness[:, :levels], wall.is_closed)
    shell = half.shell(modulus, POISSON)
    count = len(shell.points)
    free = np.flatnonzero(np.arange(count) % (levels + 1) > 0)
    rows = (6 * free[:, None] + np.arange(6)).ravel()
    solved = factors(assemble(shell, element_stiffness(shell))[rows][:, rows].tocsc())
    top = np.flatnonzero(free % (levels + 1) == levels)
    lean = half.places[:, -1, :2] - half.places[:, 0, :2]
    way = lean / np.maximum(np.linalg.norm(lean, axis=1, keepdims=True), 1e-9)
    least = np.inf
    for place in {*range(0, len(top), max(1, len(top) // 12)), len(top) - 1}:
        push = np.zeros(len(rows))
        push[6 * top[place] : 6 * top[place] + 2] = way[place]
        least = min(least, 1.0 / float(push @ solved.solve(push)))  # type: ignore[attr-defined]
    return float(least)
