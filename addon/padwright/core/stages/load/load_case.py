"""What presses (a force, a grip), and the patch of the pad's body side that it presses on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...base.cached import cached_property
from ...base.errors import InputError
from ...base.frozen import hold
from ...base.mesh import Bool, Float, Int, TriMesh
from ...base.text import counted
from ..body.flesh import Flesh
from .mat_error import AS_SHOWN, WAYS, erred
from .run_layer import RunLayer

TILTS = ("free", "held")


@dataclass(frozen=True, eq=False)
class LoadCase:
    """One way the body bears on the pad: a force along the press direction, or a mean pressure all around.

    Raises InputError when not exactly one of force and mean pressure is given, or a number is out of range.
    """

    # Along the press direction; for a wrap-around part the total squeeze, pressure summed over the area.
    force_n: float | None = None
    mean_pressure_kpa: float | None = None  # over the whole patch, instead of the force
    # Where the force acts, (3,); None: `ContactPatch.middle`.
    point_mm: Float | tuple[float, float, float] | None = None
    # "free": the body turns until the moments about the load point balance; "held": it moves straight.
    tilt: str = "free"
    posture: str = ""
    flesh: Flesh | None = None  # between bone and pad; None: a body as hard as stone
    load_factor: float = 1.0  # the load lies between the stated one over and times this, nine times in ten; 1: exact
    # What pushes across the press direction besides; friction must hold it, the pad's columns do not feel it.
    sideways_n: float = 0.0
    weight: float = 1.0  # how much it counts in a mean over several loads

    def __post_init__(self) -> None:
        if not 1.0 <= self.load_factor <= 10.0:
            raise InputError(f"A load known to a factor of {self.load_factor:g} makes no sense; give 1 to 10.")
        if (self.force_n is None) == (self.mean_pressure_kpa is None):
            raise InputError("A load case needs either a force or a mean pressure.", hint="Give one of the two.")
        value, unit = (self.force_n, "N") if self.force_n is not None else (self.mean_pressure_kpa, "kPa")
        if value is None or not (np.isfinite(value) and value > 0.0):
            raise InputError(f"A load of {value} {unit} presses nothing.", hint="Give a number above 0.")
        if self.tilt not in TILTS:
            raise InputError(f'The tilt "{self.tilt}" is not known.', hint='Use "free" or "held".')
        if self.point_mm is not None:
            point = np.array(self.point_mm, dtype=np.float64)
            if point.shape != (3,) or not np.isfinite(point).all():
                raise InputError(f"The load's point must be three numbers; got {self.point_mm}.")
            hold(self, point_mm=point)

    @property
    def needed_friction(self) -> float:
        """The coefficient of friction between body and pad below which the body slides (Coulomb's law)."""
        return self.sideways_n / self.force_n if self.force_n else 0.0


@dataclass(frozen=True, eq=False)
class ContactPatch:
    """The part of the body side that the body touched, as points with the area and the pad each stands for.

    Raises InputError when arrays do not fit each other or hold impossible values.
    """

    position: Float  # (n, 3), mm
    area_mm2: Float  # (n,); projected along the press direction; for a wrap-around part the area of the surface
    thickness_mm: Float  # (n,); of the pad below, along the press direction
    zone: Int  # (n,)
    press_direction: Float | None  # (3,), unit, from the body into the pad; None for a wrap-around part
    # (n,); between the body, where it first touches, and the pad, along the press direction: 0 where the pad is the
    # imprint, which is the body's shape under load; more over a groove or a rounded edge.
    gap_mm: Float | None = None
    # (m, 3); triangles between the points, where known: they tell separate contacts and outlines of zones.
    faces: Int | None = None
    border_mm: Float | None = None  # (k, k); without faces: how long the border between each two zones is, where known
    # (2, n); pressure under which the clay took the body's shape, at least and at most heaped up where it was pressed
    # deep (`clay_pressure`); None: even, so that it changes nothing.
    clay_kpa: Float | None = None
    # (3, n); where a mat showed that pressure, how its error may go, as of `error_ways`; None: taken as exact.
    mat_ways: Float | None = None
    # (n,); how far from each point the pad ends, where known; else it is taken to go on beside the patch.
    beyond_mm: Float | None = None
    # (n,); factor on what its zone's curve says of each column, where columns much alike share one; None: 1.
    firmer: Float | None = None
    # What ties the columns to each other, where they are folded walls; then nothing else is added for the pad around.
    runs: RunLayer | None = None
    # (n,); factor on what each column bears, as found on a pad much like it; counts where `runs` is None.
    evened: Float | None = None

    def __post_init__(self) -> None:
        position = np.array(self.position, dtype=np.float64)
        if position.ndim != 2 or position.shape[1] != 3 or len(position) == 0:
            raise InputError(f"A contact patch needs points with shape (n, 3); got {position.shape}.")
        count = len(position)
        gap = np.zeros(count) if self.gap_mm is None else np.array(self.gap_mm, dtype=np.float64)
        area = np.array(self.area_mm2, dtype=np.float64)
        thickness = np.array(self.thickness_mm, dtype=np.float64)
        zone = np.array(self.zone, dtype=np.int32)
        for name, value in (("area_mm2", area), ("thickness_mm", thickness), ("gap_mm", gap), ("zone", zone)):
            if value.shape != (count,):
                raise InputError(f"{name} must have shape ({count},); got {value.shape}.")
        if not (np.isfinite(position).all() and np.isfinite(area).all() and np.isfinite(thickness).all()):
            raise InputError("The contact patch holds a value that is not a number.")
        if (area < 0.0).any() or area.sum() <= 0.0:
            raise InputError(f"The contact patch has an area of {area.sum():g} mm2, its least part {area.min():g}.")
        if (thickness <= 0.0).any():
            raise InputError(
                f"The pad is {thickness.min():g} mm thick at {(thickness <= 0.0).sum()} of "
                f"{counted(count, 'point')} of contact.",
                hint="The contact patch must lie where there is a pad.",
            )
        if not np.isfinite(gap).all() or (gap < 0.0).any():
            raise InputError(f"A gap of {gap.min():g} mm would press the pad before any load; gaps start from 0.")
        if self.clay_kpa is not None:
            clay = np.array(self.clay_kpa, dtype=np.float64)
            if clay.shape != (2, count) or not np.isfinite(clay).all() or (clay < 0.0).any():
                raise InputError(f"clay_kpa must have shape (2, {count}) and no value below 0; got {clay.shape}.")
            hold(self, clay_kpa=clay)
        if self.mat_ways is not None:
            ways = np.array(self.mat_ways, dtype=np.float64)
            if self.clay_kpa is None or ways.shape != (WAYS, count) or not np.isfinite(ways).all():
                raise InputError(f"mat_ways must have shape ({WAYS}, {count}) and go with clay_kpa; got {ways.shape}.")
            hold(self, mat_ways=ways)
        if (zone < 0).any():
            raise InputError(f"Zone {zone.min()} does not exist; they count from 0.")
        if self.press_direction is not None:
            press = np.array(self.press_direction, dtype=np.float64)
            if press.shape != (3,) or not np.isfinite(press).all() or np.linalg.norm(press) == 0.0:
                raise InputError(f"The press direction must be three numbers; got {self.press_direction}.")
            hold(self, press_direction=press / np.linalg.norm(press))
        hold(self, position=position, area_mm2=area, thickness_mm=thickness, zone=zone, gap_mm=gap)

    @property
    def gaps(self) -> Float:
        """The gap of every point, (n,), mm."""
        assert self.gap_mm is not None  # set above
        return self.gap_mm

    @cached_property
    def middle(self) -> Float:
        """Where a load acts that is given no point, (3,), mm: the middle of the clay's pressure, else of the area."""
        weight = self.area_mm2 if self.clay_kpa is None else self.area_mm2 * self.clay_kpa.mean(axis=0)
        return np.asarray(weight @ self.position / weight.sum())

    def bore_kpa(self, heaping: float = 0.0, mat: Sequence[float] = AS_SHOWN) -> Float:
        """Return what the clay or the mat bore, (n,) kPa; asked only where `clay_kpa` is known.

        `heaping` says how the clay had pressed: -1 at least, 1 at most heaped up where it was deep, 0 between; `mat`
        which way the mat errs, as of `erred`.
        """
        assert self.clay_kpa is not None
        least, most = self.clay_kpa
        bore = least + 0.5 * (1.0 + heaping) * (most - least)
        return bore if self.mat_ways is None or not any(mat) else erred(bore, self.area_mm2, self.mat_ways, mat)

    @cached_property
    def is_covered(self) -> Bool:
        """Where the body had lain on the clay, (n,); elsewhere it hovers."""
        return np.ones(len(self.gaps), dtype=bool) if self.clay_kpa is None else self.clay_kpa.max(axis=0) > 0.0

    @cached_property
    def edge(self) -> Int:
        """Points on the edge of the patch; none where its faces are not known."""
        if self.faces is None:
            return np.zeros(0, dtype=np.int32)
        return np.unique(self.sides)

    @cached_property
    def sides(self) -> Int:
        """Sides of triangles on the edge of the patch, (m, 2); none where its faces are not known."""
        return np.zeros((0, 2), dtype=np.int64) if self.faces is None else border_sides(self.faces)


def border_sides(faces: Int) -> Int:
    """Return the sides of triangles, (m, 2), that belong to one triangle alone."""
    if len(faces) == 0:
        return np.zeros((0, 2), dtype=np.int64)
    corner = faces.astype(np.int64)
    ends = corner, np.roll(corner, -1, axis=1)
    count = int(corner.max()) + 1
    key = np.sort((np.minimum(*ends) * count + np.maximum(*ends)).ravel())
    is_new = np.append(True, key[1:] != key[:-1])
    key = key[is_new & np.append(is_new[1:], True)]
    return np.stack([key // count, key % count], axis=1)


def patch_of(
    mesh: TriMesh,
    is_contact: Bool,
    thickness: Float,
    zone: Int,
    press_direction: Float | None,
    *,
    gap_mm: Float | None = None,
) -> tuple[ContactPatch, Int]:
    """Return the contact patch of a mesh, of the pad or its body side, and which vertex each of its points is.

    Contact, thickness (mm), zone and gap (mm) are (n,), one a vertex; the press direction is (3,). The gap reaches from
    the pad to the body's shape, of either sign: the patch counts it from where the body touches first. Faces count
    whose three corners are in contact and which look towards the body; each corner takes a third of the face's area,
    projected along the press direction.

    Raises InputError when no face lies wholly in the contact.
    """
    press = None if press_direction is None else np.asarray(press_direction) / np.linalg.norm(press_direction)
    area = mesh.face_areas if press is None else -mesh.face_areas * (mesh.face_normals @ press)
    is_used = is_contact[mesh.faces].all(axis=1) & (area > 0.0)
    if not is_used.any():
        raise InputError("The contact patch holds no whole triangle of the pad's body side.")
    faces = mesh.faces[is_used]
    total = np.bincount(faces.ravel(), np.repeat(area[is_used] / 3.0, 3), len(mesh.vertices))
    index = np.unique(faces)
    number = np.zeros(len(mesh.vertices), dtype=np.int32)
    number[index] = np.arange(len(index))
    gap = None if gap_mm is None else np.asarray(gap_mm)[index] - np.asarray(gap_mm)[index].min()
    patch = ContactPatch(
        mesh.vertices[index], total[index], np.asarray(thickness)[index], np.asarray(zone)[index], press, gap,
        number[faces],
    )  # fmt: skip
    return patch, np.asarray(index, dtype=np.int32)
