"""Whole cases for tests: two scans in their files' own numbers, and the truth.

`make_case("seat")` is the door; see `KINDS` for the others. Same arguments, same numbers, always.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

import scan_making as making
from demo_shapes import HeightPart, seat_part
from example_shapes import insole_part, liner_part
from padwright.core.base.mesh import TriMesh
from scan_making import Float, Sheet

from .sheets import keyed_board_part, nose_pad_part
from .truth import Truth, height_truth
from .tubes import Radius, TubePart, grip_part, plain_grip_part

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0}


@dataclass(frozen=True)
class TrueLength:
    """A length a caliper takes: true mm, and its end points in the numbers of each scan's file."""

    name: str
    measured_mm: float
    base_from: Float
    base_to: Float
    impression_from: Float
    impression_to: Float


@dataclass(frozen=True)
class Case:
    """Two scans of one part and what is true of them.

    Attributes
    ----------
    base, impression : TriMesh in the FILE's numbers (unit, wrong scale, any pose, damage)
    base_to_true, impression_to_true : (4, 4) similarity, file numbers -> true frame mm
    base_pose, impression_pose : (4, 4) rigid, true frame mm -> that scan's frame in mm after unit and scale correction
    impression_to_base : (4, 4) rigid, impression frame -> base frame, mm after scale correction: to be found
    base_factor, impression_factor : multiply the file's mm by this to get true mm: what the scale fit must find
    lengths : check lengths with points on both scans
    truth : in the true frame; `load_centers_in_base` and `press_direction_in_base` are in the part frame
    """

    kind: str
    family: str
    unit: str
    base: TriMesh
    impression: TriMesh
    base_to_true: Float
    impression_to_true: Float
    base_pose: Float
    impression_pose: Float
    impression_to_base: Float
    base_factor: float
    impression_factor: float
    lengths: tuple[TrueLength, ...]
    noise_mm: float

    @property
    def truth(self) -> Truth:
        """What is true of the part, in the true frame (worked out when first asked for)."""
        return _truth(self.kind)

    @property
    def mm_per_unit(self) -> float:
        """How many mm one unit of the files is."""
        return MM_PER_UNIT[self.unit]

    @property
    def load_centers_in_base(self) -> Float:
        """Load centers in the base frame, (k, 3), mm after scale correction."""
        return moved(self.base_pose, self.truth.load_centers)

    @property
    def points_in_base(self) -> Float:
        """The points whose thickness is known, in the base frame, (s, 3), mm after scale correction."""
        return moved(self.base_pose, self.truth.points)

    @property
    def press_direction_in_base(self) -> Float | None:
        """Press direction in the base frame (equal to the base file's axes), (3,), or None for wrap-around parts."""
        if self.truth.press_direction is None:
            return None
        return self.base_pose[:3, :3] @ self.truth.press_direction

    @property
    def base_mm(self) -> TriMesh:
        """The base scan in mm with its scale already corrected, in its own frame."""
        return self.base.scaled(self.mm_per_unit * self.base_factor)

    @property
    def impression_mm(self) -> TriMesh:
        """The impression scan in mm with its scale already corrected, in its own frame."""
        return self.impression.scaled(self.mm_per_unit * self.impression_factor)

    @property
    def impression_aligned(self) -> TriMesh:
        """The impression scan in the base frame, mm, by the true motion."""
        return self.impression_mm.transformed(self.impression_to_base)


def moved(matrix: Float, points: Float) -> Float:
    """Return the points moved by a 4x4 matrix."""
    return np.atleast_2d(points) @ matrix[:3, :3].T + matrix[:3, 3]


@dataclass(frozen=True)
class Model:
    """A part without scan errors: what every kind gives to `make_case`.

    Attributes
    ----------
    surface : (is_impression, triangles, generator) -> sheet in the true frame, mm
    landmarks : name, first point, second point, on the bare base
    """

    family: str
    surface: Callable[[bool, int, np.random.Generator], Sheet]
    truth: Callable[[], Truth]
    landmarks: tuple[tuple[str, Float, Float], ...]
    base_holes: list[tuple[Float, float]]
    impression_holes: list[tuple[Float, float]]
    floor: float
    noise_mm: float


def height_model(part: HeightPart) -> Model:
    """Return the model of a height-field part."""

    def on_base(x: float, y: float) -> Float:
        return np.array([x, y, float(part.base(np.array(x), np.array(y)))])

    def on_top(x: float, y: float) -> Float:
        return np.array([x, y, float(part.impression(np.array(x), np.array(y)))])

    def surface(is_impression: bool, triangles: int, rng: np.random.Generator) -> Sheet:
        height = part.impression if is_impression else part.base
        return making.sheet_over(
            height, part.outline, part.floor, triangles, rng, fillet=part.fillet, lip=part.lip, wall=part.wall
        )

    def truth() -> Truth:
        sheet = TriMesh(*surface(True, 10_000, np.random.default_rng(0)))
        middle = sheet.triangles.mean(axis=1)
        at = middle[:, 0], middle[:, 1]
        is_bare = ~part.is_clay(*at) | (middle[:, 2] < part.base(*at) - 0.2)
        return height_truth(part, float(sheet.face_areas[is_bare].sum() / sheet.area))

    return Model(
        family=part.family,
        surface=surface,
        truth=truth,
        landmarks=tuple((name, on_base(*start), on_base(*end)) for name, start, end in part.landmarks),
        base_holes=[(on_base(x, y), radius) for x, y, radius in part.base_holes],
        impression_holes=[(on_top(x, y), radius) for x, y, radius in part.impression_holes],
        floor=part.floor,
        noise_mm=part.noise_mm,
    )


def tube_model(part: TubePart) -> Model:
    """Return the model of a handle."""

    def on(radius: Radius, along: float, angle: float) -> Float:
        at = np.array([along]), np.array([angle])
        return part.placed(*at, radius(*at))[0]

    return Model(
        family="grip",
        surface=part.surface,
        truth=part.truth,
        landmarks=tuple((name, on(part.base, *start), on(part.base, *end)) for name, start, end in part.landmarks),
        base_holes=[(on(part.base, along, angle), size) for along, angle, size in part.base_holes],
        impression_holes=[(on(part.impression, along, angle), size) for along, angle, size in part.impression_holes],
        floor=-40.0,
        noise_mm=part.noise_mm,
    )


KINDS: dict[str, Callable[[], Model]] = {
    "seat": lambda: height_model(seat_part()),
    "insole": lambda: height_model(insole_part()),
    "liner": lambda: height_model(liner_part()),
    "nose_pad": lambda: height_model(nose_pad_part()),
    "grip": lambda: tube_model(grip_part()),
    "round_grip": lambda: tube_model(plain_grip_part()),
    "square_grip": lambda: tube_model(plain_grip_part(4)),
    "hexagonal_grip": lambda: tube_model(plain_grip_part(6)),
    "keyed_board": lambda: height_model(keyed_board_part()),
}


@cache
def _model(kind: str) -> Model:
    return KINDS[kind]()


@cache
def _truth(kind: str) -> Truth:
    return _model(kind).truth()


@cache
def _surface(kind: str, is_impression: bool, triangles: int) -> Sheet:
    return _model(kind).surface(is_impression, triangles, np.random.default_rng([7, is_impression, *kind.encode()]))


def _pose(pose: str, reach: float, rng: np.random.Generator) -> Float:
    matrix = np.eye(4)
    if pose == "none":
        return matrix
    if pose == "small":
        axis = rng.normal(size=3)
        half = 0.5 * np.deg2rad(4.0)
        x, y, z = np.sin(half) * axis / np.linalg.norm(axis)
        w = np.cos(half)
        matrix[:3, :3] = [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
        matrix[:3, 3] = 0.02 * reach * rng.normal(size=3)
        return matrix
    matrix[:3, :3] = making.random_rotation(rng)
    matrix[:3, 3] = reach * rng.uniform(-1.5, 1.5, 3)
    return matrix


def make_case(
    kind: str,
    *,
    seed: int = 0,
    triangles: int = 20_000,
    noise_mm: float | None = None,
    wave_mm: tuple[float, float] | None = None,
    unit: str = "mm",
    base_scale_error: float = 1.0,
    impression_scale_error: float | None = None,
    pose: str = "any",
    holes: bool = True,
    debris: bool = True,
    turntable: bool = True,
) -> Case:
    """Return a case of one kind.

    Parameters
    ----------
    kind : one of `KINDS`
    seed : chooses noise, poses, debris; the part itself never changes
    triangles : about how many the base scan has (the impression's sheet as many)
    noise_mm : standard deviation of the noise along the normals; None for the kind's own (0.3, the nose pad 0.05)
    wave_mm : shortest and longest wave length of correlated noise; None for white noise
    unit : of both files, "mm", "cm" or "m"
    base_scale_error, impression_scale_error : length in the file over true length; None: as the base
    pose : "any" (any rotation, far away), "small" (4 degrees, 2 % of the size), "none" (true frame); each scan its own
    holes, debris, turntable : damage to add
    """
    model = _model(kind)
    rng = np.random.default_rng([seed, *kind.encode()])
    noise = model.noise_mm if noise_mm is None else noise_mm
    impression_scale_error = base_scale_error if impression_scale_error is None else impression_scale_error
    meshes, to_true, poses, to_file = [], [], [], []
    for is_impression, error in ((False, base_scale_error), (True, impression_scale_error)):
        sheet = _surface(kind, is_impression, triangles)
        size = float(np.ptp(sheet[0], axis=0).max())
        if noise > 0.0:
            sheet = making.wavy(sheet, noise, wave_mm, rng) if wave_mm else making.noisy(sheet, noise, rng)
        if holes:
            sheet = making.with_holes(sheet, model.impression_holes if is_impression else model.base_holes)
        sheet = making.littered(sheet, model.floor, rng, debris=debris, turntable=turntable)
        rigid = _pose(pose, size, rng)
        scale = error / MM_PER_UNIT[unit]
        file_matrix = rigid.copy()
        file_matrix[:3] *= scale
        meshes.append(TriMesh(moved(file_matrix, sheet[0]), sheet[1]))
        poses.append(rigid)
        to_file.append(file_matrix)
        to_true.append(np.linalg.inv(file_matrix))
    lengths = tuple(
        TrueLength(
            name,
            float(np.linalg.norm(end - start)),
            *(moved(matrix, point)[0] for matrix in to_file for point in (start, end)),
        )
        for name, start, end in model.landmarks
    )
    return Case(
        kind=kind,
        family=model.family,
        unit=unit,
        base=meshes[0],
        impression=meshes[1],
        base_to_true=to_true[0],
        impression_to_true=to_true[1],
        base_pose=poses[0],
        impression_pose=poses[1],
        impression_to_base=poses[0] @ np.linalg.inv(poses[1]),
        base_factor=1.0 / base_scale_error,
        impression_factor=1.0 / impression_scale_error,
        lengths=lengths,
        noise_mm=noise,
    )
