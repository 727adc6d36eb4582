"""The stage: measure what the body left in the clay."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from ...base.errors import InputError
from ...base.mesh import TriMesh
from ...base.progress import Progress, Steps
from ...base.text import counted, with_article
from ...geometry.samples import averaging_width_of
from ...geometry.subdivide import subdivided
from ...job.cards import Family
from ...job.read import blame_key
from ...job.schema import Impression
from ..alignment.placed_scans import PlacedScans, body_points, turned, typed_point
from ..body.pressed import PressedBody
from ..scans.captured import CapturedScans
from ..stage import Given
from .center_choice import CenterMark
from .impression import read_impression
from .impression_reading import ImpressionReading
from .press import PressDirection
from .seat_on_base import average_left_right, smooth_body_side


@dataclass(frozen=True)
class TooDeep:
    """The depth asked of a contact is one that no imprint has; what to say of it, as an error has it."""

    message: str
    hint: str

    def error(self) -> InputError:
        """Return the error to raise; each time a new one, as its place is written into it on its way out."""
        error = InputError(self.message, hint=self.hint)
        error.key = ("impression", "contact_depth_mm")
        return error


@dataclass(frozen=True, eq=False)
class ReadBodySide:
    """What the stage gives; nothing without an impression."""

    reading: ImpressionReading | None = None
    # the impression in the part frame as it was read: between large triangles' corners too, smoothed and averaged where
    # the job asks for it.
    mesh: TriMesh | None = None
    notes: tuple[str, ...] = ()
    # what to say to who asks for load centers, where none counts as one for the depth asked of a contact alone.
    too_deep: TooDeep | None = None


def read_body_side(given: Given, _: None = None) -> Steps[ReadBodySide]:
    """Measure what the body left in the clay."""
    yield Progress(0.0, "reading the impression")
    scans, asked, body = given.of(PlacedScans), given.job.impression, given.job.body
    pressed = given.find(PressedBody)
    clay = None if pressed is None else pressed.clay
    scanned = scans.aligned if clay is None else clay.mesh
    if scanned is None or asked is None:
        return ReadBodySide()
    # Places between the corners of large triangles are read as well; what was scanned keeps its numbers.
    aligned = subdivided(scanned, 2.0 * averaging_width_of(scanned))
    press: Any = body.press_direction
    if clay is not None:
        press = clay.press
    elif not isinstance(press, str):
        press = turned(scans.to_part, press)

    def read(contact_depth_mm: float) -> ImpressionReading:
        return read_impression(
            scans.base.mesh,
            aligned,
            press_direction=press,
            clay_thickness_mm=asked.clay_thickness_mm,
            load_center_spacing_mm=body.load_center_spacing_mm,
            contact_depth_mm=contact_depth_mm,
            smoothing_mm=asked.smoothing_mm,
            # A load center stands out by half of what counts as contact at all (common practice, no source).
            least_prominence_mm=0.5 * contact_depth_mm,
            center_marks=marks,
            expected_centers=(int(asked.load_center_count[0]), int(asked.load_center_count[1])),
            as_typed=partial(typed_point, scans),
            compare_sides=family.is_left_right or asked.average_sides,
            scanned_count=len(scanned.vertices),
            is_scanned=clay is None,
            doubt=None if clay is None else clay.centers,
        )

    family, marks = given.of(CapturedScans).family, _center_marks(scans, asked)
    with blame_key("body", "press_direction"):
        reading = read(asked.contact_depth_mm)
    if clay is not None:
        press_found = PressDirection(clay.press, clay.press_plus_minus_deg, clay.press_basis)
        reading = replace(reading, press=press_found)
    _refuse_clay(reading)
    too_deep = _contact_too_deep(reading, asked.contact_depth_mm, family, read)
    if too_deep is not None and not reading.is_contact.any():
        raise too_deep.error()
    return replace(_faired(ReadBodySide(reading, aligned), asked), too_deep=too_deep)


def _contact_too_deep(
    reading: ImpressionReading, asked: float, family: Family, read: Callable[[float], ImpressionReading]
) -> TooDeep | None:
    """Return what to say where the depth asked of a contact leaves no load center, and the family's own leaves some."""
    usual = family.defaults[("impression", "contact_depth_mm")].value
    if reading.load_centers or asked <= usual:
        return None
    other = read(usual)
    if not other.load_centers and (reading.is_contact.any() or not other.is_contact.any()):
        return None
    deepest = float(reading.imprint_depth[reading.is_clay].max())
    stand = f"{counted(len(other.load_centers), 'load center')} stand{'s' * (len(other.load_centers) == 1)} out then."
    return TooDeep(
        f"Nothing counts as a load center with a least imprint depth of {asked:g} mm: the deepest imprint is "
        f"{deepest:.1f} mm, and a load center stands out by half of the least depth.",
        f"Write contact_depth_mm = {usual:g}, as {with_article(family.name.lower())} has it, or leave it out: {stand}",
    )


def _refuse_clay(reading: ImpressionReading) -> None:
    """Refuse a thickness of the clay that its rim contradicts: clay does not double, nor lose most of its height."""
    before = reading.undisturbed
    if before.basis != "measured" or before.typical_mm / 3.0 < before.rim_mm < 2.0 * before.typical_mm:
        return
    with blame_key("impression", "clay_thickness_mm"):
        raise InputError(
            f"The clay is said to be {before.typical_mm:.3g} mm thick as laid, but in the scans its untouched rim is "
            f"{before.rim_mm:.1f} mm thick.",
            hint=f"Write clay_thickness_mm = {before.rim_mm:.1f}, or what you measured, in mm; or leave the key out.",
        )


def _faired(found: ReadBodySide, asked: Impression) -> ReadBodySide:
    """Smooth marks and wrinkles away and average left and right, where the job asks for it."""
    reading, mesh = found.reading, found.mesh
    assert reading is not None and mesh is not None
    notes: tuple[str, ...] = ()
    if asked.body_side_smoothing_mm > 0.0:
        smoothed = smooth_body_side(mesh, reading, asked.body_side_smoothing_mm)
        mesh, notes = smoothed.mesh, smoothed.notes
    if asked.average_sides:
        with blame_key("impression", "average_sides"):
            if reading.left_right is None:
                raise InputError("No mid-plane of the base was found.", hint="Turn average_sides off.")
            averaged = average_left_right(mesh, reading, reading.left_right.plane)
        mesh, notes = averaged.mesh, (*notes, *averaged.notes)
    return replace(found, mesh=mesh, notes=notes)


def _center_marks(scans: PlacedScans, asked: Impression) -> tuple[CenterMark, ...]:
    """Return what the job says of single load centers, in the part frame."""
    with blame_key("impression", "load_centers"):
        return tuple(
            CenterMark(body_points(scans, [mark.near], "base")[0], mark.within_mm, mark.use, mark.name)
            for mark in asked.load_centers
        )
