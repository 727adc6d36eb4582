"""Read what the body left in the clay: clay thickness, imprint depth, contact patch, load centers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ...base.errors import InputError
from ...base.mesh import Bool, Float, TriMesh, area_vectors
from ...base.rows import lengths
from ...base.together import at_the_side, both
from ...geometry.fields import vertex_gradients
from ...geometry.smoothing import SurfaceSmoother
from ..body.center_doubt import CenterDoubt
from .center_choice import CenterMark, choose_centers
from .clay import BaseSurface, ClayThickness, clay_thickness
from .impression_notes import notes_on
from .impression_reading import ImpressionReading
from .left_right import LeftRight, SidePlane, left_right, mid_planes_along
from .load_centers import NORMAL_95, FoundLoadCenter, doubted, find_load_centers
from .press import PressDirection, auto_direction, given_direction, held_press
from .pressed_area import Undisturbed, find_clay, find_contact, find_drop, find_wall, undisturbed_clay, way_out
from .scan_noise import ScanNoise, bare_noise
from .surface_patches import grown, keep_large, opened

SMOOTHING_MM = 5.0
"""Load centers are minima of the clay thickness smoothed at 5 mm (our definition)."""

_LIGHT = 0.4
"""Of that width: smoothing that takes noise away and leaves the shape (our choice)."""


def read_impression(
    base: TriMesh,
    impression: TriMesh,
    *,
    press_direction: Float | tuple[float, float, float] | str,
    clay_thickness_mm: float | None = None,
    load_center_spacing_mm: float | None = None,
    smoothing_mm: float | None = None,
    least_clay_mm: float | None = None,
    contact_depth_mm: float = 2.0,
    least_prominence_mm: float = 1.0,
    center_marks: Sequence[CenterMark] = (),
    expected_centers: tuple[int, int] | None = None,
    as_typed: Callable[[Float], Float] | None = None,
    compare_sides: bool = True,
    scanned_count: int | None = None,
    is_scanned: bool = True,
    doubt: CenterDoubt | None = None,
) -> ImpressionReading:
    """Read the impression.

    Base and impression are cleaned and aligned, mm; both may be open. The press direction is a vector, (3,), from the
    body into the part, "auto" or "inward". Further:
    - `clay_thickness_mm`: what was laid, if the person knows; else it is fitted over the rim and called assumed.
    - `load_center_spacing_mm`: measured by hand, to compare.
    - `smoothing_mm`: width at which the thickness is smoothed to find load centers; the default is 5 mm, less on small
      parts.
    - `least_clay_mm`: what is farther from the base is clay. The default is four times the scatter of the two scans,
      between 0.3 and 1.5 mm (our choice).
    - `contact_depth_mm`: imprint depth from which the body is said to have pressed.
    - `least_prominence_mm`: a load center stands out at least this much, and at least five times the noise left after
      smoothing.
    - `expected_centers`: least and most load centers such a part has: of more that are found the strongest are used.
    - `center_marks`: which load centers are used or not, and their names.
    - `as_typed`: as for `choose_centers`.
    - `compare_sides`: look for the base's mid-plane and compare the two sides.
    - `scanned_count`: how many of the impression's vertices, the first ones, the scan has itself, all by default; the
      others were put between them (`subdivided`) and say nothing of its noise.
    - `is_scanned`: False for clay that was computed: its bare base tells nothing of a scanner.
    - `doubt`: of such clay, where load centers would lie had it been pressed otherwise.

    Raises InputError when a parameter makes no sense; ScanError when there is no clay between the scans; SolveError
    when "auto" finds no one direction.
    """
    _refuse_lengths(
        clay_thickness_mm=clay_thickness_mm,
        load_center_spacing_mm=load_center_spacing_mm,
        smoothing_mm=smoothing_mm,
        least_clay_mm=least_clay_mm,
        contact_depth_mm=contact_depth_mm,
        least_prominence_mm=least_prominence_mm,
    )
    if isinstance(press_direction, str) and press_direction not in ("auto", "inward"):
        raise InputError(
            f'The press direction "{press_direction}" is not known.', hint='Give three numbers, "auto" or "inward".'
        )
    is_inward = isinstance(press_direction, str) and press_direction == "inward"
    between = _between(base, impression, smoothing_mm, least_clay_mm, is_inward=is_inward)
    smoother, width, is_clay = between.smoother, between.width, between.is_clay
    press = _press(press_direction, base, impression, is_clay, between.foot[1])

    def beside() -> tuple[tuple[SidePlane, ...] | None, ScanNoise | None, Float, float]:
        planes = None
        if compare_sides and press.vector is not None:
            planes = mid_planes_along(base, press.vector, between.surface.foot)
        scan_noise = between.noise_of_bare_base(impression) if is_scanned else None
        settled = smoother.smooth(impression.vertices, between.light)
        return planes, scan_noise, settled, patch_area(impression, settled, is_clay, press.vector) / 100.0

    with at_the_side(beside) as found_beside:
        clay = clay_thickness(between.surface, impression, between.foot, is_clay, press.vector)
        upper = _upper_side(impression, between, clay)
        undisturbed = _as_laid(impression, upper, is_clay, clay_thickness_mm)
        near_depth = undisturbed.thickness - upper.near_thickness
        is_contact = find_contact(impression, near_depth, upper.is_plain, is_clay, contact_depth_mm, width)
        noise, left = _scatter(impression, clay.thickness - upper.smooth, is_contact, is_clay, scanned_count, width)
        planes, scan_noise, settled, clay_area_cm2 = found_beside()
    found = find_load_centers(
        impression,
        clay.thickness,
        upper.smooth,
        undisturbed.thickness,
        clay.inward,
        is_contact,
        clay.is_over_base & upper.is_plain,
        width=width,
        scan_noise=scan_noise,
        least_prominence=max(least_prominence_mm, 5.0 * left),
    )
    found = found if doubt is None else doubted(found, doubt)
    choice = choose_centers(found, center_marks, expected_centers, press.vector, as_typed)
    spacing, spacing_error = _spacing(choice.used, press.vector, doubt)
    depth = np.where(upper.is_plain, undisturbed.thickness - upper.smooth, 0.0)
    sides = None
    if planes is not None and press.vector is not None:
        sides = _sides(impression, depth, is_contact & upper.is_plain, choice.used, planes, press.vector)
    reading = ImpressionReading(
        press_direction=press.vector,
        press=press,
        inward=clay.inward,
        thickness=clay.thickness,
        smooth_thickness=upper.smooth,
        imprint_depth=depth,
        is_clay=is_clay,
        is_wall=is_clay & ~upper.is_plain,
        is_contact=is_contact,
        is_over_base=clay.is_over_base,
        undisturbed=undisturbed,
        load_centers=choice.used,
        other_load_centers=choice.others,
        spacing_mm=spacing,
        spacing_plus_minus_mm=spacing_error,
        measured_spacing_mm=load_center_spacing_mm,
        contact_area_cm2=patch_area(impression, settled, is_contact, press.vector) / 100.0,
        clay_area_cm2=clay_area_cm2,
        noise_mm=noise,
        smoothing_mm=width,
        left_right=sides,
        notes=(),
    )
    return replace(reading, notes=(*choice.notes, *notes_on(reading)))


@dataclass(frozen=True, eq=False)
class _ClayBetween:
    """What lies between the two scans: the way to the base, and where that way is clay."""

    surface: BaseSurface
    smoother: SurfaceSmoother
    foot: tuple[Float, Float, Bool]  # of each vertex: distance mm, the base's outward normal there, whether it has one
    width: float  # mm, at which thickness is smoothed to find load centers
    light: float  # mm, of a lighter smoothing
    is_clay: Bool
    normals: Float  # (n, 3); the impression's, lightly smoothed

    def noise_of_bare_base(self, impression: TriMesh) -> ScanNoise | None:
        """Return how the scan scatters where it shows the bare base."""
        distance, outward, has_foot = self.foot
        # On the underside and beyond the base the nearest place of the base is not the one that was scanned.
        is_facing = np.einsum("ij,ij->i", impression.vertex_normals, outward) > 0.7
        is_bare = ~grown(impression, self.is_clay, self.width, ~self.is_clay) & has_foot & is_facing
        return bare_noise(impression, distance, is_bare, self.width)


def _between(
    base: TriMesh, impression: TriMesh, smoothing_mm: float | None, least_clay_mm: float | None, *, is_inward: bool
) -> _ClayBetween:
    """Find the clay: what is farther from the base than the two scans scatter."""
    # A small part has small features: a twentieth of its size, where that is less (our choice).
    width = smoothing_mm or min(SMOOTHING_MM, float(np.sqrt(impression.area)) / 20.0)
    light = _LIGHT * width
    surface, smoother = both(
        lambda: BaseSurface(base, width, light if is_inward else 0), lambda: SurfaceSmoother(impression)
    )
    with at_the_side(lambda: _unit(smoother.smooth(impression.vertex_normals, light, tolerance=0.01))) as found_normals:
        foot = surface.under(impression)
        normals = found_normals()
    distance, _, has_foot = foot
    settled = smoother.smooth(distance, light, has_foot)
    if least_clay_mm is None:
        scatter = 1.4826 * float(np.median(np.abs(distance - settled)))
        least_clay_mm = float(np.clip(4.0 * scatter, 0.3, 1.5))
    is_clay = find_clay(impression, settled, least_clay_mm, width)
    return _ClayBetween(surface, smoother, foot, width, light, is_clay, normals)


def _refuse_lengths(**lengths: float | None) -> None:
    for name, value in lengths.items():
        if value is not None and not (np.isfinite(value) and value > 0):
            raise InputError(f"{name} is {value}; it must be a length above 0 mm.")


def _press(
    asked: Float | tuple[float, float, float] | str, base: TriMesh, impression: TriMesh, is_clay: Bool, outward: Float
) -> PressDirection:
    if isinstance(asked, str):
        is_inward = asked == "inward"
        return PressDirection(None, 0.0, "inward") if is_inward else auto_direction(base, impression, is_clay, outward)
    press = PressDirection(given_direction(asked), 0.0, "given")
    return replace(press, off_deg=held_press(impression, is_clay, press.vector, outward))


@dataclass(frozen=True, eq=False)
class _UpperSide:
    """The side of the clay that the body pressed: where it is, and the thickness below it smoothed.

    `smooth` is as load centers are sought in; `near_thickness` is smoothed less, and everywhere.
    """

    is_plain: Bool
    smooth: Float
    near_thickness: Float


def _upper_side(impression: TriMesh, between: _ClayBetween, clay: ClayThickness) -> _UpperSide:
    """Tell the clay's upper side from its outer wall, and smooth the thickness within it."""
    smoother, is_clay, width, light = between.smoother, between.is_clay, between.width, between.light
    is_known = clay.is_over_base
    near_thickness = smoother.smooth(clay.thickness, light, is_known)
    typical = float(np.median(near_thickness[is_clay]))
    way = way_out(impression, clay.inward, is_clay, 2.0 * typical)
    is_wall = find_wall(between.normals, clay.inward, is_clay, typical, way)
    whole = smoother.restricted(is_clay).smooth(clay.thickness, 0.6 * width, is_known)
    is_wall |= find_drop(impression, whole, clay.inward, way.within(1.5 * typical))
    # The foot of the wall is a narrow ring that looks even; it belongs to the wall.
    is_plain = opened(impression, is_clay & ~is_wall, light)
    is_plain = keep_large(impression, is_plain, least_area=width**2, least_share=0.05)
    # Smoothed within the clay's upper side, so that its edge does not pull the rim down.
    upper = smoother.restricted(is_plain)
    smooth = np.where(is_plain, upper.smooth_keeping_peaks(clay.thickness, width, is_known), near_thickness)
    near_thickness = np.where(is_plain, upper.smooth(clay.thickness, light, is_known), near_thickness)
    return _UpperSide(is_plain, smooth, near_thickness)


def _as_laid(impression: TriMesh, upper: _UpperSide, is_clay: Bool, measured_mm: float | None) -> Undisturbed:
    # The body's slopes are no rim: where the thickness changes by more than 1 in 4, it is not clay as laid.
    is_even = upper.is_plain & (lengths(vertex_gradients(impression, upper.smooth)) < 0.25)
    is_rim = is_even if is_even.any() else is_clay
    return undisturbed_clay(impression.vertices, impression.vertex_areas, upper.smooth, is_rim, measured_mm)


def _scatter(
    impression: TriMesh, rough: Float, is_contact: Bool, is_clay: Bool, scanned_count: int | None, width: float
) -> tuple[float, float]:
    """Return the scans' noise where the body pressed, and what smoothing leaves of it, mm."""
    inside = is_contact if is_contact.any() else is_clay
    scanned = inside[:scanned_count]
    if not scanned.any():
        scanned, scanned_count = inside, None
    noise = 1.4826 * float(np.median(np.abs(rough)[:scanned_count][scanned]))
    cell = float(impression.vertex_areas[inside].sum()) / np.count_nonzero(scanned)
    # White noise, a value each `cell` mm2, averaged over 4 pi width^2; twicing raises the variance of a Gaussian
    # smoother by (4 - 4 * 2/3 + 1/2) = 11/6.
    return noise, noise * float(np.sqrt(11.0 / 6.0 * cell / (4.0 * np.pi * width**2)))


def _sides(
    impression: TriMesh,
    depth: Float,
    is_pressed: Bool,
    centers: tuple[FoundLoadCenter, ...],
    planes: tuple[SidePlane, ...],
    direction: Float,
) -> LeftRight | None:
    both = [left_right(impression, depth, is_pressed, centers, plane, direction) for plane in planes]
    # A base may mirror in more planes than the body does: the body's is the one with the lesser difference.
    return min((one for one in both if one is not None), key=lambda one: one.rms_mm, default=None)


def patch_area(mesh: TriMesh, settled: Float, is_in: Bool, direction: Float | None) -> float:
    """Return the area of a patch in mm2, with the scan's holes in it.

    The settled positions, (n, 3) mm, are smoothed: noise makes a rough surface larger than it is. The area is projected
    along the direction, (3,); None for the surface's own.

    Notes
    -----
    A face counts by the share of its corners in the patch. A hole whose border lies in the patch as a whole counts with
    the vector area of its border, half the sum of the cross products along it. The scan's own border, where a patch
    reaches it, runs the other way round.
    """
    share = sum(is_in[mesh.faces[:, index]].astype(np.float64) for index in range(3)) / 3.0
    areas = area_vectors(settled, mesh.faces)
    if direction is None:
        return float(share @ lengths(areas))
    area = float(share @ (areas @ direction))
    edge = mesh.boundary_edges
    point, end = np.unique(edge, return_inverse=True)
    ends = end.reshape(-1, 2)  # numpy 2.0 gives the shape of the edges, others a row
    graph = coo_matrix((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(point), len(point)))
    count, of_point = connected_components(graph, directed=False)
    outline = of_point[ends[:, 0]]
    middle = settled.mean(axis=0)
    turned = 0.5 * np.cross(settled[edge[:, 1]] - middle, settled[edge[:, 0]] - middle) @ direction
    filled = np.bincount(outline, turned, count)
    is_hole = np.bincount(outline, ~is_in[edge].all(axis=1), count) == 0
    return abs(area + float(filled[is_hole & (filled * area > 0.0)].sum()))


def _spacing(
    centers: tuple[FoundLoadCenter, ...], direction: Float | None, doubt: CenterDoubt | None
) -> tuple[float | None, float | None]:
    if len(centers) < 2:
        return None, None
    first, second = centers[:2]
    between = second.position_mm - first.position_mm
    if direction is not None:
        between = between - (between @ direction) * direction
    length = float(np.linalg.norm(between))
    axis = between / max(length, 1e-12)
    variance = float(axis @ (first.covariance + second.covariance) @ axis)
    if doubt is not None:  # both in it already, each for itself: here they move together
        both = doubt.scatter(np.array([first.position_mm, second.position_mm]))
        variance -= 2.0 * float(axis @ both[0, :, 1] @ axis)
    return length, NORMAL_95 * float(np.sqrt(variance))


def _unit(vectors: Float) -> Float:
    return vectors / np.maximum(lengths(vectors), 1e-12)[:, None]
