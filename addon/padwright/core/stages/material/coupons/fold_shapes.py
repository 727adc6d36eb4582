"""The solids of a block of folded walls, and of the strip that shows how far a printer bridges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ....base.mesh import Float, TriMesh
from ....geometry.solids import Solid, extruded

APART_MM = 0.8
"""Between the walls of one half and the ends of the other's: walls stay free, and a roof bridges it unnoticed."""

_SUNK = 0.5
"""Share of a skin that walls reach into it, so that nothing hangs on a shared face."""

_TOOTH_WIDTH_MM, _TOOTH_LENGTH_MM, _TOOTH_PITCH_MM = 3.0, 2.5, 5.0

BRIDGES_MM = (3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0)
"""Gaps of the strip, from one end to the other."""

_POST_MM, _STRIP_DEEP_MM, _STRIP_SKIN_MM, _FREE_MM = 3.0, 12.0, 1.2, 6.0


@dataclass(frozen=True)
class FoldShape:
    """A block: two squares of equal walls beside each other on common skins, the walls of one across the other's."""

    core_mm: float  # height of the walls, between the skins
    skin_mm: float
    wall_mm: float  # width of a wall in a level cut
    pitch_mm: float
    slope_deg: float  # from upright; one fold, half way up
    walls_a_half: int

    @property
    def run_mm(self) -> float:
        """Length of each wall, and edge of each square."""
        return (self.walls_a_half - 1) * self.pitch_mm + self.wall_mm

    @property
    def height_mm(self) -> float:
        """Height of the whole block."""
        return self.core_mm + 2.0 * self.skin_mm

    @property
    def edges_mm(self) -> tuple[float, float]:
        """Length and width of its skins."""
        return 2.0 * self.run_mm + APART_MM, self.run_mm

    @property
    def lean_mm(self) -> float:
        """How far the folds stand beside the feet."""
        return float(np.tan(np.radians(self.slope_deg))) * 0.5 * self.core_mm


def fold_block(shape: FoldShape, number: int) -> TriMesh:
    """Return a block about the origin on the plane z = 0, with as many teeth as its number along the lower skin's end.

    Its first half, on the low-x side, leans away from the other, whose walls run along x. Raises SolidError when the
    sizes make no solid.
    """
    run, name = shape.run_mm, f"block {number}"
    away = 0.5 * (run + APART_MM)
    one = _stood_up(extruded(_section(shape, APART_MM + _SUNK * shape.wall_mm), run, name))
    other = _stood_up(extruded(_section(shape, 0.0), run, name))
    turned = [one.transformed(_turn(180.0, -away)), other.transformed(_turn(90.0, away))]
    ends = [_tooth(shape, place) for place in np.arange(number) - 0.5 * (number - 1)]
    # Faces that are to lie in one plane do so to the last digit, so that no sliver is left between them.
    first, *others = (Solid.of(TriMesh(np.round(each.vertices, 6), each.faces), name) for each in (*turned, *ends))
    return first.joined(others).mesh()


def bridge_strip(layer_mm: float) -> TriMesh:
    """Return the strip of flat roofs over growing gaps, on the plane z = 0 about the origin.

    Roof and floor are of whole layers, 1.2 mm thick or what comes nearest.
    """
    skin = max(round(_STRIP_SKIN_MM / layer_mm), 2) * layer_mm
    free = max(round(_FREE_MM / layer_mm), 4) * layer_mm
    long = sum(BRIDGES_MM) + (len(BRIDGES_MM) + 1) * _POST_MM
    start = -0.5 * long
    outlines = [_rectangle(start, start + long, bottom, bottom + skin) for bottom in (0.0, skin + free)]
    for gap in (*BRIDGES_MM, 0.0):
        outlines.append(_rectangle(start, start + _POST_MM, 0.0, 2.0 * skin + free))
        start += _POST_MM + gap
    return _stood_up(extruded(outlines, _STRIP_DEEP_MM, "bridge strip"))


def _section(shape: FoldShape, beyond_mm: float) -> list[Float]:
    """Return the outlines of one half across its walls, (x, z) about x = 0: skins, `beyond_mm` longer below, and walls.

    Walls lean towards growing x.
    """
    edge, high = 0.5 * shape.run_mm, shape.skin_mm + shape.core_mm
    skins = [_rectangle(-edge - beyond_mm, edge, low, low + shape.skin_mm) for low in (0.0, high)]
    feet = (np.arange(shape.walls_a_half) - 0.5 * (shape.walls_a_half - 1)) * shape.pitch_mm
    return skins + [_chevron(shape, float(foot)) for foot in feet]


def _chevron(shape: FoldShape, foot_mm: float) -> Float:
    sunk, low, high = _SUNK * shape.skin_mm, shape.skin_mm, shape.skin_mm + shape.core_mm
    up = np.array([low - sunk, low, 0.5 * (low + high), high, high + sunk])
    middle = foot_mm + np.array([0.0, 0.0, shape.lean_mm, 0.0, 0.0])
    half = 0.5 * shape.wall_mm
    return np.concatenate([np.column_stack([middle + half, up]), np.column_stack([middle - half, up])[::-1]])


def _rectangle(left: float, right: float, low: float, high: float) -> Float:
    return np.array([[left, low], [right, low], [right, high], [left, high]])


def _tooth(shape: FoldShape, place: float) -> TriMesh:
    """Return a tooth of the lower skin; `place` counts along its end."""
    end, beside = 0.5 * shape.edges_mm[0], place * _TOOTH_PITCH_MM
    wide = 0.5 * _TOOTH_WIDTH_MM
    outline = np.array([[-1.0, -wide], [_TOOTH_LENGTH_MM, -wide], [_TOOTH_LENGTH_MM, wide], [-1.0, wide]])
    return extruded(outline + np.array([end, beside]), shape.skin_mm, "tooth")


def _stood_up(solid: TriMesh) -> TriMesh:
    """Return a prism with the height of its section along z, centered along its run on y."""
    matrix = np.array([[1.0, 0.0, 0.0, 0.0], [0.0, 0.0, -1.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 0.0, 1.0]])
    matrix[1, 3] = 0.5 * float(np.ptp(solid.vertices[:, 2]))
    return solid.transformed(matrix)


def _turn(degrees: float, along_x_mm: float) -> Float:
    sine, cosine = np.round([np.sin(np.radians(degrees)), np.cos(np.radians(degrees))])
    matrix = np.eye(4)
    matrix[:2, :2] = [[cosine, -sine], [sine, cosine]]
    matrix[0, 3] = along_x_mm
    return matrix


def walls_volume_mm3(shape: FoldShape) -> float:
    """Return the volume of the walls between the skins: what changes with their width."""
    return 2.0 * shape.walls_a_half * shape.run_mm * shape.wall_mm * shape.core_mm


def skins_volume_mm3(shape: FoldShape, number: int) -> float:
    """Return the volume of both skins and the teeth."""
    long, wide = shape.edges_mm
    return 2.0 * long * wide * shape.skin_mm + number * _TOOTH_WIDTH_MM * _TOOTH_LENGTH_MM * shape.skin_mm
