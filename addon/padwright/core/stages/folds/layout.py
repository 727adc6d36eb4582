"""Where folded walls may stand in a pad, which way they run and lean, and how steep they may be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.cached import cached_property
from ...base.errors import InputError
from ...base.mesh import Bool, Float
from ...base.notes import to_look_at
from ...base.progress import Progress, Steps
from ...geometry.frames import moved, rigid
from ..pad.pad import BuiltPad
from ..printing.orientation import lying
from .columns import PadColumns, pad_columns
from .curves import Border, WallCurve, border_of, frame, gallery_mm, is_frame, rings_in, rings_to_ridge, rows
from .lean import LEAST_GAP_MM, lean_limit
from .ties import ties

WAVE_MM = 120.0
"""Length of a wave of the rows in plan. Short waves hold nothing against sway (their halves turn against each other),
long ones cost least in the press: by 3-D elements, docs/models/folds.md."""

_DENSITY, _LEAST_PITCH = (0.6, 1.6), 1.25
"""Bounds of the walls' density over a pitch's and of their pitch over their width: a raster of walls has its noise."""

SPARE_DEG = 1.0
"""Walls lean so much less than allowed: triangles of a bent face lean a little more than it does."""

RING_DEG = (20.0, 35.0)
"""So far rings lean at least and at most where they may: rows end before rings' folds, and rows' heads lean out to the
rings again, as far as heads may lean. Under low cores there is no room for all of it; then roofs there are wider."""

STRAIGHT_MM = 100.0
"""Rows in a field narrower than this run straight: the frame alone holds it (the same elements)."""


@dataclass(frozen=True)
class FoldWishes:
    """What is asked of the walls; lengths in mm."""

    width_mm: float  # of a wall cut level: whole beads
    pitch_mm: float
    body_skin_mm: float
    base_skin_mm: float
    folds: int = 1
    most_slope_deg: float = 45.0
    longest_bridge_mm: float = 5.0
    least_core_mm: float = 4.0
    layout: str = "rows"  # "rows" or "rings"
    voids: str = "open"  # "open" or "sealed"
    direction: Sequence[float] | None = None  # (3,), part frame: how rows run; across the longer side without it
    wave_deg: float = 15.0  # how far rows swing out of their run at most, where the pad is wide enough to want one


@dataclass(frozen=True, eq=False)
class FoldLayout:
    """The plane the walls stand on, as rasters (nx, ny), and the walls' lines in it.

    In the plane frame z points from the base side to the body side, up as the part is printed, and walls lean towards
    growing x; cell (i, j) has its middle at origin + step (i, j).
    """

    to_plane: Float  # (4, 4), part frame to plane frame, rigid
    wishes: FoldWishes
    columns: PadColumns
    height_mm: Float  # of the core, free between the skins; 0 where no walls stand
    radius_mm: Float  # of the walls' bends in plan (root of the mean square of curvature); inf where straight
    waver: Float  # mean sin^2 of the walls' angle to their run
    slope_limit_deg: Float  # steepest lean from upright that has room
    border: Border
    rings: int  # in the frame
    walls: tuple[WallCurve, ...]
    notes: tuple[str, ...] = field(default=())

    @property
    def origin(self) -> Float:
        """Middle of cell (0, 0), (2,), mm."""
        return self.columns.origin

    @property
    def step_mm(self) -> float:
        """From cell to cell."""
        return self.columns.step_mm

    @property
    def low_mm(self) -> Float:
        """Outer face of the base side."""
        return self.columns.low_mm

    @property
    def high_mm(self) -> Float:
        """Outer face of the body side."""
        return self.columns.high_mm

    @property
    def is_core(self) -> Bool:
        """Where walls stand."""
        return self.columns.is_core

    @property
    def is_solid(self) -> Bool:
        """Inside the footprint, without walls or void."""
        return self.columns.is_solid

    @property
    def width_mm(self) -> float:
        """Of a wall cut level."""
        return self.wishes.width_mm

    @property
    def pitch_mm(self) -> float:
        """From wall to wall."""
        return self.wishes.pitch_mm

    @cached_property
    def pitch_at_mm(self) -> Float:
        """The ground that walls bear over their length, (nx, ny): the pitch, less where they stand closer.

        A wall at the very edge bears half a pitch of ground inside of it, so a frame is denser than the rows. Counted
        over about a pitch; rows by what they go along their run, since `waver` says that they are longer.
        """
        length = np.zeros(self.height_mm.shape)
        for wall in self.walls:
            way = np.diff(wall.points, axis=0)
            share = np.abs(way[:, 1]) if wall.kind == "row" else np.hypot(*way.T)
            np.add.at(length, self.columns.nearest(0.5 * (wall.points[1:] + wall.points[:-1])), share)
        sigma = self.pitch_mm / self.step_mm
        ground = ndimage.gaussian_filter(self.is_core * self.step_mm**2, sigma)
        density = self.pitch_mm * ndimage.gaussian_filter(length, sigma) / np.maximum(ground, 1e-9)
        pitch = self.pitch_mm / np.clip(np.where(ground > 1e-6, density, 1.0), *_DENSITY)
        return np.asarray(np.maximum(pitch, _LEAST_PITCH * self.width_mm))

    @property
    def folds(self) -> int:
        """Folds of a wall over its height."""
        return self.wishes.folds

    @property
    def body_skin_mm(self) -> float:
        """Skin under the body."""
        return self.wishes.body_skin_mm

    @property
    def base_skin_mm(self) -> float:
        """Skin on the base side."""
        return self.wishes.base_skin_mm

    @property
    def most_slope_deg(self) -> float:
        """Steepest lean from upright that was allowed."""
        return self.wishes.most_slope_deg

    def flat(self, points: Float) -> Float:
        """Return points (n, 3) of the part frame in the plane, (n, 2)."""
        return np.asarray(moved(self.to_plane, points)[:, :2])

    def centers(self, cell: NDArray[np.int64]) -> Float:
        """Return the middles (c, 2) of cells by their flat numbers."""
        return self.origin + self.step_mm * np.stack(np.unravel_index(cell, self.height_mm.shape), axis=1)

    def index(self, points: Float) -> NDArray[np.int64]:
        """Return the flat number of the cell of the footprint nearest to each point (n, 3) of the part frame."""
        return self._nearest[self.columns.nearest(self.flat(points))]

    @cached_property
    def _nearest(self) -> NDArray[np.int64]:
        """The flat number of the cell of the footprint nearest to each cell."""
        at = ndimage.distance_transform_edt(~self.columns.is_footprint, return_distances=False, return_indices=True)
        return np.asarray(np.ravel_multi_index(tuple(at), self.height_mm.shape))


def lay_out(pad: BuiltPad, wishes: FoldWishes) -> Steps[FoldLayout]:
    """Find where walls stand in a pad.

    Raises InputError for a part that wraps around its base, when the walls leave no gap between them, and when the pad
    is nowhere thick enough for walls.
    """
    _check(wishes)
    if pad.press_direction is None:
        raise InputError(
            "Folded walls stand upright on a bed; a part that wraps around its base has no side to lie on.",
            hint='Use [fill] kind = "settings", or give [body] press_direction if it is pressed one way.',
        )
    to_plane = _plane(pad, wishes)
    yield Progress(0.1, "measuring the pad's columns")
    columns = pad_columns(
        pad.mesh.transformed(to_plane), wishes.base_skin_mm, wishes.body_skin_mm, wishes.least_core_mm
    )
    if not columns.is_core.any():
        most = float((columns.core_high_mm - columns.core_low_mm)[columns.is_footprint].max(initial=0.0))
        raise InputError(
            f"Between the skins the pad is at most {most:.1f} mm high; folded walls need {wishes.least_core_mm:g} mm.",
            hint='Make the pad thicker or the skins thinner, or use [fill] kind = "settings".',
        )
    yield Progress(0.5, "laying out the walls")
    height = np.where(columns.is_core, _free_height(columns, wishes), 0.0)
    border = border_of(columns)
    is_rings = wishes.layout == "rings"
    rings = rings_to_ridge(border, wishes.pitch_mm, wishes.width_mm) if is_rings else rings_in(border, wishes.pitch_mm)
    x, y = np.meshgrid(
        *(columns.origin[axis] + columns.step_mm * np.arange(height.shape[axis]) for axis in (0, 1)), indexing="ij"
    )
    inside = columns.is_core
    middle = np.array([0.5 * (x[inside].min() + x[inside].max()), 0.5 * (y[inside].min() + y[inside].max())])
    wave_deg = wishes.wave_deg if min(np.ptp(x[inside]), np.ptp(y[inside])) > STRAIGHT_MM else 0.0
    amplitude = WAVE_MM * np.tan(np.radians(wave_deg)) / (2.0 * np.pi)
    around = frame(columns, border, wishes.pitch_mm, wishes.width_mm, rings, to_ridge=is_rings)
    field_of_rows: list[WallCurve] = []
    if not is_rings:
        field_of_rows = rows(columns, border, wishes.pitch_mm, wishes.width_mm, rings, middle, amplitude, WAVE_MM)
    turn = np.linspace(0.0, np.pi, 200)
    swing = np.tan(np.radians(wave_deg)) * np.cos(turn)
    waver = float(np.mean(swing**2 / (1.0 + swing**2)))
    bends = 2.0 * np.pi / WAVE_MM * np.tan(np.radians(wave_deg)) * np.sin(turn) / (1.0 + swing**2) ** 1.5
    bend = float(np.sqrt(np.mean(bends**2)))
    half = height / (2.0 * wishes.folds)
    reach = np.tan(np.radians(wishes.most_slope_deg - 2.0 * SPARE_DEG)) * half - wishes.width_mm
    least, most = (np.tan(np.radians(min(each, wishes.most_slope_deg))) for each in RING_DEG)
    ring_mm = np.clip(reach - gallery_mm(wishes.width_mm), least * half, most * half)
    if is_rings:  # no rows have to reach them
        ring_mm = np.tan(np.radians(wishes.most_slope_deg)) * half
    limit = lean_limit(columns, border, around, rings, wishes.width_mm, wishes.pitch_mm, ring_mm)
    limit_deg = np.degrees(np.arctan2(2.0 * wishes.folds * limit, np.maximum(height, 1e-9)))
    framed = is_frame(columns, border, wishes.pitch_mm, wishes.width_mm, rings)
    radius = np.full(height.shape, 1.0 / bend if bend > 0.0 else np.inf)
    if around:
        near = cKDTree(np.concatenate([each.points for each in around])).query(np.stack([x[framed], y[framed]], axis=1))
        radius[framed] = np.concatenate([each.radius_mm for each in around])[near[1]]
    walls = [*around, *field_of_rows]
    yield Progress(1.0, "walls laid out")
    return FoldLayout(
        to_plane,
        wishes,
        columns,
        height,
        radius,
        np.where(framed, 0.0, waver),
        np.where(inside, np.minimum(limit_deg, wishes.most_slope_deg - SPARE_DEG), 0.0),
        border,
        rings,
        (*walls, *ties(columns, walls, wishes.width_mm, wishes.longest_bridge_mm)),
        _notes(columns),
    )


def _check(wishes: FoldWishes) -> None:
    gap = wishes.pitch_mm - wishes.width_mm
    if gap < LEAST_GAP_MM:
        raise InputError(
            f"Walls {wishes.width_mm:g} mm wide at a pitch of {wishes.pitch_mm:g} mm leave {gap:.2g} mm between them; "
            f"{LEAST_GAP_MM:g} mm is the least.",
            hint="Make [fill] pitch_mm larger or wall_beads smaller.",
        )
    if gap > wishes.longest_bridge_mm + 1e-9:
        raise InputError(
            f"The roof between walls spans {gap:.2f} mm; your printer bridges {wishes.longest_bridge_mm:g} mm.",
            hint="Make [fill] pitch_mm smaller, or longest_bridge_mm larger if a test print shows that it holds.",
        )


def _plane(pad: BuiltPad, wishes: FoldWishes) -> Float:
    """Return the motion to the plane frame: the press direction to -z, the walls' run to y."""
    assert pad.press_direction is not None
    turn = lying(-np.asarray(pad.press_direction, dtype=np.float64))
    if wishes.direction is not None:
        run = turn @ np.asarray(wishes.direction, dtype=np.float64)
        if np.hypot(*run[:2]) < 0.1 * np.linalg.norm(run):
            raise InputError(
                "The walls' direction is the press direction itself.",
                hint="[fill] direction says how walls run along the pad, across the press direction.",
            )
        angle = np.arctan2(run[1], run[0])
    else:
        angle = _short_side(pad.mesh.vertices @ turn.T)
    # The run goes to y.
    back = 0.5 * np.pi - angle
    cosine, sine = np.cos(back), np.sin(back)
    about = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    return rigid(about @ turn, np.zeros(3))


def _short_side(points: Float) -> float:
    """Return the angle in the plane along the shorter side of the least rectangle around the points, radians."""
    from scipy.spatial import ConvexHull

    corner = points[ConvexHull(points[:, :2]).vertices, :2]
    angles = np.radians(np.arange(0.0, 90.0, 1.0))
    along = np.stack([np.ptp(corner @ np.array([np.cos(a), np.sin(a)])) for a in angles])
    across = np.stack([np.ptp(corner @ np.array([-np.sin(a), np.cos(a)])) for a in angles])
    best = int(np.argmin(np.round(along * across, 3)))
    return float(angles[best] if along[best] < across[best] else angles[best] + 0.5 * np.pi)


def _free_height(columns: PadColumns, wishes: FoldWishes) -> Float:
    """Return how high walls are, mm: under a sloping body side the roof goes in steps, and a head meets the lower."""
    rise = np.abs(np.gradient(ndimage.gaussian_filter(columns.core_high_mm, 1.0), columns.step_mm, axis=0))
    return np.asarray(np.maximum(columns.core_high_mm - columns.core_low_mm - wishes.pitch_mm * rise, 1.0))


def _notes(columns: PadColumns) -> tuple[str, ...]:
    share = float(columns.is_solid.sum() / max(columns.is_footprint.sum(), 1))
    if share < 0.01:
        return ()
    return (
        to_look_at(
            f"{100 * share:.0f} % of the footprint is too thin or too narrow for walls and is solid: firm there."
        ),
    )
