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
    """What the impression says, per vertex of the aligned impression scan where an array has n entries.

    Attributes
    ----------
    press_direction : (3,) float or None
        Unit vector from the body into the part; None for wrap-around parts.
    press : PressDirection
        The same with its basis ("given", "auto", "inward") and plus-minus in degrees.
    inward : (n, 3) float
        The press direction at each vertex.
    thickness : (n,) float, mm
        Clay left, along `inward`, as scanned; negative below the base. Meaningful where `is_clay`.
    smooth_thickness : (n,) float, mm
        The same smoothed at `smoothing_mm` with its peaks and hollows kept.
    imprint_depth : (n,) float, mm
        How far the body sank below the undisturbed clay (smoothed); negative where clay was squeezed up, 0 on the
        clay's outer wall and where there is no clay.
    is_clay, is_wall, is_contact, is_over_base : (n,) bool
        Clay lies there; it is the clay's outer wall; the body pressed there; the base was scanned under it.
    undisturbed : Undisturbed
        The clay before it was pressed, with its basis "measured" or "assumed".
    load_centers : tuple of FoundLoadCenter
        Those that are used, most prominent first.
    other_load_centers : tuple of FoundLoadCenter
        Found too, but switched off or more than such a part has; each says which in `unused_because`.
    spacing_mm, spacing_plus_minus_mm : float or None
        Between the two strongest, across the press direction; the 95 % half-width is from scan noise alone.
    measured_spacing_mm : float or None
        As handed in.
    contact_area_cm2, clay_area_cm2 : float
        Projected along the press direction; for wrap-around parts the area of the smoothed surface.
    noise_mm : float
        Standard deviation of thickness about its smooth course: the noise of both scans together.
    smoothing_mm : float
        Width the thickness was smoothed at.
    left_right : LeftRight or None
        How the two sides differ; None when the base has no mid-plane along the press direction.
    notes : tuple of str
    """

    press_direction: Float | None
    press: PressDirection
    inward: Float
    thickness: Float
    smooth_thickness: Float
    imprint_depth: Float
    is_clay: Bool
    is_wall: Bool
    is_contact: Bool
    is_over_base: Bool
    undisturbed: Undisturbed
    load_centers: tuple[FoundLoadCenter, ...]
    other_load_centers: tuple[FoundLoadCenter, ...]
    spacing_mm: float | None
    spacing_plus_minus_mm: float | None
    measured_spacing_mm: float | None
    contact_area_cm2: float
    clay_area_cm2: float
    noise_mm: float
    smoothing_mm: float
    left_right: LeftRight | None
    notes: tuple[str, ...]
