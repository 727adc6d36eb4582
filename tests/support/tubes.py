"""Handles a hand wraps around: bent tubes with clay all around them and finger grooves pressed in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.query import NearestSurface
from scan_making import Float, Sheet, grid_faces, smooth_step

from .truth import Truth

Radius = Callable[[Float, Float], Float]


@dataclass(frozen=True)
class TubePart:
    """A handle around an arc in the x-z plane, radius by place along (mm) and angle about the axis (rad).

    Attributes
    ----------
    base, undisturbed, hand : radius of (along, angle), mm; the clay's is 0 where there is none
    curvature : of the axis, 1 / mm; the angle 0, where the fingers lie, points to its center
    length : of the axis, mm; the far end is domed, the near end open
    clay : where the clay starts and ends along the axis, and how long its tapers are
    """

    name: str
    base: Radius
    undisturbed: Radius
    hand: Radius
    curvature: float
    length: float
    clay_from: float
    clay_to: float
    taper: float
    landmarks: tuple[tuple[str, tuple[float, float], tuple[float, float]], ...]
    load_centers: tuple[tuple[float, float], ...]
    base_holes: tuple[tuple[float, float, float], ...]
    impression_holes: tuple[tuple[float, float, float], ...]
    noise_mm: float = 0.3

    def clay_radius(self, along: Float, angle: Float) -> Float:
        """Return the pressed clay's radius, mm: the lesser of clay and hand."""
        return np.minimum(self.undisturbed(along, angle), self.hand(along, angle))

    def impression(self, along: Float, angle: Float) -> Float:
        """Return the radius of what the scanner sees, mm."""
        return np.maximum(self.base(along, angle), self.clay_radius(along, angle))

    def placed(self, along: Float, angle: Float, radius: Float) -> Float:
        """Return positions (..., 3), mm."""
        bend = self.curvature * along
        if self.curvature > 0.0:
            axis_x, axis_z = np.sin(bend) / self.curvature, (1.0 - np.cos(bend)) / self.curvature
        else:
            axis_x, axis_z = along, np.zeros_like(along)
        up, side = radius * np.cos(angle), -radius * np.sin(angle)
        return np.stack([axis_x - up * np.sin(bend), side, axis_z + up * np.cos(bend)], axis=-1)

    def surface(self, is_impression: bool, triangles: int, rng: np.random.Generator) -> Sheet:
        """Return the outer surface in the true frame, open at the near end."""
        radius = self.impression if is_impression else self.base
        spacing = float(np.sqrt((self.length + 60.0) * 2.0 * np.pi * 18.0 / (0.5 * triangles)))
        columns = round(2.0 * np.pi * 18.0 / spacing)
        ticks = np.linspace(0.0, self.length, 4000)
        in_taper = (np.abs(ticks - self.clay_from - 0.5 * self.taper) < 0.7 * self.taper) | (
            np.abs(ticks - self.clay_to + 0.5 * self.taper) < 0.7 * self.taper
        )
        density = np.cumsum(np.where(in_taper & is_impression, 3.0, 1.0))
        rows = round(density[-1] / len(ticks) * self.length / spacing)
        stations = np.interp(np.linspace(density[0], density[-1], rows), density, ticks)
        end_radius = float(self.base(np.array(self.length), np.array(0.0)))
        bends = np.linspace(0.0, 0.5 * np.pi, max(4, round(1.6 * end_radius / spacing)))[1:-1]
        along = np.concatenate([stations, self.length + end_radius * np.sin(bends)])[:, None]
        shrink = np.concatenate([np.ones(rows), np.cos(bends)])[:, None]
        angle = np.linspace(0.0, 2.0 * np.pi, columns, endpoint=False)[None, :]
        jitter = rng.uniform(-0.18, 0.18, (2, len(along), columns))
        jitter[:, [0, *range(rows - 1, len(along))]] = 0.0
        angle = angle + jitter[0] * 2.0 * np.pi / columns
        along = along + jitter[1] * np.gradient(along[:, 0])[:, None]
        at = np.minimum(along, self.length)
        points = self.placed(along, angle, shrink * radius(at, angle))
        pole = self.placed(np.array([self.length + end_radius]), np.zeros(1), np.zeros(1))
        faces = grid_faces(len(along), columns + 1)
        row, column = np.divmod(faces, columns + 1)
        faces = (row * columns + column % columns)[:, ::-1]
        last = (len(along) - 1) * columns + np.arange(columns)
        fan = np.stack([last, np.roll(last, -1), np.full(columns, len(along) * columns)], axis=1)
        return np.concatenate([points.reshape(-1, 3), pole]), np.concatenate([faces, fan])

    def truth(self) -> Truth:
        """Return the true numbers, by the midpoint rule over (along, angle).

        Volume between two radii about an arc of curvature k: (b^2 - a^2) / 2 - k cos(angle) (b^3 - a^3) / 3 per unit
        of length and angle, because the volume element is (1 - k r cos(angle)) r.
        """
        rows, columns = 900, 480
        step, turn = self.length / rows, 2.0 * np.pi / columns
        along, angle = np.meshgrid((np.arange(rows) + 0.5) * step, (np.arange(columns) + 0.5) * turn, indexing="ij")
        base, clay = self.base(along, angle), self.clay_radius(along, angle)
        is_clay = clay > base
        outer = np.where(is_clay, clay, base)
        bent = self.curvature * np.cos(angle) * (outer**3 - base**3) / 3.0
        volume = float(((outer**2 - base**2) / 2.0 - bent).sum() * step * turn)
        base_area, outer_area = self._areas(base, along, angle), self._areas(outer, along, angle)
        is_contact = is_clay & (self.hand(along, angle) <= self.undisturbed(along, angle))
        base_points, outer_points = self.placed(along, angle, base), self.placed(along, angle, outer)
        coarse = base_points[::3, ::2]
        nearest = NearestSurface(TriMesh(coarse.reshape(-1, 3), grid_faces(*coarse.shape[:2])[:, ::-1]))
        centers, least = self._load_centers(along, angle, outer - base, outer_points, nearest)
        far = gaussian_filter(is_clay.astype(float), (4.0 / step, 0.0)) > 0.999
        chosen = np.sort(np.random.default_rng(5).choice(np.flatnonzero(far), 400, replace=False))
        points = outer_points.reshape(-1, 3)[chosen]
        return Truth(
            press_direction=None,
            volume_mm3=volume,
            footprint_area_mm2=float(base_area[is_clay].sum()),
            contact_area_mm2=float(outer_area[is_contact].sum()),
            load_centers=centers,
            load_thickness=least,
            spacing_mm=None,
            points=points,
            thickness=nearest.find(points).distance,
            overlap_share=self._overlap_share(),
        )

    def _areas(self, radius: Float, along: Float, angle: Float) -> Float:
        points = self.placed(along, angle, radius)
        along_step = np.gradient(points, axis=0)
        around = 0.5 * (np.roll(points, -1, axis=1) - np.roll(points, 1, axis=1))
        return np.linalg.norm(np.cross(along_step, around), axis=-1)

    def _load_centers(
        self, along: Float, angle: Float, thickness: Float, points: Float, nearest: NearestSurface
    ) -> tuple[Float, Float]:
        centers = []
        for place, turn in self.load_centers:
            off = np.abs((angle - turn + np.pi) % (2.0 * np.pi) - np.pi)
            reach = (np.abs(along - place) < 8.0) & (off < 0.6)
            centers.append(points.reshape(-1, 3)[np.argmin(np.where(reach, thickness, np.inf))])
        least = nearest.find(np.array(centers)).distance
        order = np.argsort(least, kind="stable")
        return np.array(centers)[order], least[order]

    def _overlap_share(self) -> float:
        sheet = TriMesh(*self.surface(True, 8_000, np.random.default_rng(0)))
        bare = NearestSurface(TriMesh(*self.surface(False, 8_000, np.random.default_rng(0))))
        is_bare = bare.find(sheet.triangles.mean(axis=1)).distance < 0.25
        return float(sheet.face_areas[is_bare].sum() / sheet.area)


def _collar_of(along: Float, start: float, end: float, edge: float) -> Float:
    return smooth_step(along, start, start + edge) * smooth_step(along, end, end - edge)


def _facing(angle: Float, middle: float, half: float, edge: float) -> Float:
    off = np.abs((angle - middle + np.pi) % (2.0 * np.pi) - np.pi)
    return smooth_step(off, half, half - edge)


def _gripped(along: Float, angle: Float, fingers: tuple[float, ...], plain: float) -> Float:
    grooves = sum(np.exp(-(((along - place) / 8.0) ** 2)) for place in fingers)
    from_front = (angle + np.pi) % (2.0 * np.pi) - np.pi
    from_palm = angle % (2.0 * np.pi) - np.pi
    palm = np.exp(-((from_palm / 0.9) ** 2) - ((along - np.mean(fingers)) / 26.0) ** 2)
    return plain - 9.0 * grooves * np.exp(-(from_front**2) / 1.1) - 6.5 * palm


FINGERS = (46.0, 65.0, 84.0, 101.0)


def grip_part() -> TubePart:
    """Return a bent, slightly D-shaped handle with a collar and a trigger block, clay and a hand around it."""

    def base(along: Float, angle: Float) -> Float:
        radius = 14.0 + 1.1 * np.cos(2.0 * angle) - 0.5 * np.cos(angle) + 0.0 * along
        radius = radius + 4.0 * _collar_of(along, 4.0, 16.0, 3.0)
        return radius + 7.0 * _collar_of(along, 17.0, 31.0, 3.5) * _facing(angle, 0.4, 0.6, 0.3)

    def undisturbed(along: Float, angle: Float) -> Float:
        depth = np.minimum(along - 35.0, 113.0 - along)
        rising = 11.5 * np.sin(0.5 * np.pi * np.clip(depth / 5.0, 0.0, 1.0))
        return np.where(depth > 0.0, base(along, angle) + rising, 0.0)

    def hand(along: Float, angle: Float) -> Float:
        return _gripped(along, angle, FINGERS, 28.5)

    return TubePart(
        name="Bicycle-like hand grip",
        base=base,
        undisturbed=undisturbed,
        hand=hand,
        curvature=1.0 / 260.0,
        length=134.0,
        clay_from=35.0,
        clay_to=113.0,
        taper=5.0,
        landmarks=(
            ("collar to the end's side", (10.0, 3.0), (130.0, 3.0)),
            ("trigger block to the end's side", (24.0, 0.4), (128.0, 1.6)),
        ),
        load_centers=tuple((place, 0.0) for place in FINGERS),
        base_holes=((60.0, 2.0, 4.0), (22.0, 3.6, 3.0)),
        impression_holes=((75.0, 1.6, 3.5), (122.0, 4.0, 3.0)),
    )


def _polygon_radius(angle: Float, sides: int) -> Float:
    """Return the radius of a polygon with rounded corners, 15 mm from its axis to the middle of a side."""
    facing = np.cos(angle[..., None] - 2.0 * np.pi * np.arange(sides) / sides)
    return 15.0 * (np.clip(facing, 0.0, None) ** 14.0).sum(axis=-1) ** (-1.0 / 14.0)


def plain_grip_part(sides: int = 0) -> TubePart:
    """Return a straight handle that is alike after a turn of 360 / sides degrees; without sides it is round.

    Nothing on it tells which of these turns it is, or, when it is round, any turn.
    """

    def base(along: Float, angle: Float) -> Float:
        radius = _polygon_radius(np.asarray(angle), sides) if sides else 15.0 + 0.0 * angle
        return radius + 0.0 * along

    def undisturbed(along: Float, angle: Float) -> Float:
        depth = np.minimum(along - 35.0, 113.0 - along)
        rising = 11.0 * np.sin(0.5 * np.pi * np.clip(depth / 5.0, 0.0, 1.0))
        return np.where(depth > 0.0, base(along, angle) + rising, 0.0)

    def hand(along: Float, angle: Float) -> Float:
        return _gripped(along, angle, FINGERS, 28.5)

    return TubePart(
        name="Plain hand grip",
        base=base,
        undisturbed=undisturbed,
        hand=hand,
        curvature=0.0,
        length=134.0,
        clay_from=35.0,
        clay_to=113.0,
        taper=5.0,
        landmarks=(
            ("pen mark to pen mark, lengthwise", (5.0, 3.0), (130.0, 3.0)),
            ("pen mark to pen mark, aslant", (10.0, 0.4), (124.0, 1.6)),
        ),
        load_centers=tuple((place, 0.0) for place in FINGERS),
        base_holes=((60.0, 2.0, 4.0),),
        impression_holes=((75.0, 1.6, 3.5), (122.0, 4.0, 3.0)),
    )
