"""What reading the impression gives: one record, of which notes, pad and evidence speak."""

from __future__ import annotations

from dataclasses import dataclass

from ...base.mesh import Bool, Float
from .left_right import LeftRight
from .load_centers import FoundLoadCenter
from .press import PressDirection
from .pressed_area import Undisturbed


@dataclass(frozen=True)
class ImpressionReading:
    """What the impression says, per vertex of the aligned impression scan where an array has n entries."""

    press_direction: Float | None  # (3,); unit vector from the body into the part; None for wrap-around parts
    press: PressDirection  # the same with its basis ("given", "auto", "inward") and plus-minus in degrees
    inward: Float  # (n, 3); the press direction at each vertex
    # (n,), mm; clay left, along `inward`, as scanned; negative below the base; meaningful where `is_clay`.
    thickness: Float
    smooth_thickness: Float  # (n,), mm; the same smoothed at `smoothing_mm` with its peaks and hollows kept
    # (n,), mm; how far the body sank below the undisturbed clay (smoothed); negative where clay was squeezed up, 0 on
    # the clay's outer wall and where there is no clay.
    imprint_depth: Float
    is_clay: Bool  # (n,); clay lies there
    is_wall: Bool  # (n,); it is the clay's outer wall
    is_contact: Bool  # (n,); the body pressed there
    is_over_base: Bool  # (n,); the base was scanned under it
    undisturbed: Undisturbed  # the clay before it was pressed, with its basis "measured" or "assumed"
    load_centers: tuple[FoundLoadCenter, ...]  # those that are used, most prominent first
    # found too, but switched off or more than such a part has: see `unused_because`.
    other_load_centers: tuple[FoundLoadCenter, ...]
    spacing_mm: float | None  # between the two strongest, across the press direction
    spacing_plus_minus_mm: float | None  # 95 % half-width, from scan noise alone
    measured_spacing_mm: float | None  # as handed in
    # contact_area_cm2, clay_area_cm2: projected along the press direction; for wrap-around parts of the smoothed
    # surface.
    contact_area_cm2: float
    clay_area_cm2: float
    noise_mm: float  # standard deviation of thickness about its smooth course: the noise of both scans together
    smoothing_mm: float  # width the thickness was smoothed at
    # how the two sides differ; None when the base has no mid-plane along the press direction.
    left_right: LeftRight | None
    notes: tuple[str, ...]
