"""What the print takes (mass, filament, time, cost) and how the part lies on the bed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError
from ...base.estimate import Estimate
from ...base.mesh import Bool, Float, TriMesh
from ...base.notes import to_act_on
from ...base.text import placed
from ..material.fill_geometry import bead_area_mm2, relative_density
from ..material.region_settings import RegionSettings
from ..regions.bodies import RegionBody
from ..regions.regions import Region
from .orientation import BASE_SIDE_DOWN, Orientation, choose_orientation, lying
from .shell import ShellAndCore, shell_and_core
from .support_words import support_words

WEIGHED = 0.05
"""A weighed part lies within 5 % of the sum over shell and core (common practice, no source)."""

TRAVEL = 0.5
"""Travel, corners and cooling add up to half of the time of the beads alone (common practice, no source)."""


@dataclass(frozen=True)
class RegionPlan:
    """What one region takes."""

    id: str
    name: str
    # Contours and closed layers; fill.
    shell_g: float
    core_g: float
    filament_m: float
    bead_area_mm2: float  # of a bead with rounded sides
    # As set; at which the material's flow is used up.
    speed_mm_s: float
    flow_speed_mm_s: float
    # At the speed set, and at the flow limit; neither holds travel or cooling.
    time_h: float
    flow_limit_h: float

    @property
    def mass_g(self) -> float:
        """Shell and core."""
        return self.shell_g + self.core_g


@dataclass(frozen=True, eq=False)
class PrintPlan:
    """What the print takes and how the part lies."""

    regions: tuple[RegionPlan, ...]
    mass_g: Estimate
    filament_m: Estimate
    time_h: Estimate
    flow_limit_h: float  # time at the flow limit: no print of this part in this material is faster
    cost: Estimate | None
    orientation: Orientation
    looked_at: tuple[Orientation, ...]
    # (volume in mm3, place) each: closed spaces inside the part, out of which no support can be taken.
    hollows: tuple[tuple[float, tuple[float, float, float]], ...]
    least_wall_mm: float | None
    notes: tuple[str, ...]


def shell_reach_mm(settings: RegionSettings) -> tuple[float, float]:
    """Return how far contours reach inward, and the height of the closed layers of both sides together, mm."""
    layer = settings.layer_thickness_mm
    skins = (settings.body_side_layer_count + settings.base_side_layer_count) * layer
    return settings.contour_count * bead_area_mm2(settings.bead_width_mm, layer) / layer, skins


def plan_region(
    body: RegionBody | Region,
    settings: RegionSettings,
    up: Float,
    density_g_cm3: float,
    filament_diameter_mm: float,
    split: ShellAndCore | None = None,
) -> RegionPlan:
    """Return what one region takes; `split`, where it is known already, is that of its `shell_reach_mm`.

    Mass = density (V_shell + d V_core) with d the solid share of the fill; filament = plastic volume over the strand's
    cross-section; time = plastic volume over flow, flow = speed times bead area. Contours reach inward by their number
    times bead area over layer thickness: beads side by side overlap by what their round sides leave out.
    """
    bead = bead_area_mm2(settings.bead_width_mm, settings.layer_thickness_mm)
    layer = settings.layer_thickness_mm
    split = split or shell_and_core(body.mesh, up, *shell_reach_mm(settings))
    share = relative_density(
        settings.fill_structure, settings.solid_share_pct, settings.fill_cell_mm, settings.bead_width_mm, layer
    )
    plastic = split.shell_mm3 + share * split.core_mm3
    gram = density_g_cm3 / 1000.0
    flow = settings.max_volume_flow_mm3_s or settings.max_speed_mm_s * bead
    speed = min(settings.max_speed_mm_s, flow / bead)
    return RegionPlan(
        body.id,
        body.name,
        gram * split.shell_mm3,
        gram * share * split.core_mm3,
        plastic / (np.pi * filament_diameter_mm**2 / 4.0) / 1000.0,
        bead,
        settings.max_speed_mm_s,
        flow / bead,
        plastic / (speed * bead) / 3600.0,
        plastic / flow / 3600.0,
    )


def plan_print(
    bodies: Sequence[RegionBody],
    settings: Mapping[str, RegionSettings],
    part: TriMesh,
    *,
    density_g_cm3: float,
    bed_mm: Sequence[float],
    press_direction: Float | None,
    is_body_face: Bool | None = None,
    least_wall_mm: float | None = None,
    filament_diameter_mm: float = 1.75,
    price_per_kg: float | None = None,
) -> PrintPlan:
    """Plan the print of a part.

    Raises InputError when there is no region, or a density or diameter is not above 0.

    Parameters
    ----------
    bodies : sequence of RegionBody
        Regions in the part frame; touching, so that their volumes add up.
    part : TriMesh
        The part as a whole, closed.
    press_direction : (3,) float or None
        The base side lies on the bed by default; without it the part stands as it was scanned.
    is_body_face : (m,) bool, optional
        Faces of `part` on the body side.
    least_wall_mm : float, optional
        Thinnest place of the part, held against two beads.
    """
    if not bodies:
        raise InputError("There is no region to plan.")
    if density_g_cm3 <= 0.0 or filament_diameter_mm <= 0.0:
        raise InputError(f"A filament of {density_g_cm3:g} g/cm3 and {filament_diameter_mm:g} mm is none.")
    default = np.eye(3) if press_direction is None else lying(-np.asarray(press_direction, dtype=np.float64))
    name = "as it was scanned" if press_direction is None else BASE_SIDE_DOWN
    is_body = np.zeros(len(part.faces), dtype=bool) if is_body_face is None else is_body_face
    best, looked = choose_orientation(part, is_body, bed_mm, default, name)
    regions = tuple(
        plan_region(body, settings[body.id], best.turn[2], density_g_cm3, filament_diameter_mm) for body in bodies
    )
    mass, filament = sum(each.mass_g for each in regions), sum(each.filament_m for each in regions)
    time, limit = sum(each.time_h for each in regions), sum(each.flow_limit_h for each in regions)
    hollows = _hollows(part)
    weighed = Estimate(mass, mass * (1 - WEIGHED), mass * (1 + WEIGHED), "model", "without supports")
    return PrintPlan(
        regions,
        weighed,
        Estimate(filament, filament * (1 - WEIGHED), filament * (1 + WEIGHED), "model", "without supports"),
        Estimate(
            time, limit, time * (1 + TRAVEL), "model",
            "Beads alone at the speed set. Low is a bound: the flow limit. High: travel and cooling add half.",
        ),
        limit,
        None if price_per_kg is None else weighed.scaled(price_per_kg / 1000.0),
        best,
        looked,
        hollows,
        least_wall_mm,
        _notes(
            best, looked, hollows, least_wall_mm, [settings[body.id] for body in bodies], bed_mm,
            press_direction is not None,
        ),
    )  # fmt: skip


def _hollows(part: TriMesh) -> tuple[tuple[float, tuple[float, float, float]], ...]:
    """Return volume and middle of every closed surface that is turned inward."""
    from scipy import sparse
    from scipy.sparse.csgraph import connected_components

    one, two, three = part.faces.T
    starts, ends, count = np.concatenate([one, two]), np.concatenate([two, three]), len(part.vertices)
    graph = sparse.coo_matrix((np.ones(len(starts), dtype=bool), (starts, ends)), (count, count))
    _, piece = connected_components(graph, directed=False)
    of_face = piece[one]
    numbers = np.flatnonzero(np.bincount(of_face))
    found = []
    for number in numbers:
        alone = part if len(numbers) == 1 else part.submesh(of_face == number)
        if alone.volume < 0.0:
            x, y, z = alone.bounds.mean(axis=0)
            found.append((-alone.volume, (float(x), float(y), float(z))))
    return tuple(found)


def _notes(
    best: Orientation,
    looked: Sequence[Orientation],
    hollows: Sequence[tuple[float, tuple[float, float, float]]],
    least_wall_mm: float | None,
    settings: Sequence[RegionSettings],
    bed_mm: Sequence[float],
    is_pressed: bool,
) -> tuple[str, ...]:
    notes: list[str] = []
    first = looked[0]
    if not best.fits:
        size, bed = (" x ".join(f"{value:.0f}" for value in values) for values in (best.size_mm, bed_mm))
        others = [each for each in looked if each.fits]
        text = (
            f"{best.name.capitalize()} the part is {size} mm and does not fit the bed of {bed} mm: it sticks out by "
            f"{float((best.size_mm - np.asarray(bed_mm)).max()):.0f} mm. "
        )
        if others:
            least = min(others, key=lambda each: (round(each.body_support_cm2, 1), round(each.support_cm2, 1)))
            text += (
                f"{least.name.capitalize()} it would fit, with supports on {least.body_support_cm2:.0f} cm2 of the "
                f"body side{'' if least.stands else ' and without standing by itself'}. "
            )
        notes.append(to_act_on(text + "Better: a larger bed (printer.bed_mm) or a smaller footprint."))
    if best is not first:
        why = [] if first.fits else ["it does not fit the bed"]
        why += [] if first.stands else ["it would rock"]
        if first.body_support_cm2 > best.body_support_cm2:
            why.append(f"{first.body_support_cm2:.1f} cm2 of the body side would need support")
        notes.append(f"Print it {best.name}, not {first.name}: {', '.join(why) or 'it needs less support'}.")
        if is_pressed and abs(float(best.turn[2] @ first.turn[2])) < 0.9:
            notes.append(
                to_act_on(
                    "Layers then run along the press, not across it: contours and closed layers change places, and the "
                    "firmness figures no longer hold." + ("" if first.fits else " A larger bed keeps them.")
                )
            )
    if not is_pressed:
        notes.append(
            "A part that wraps around its base is pressed along its layers in one place and across them in another; "
            "the firmness figures take them to lie across everywhere."
        )
    if not best.stands:
        notes.append(
            to_act_on("The part does not stand by itself on the bed; give it a brim or supports under its edges.")
        )
    notes += support_words(best)
    for volume, place in hollows:
        at = placed(place)
        notes.append(to_act_on(f"A closed hollow of {volume / 1000.0:.2f} cm3 at {at} mm would trap its support."))
    if least_wall_mm is not None:
        two = 2.0 * max(each.bead_width_mm for each in settings)
        if least_wall_mm < two:
            notes.append(
                to_act_on(f"The thinnest place is {least_wall_mm:.1f} mm, less than two beads ({two:.1f} mm).")
            )
    return tuple(notes)
