"""The regions as bodies with their settings, laid out as they are printed."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..base.errors import SolveError
from ..base.mesh import Float, TriMesh
from ..geometry.through import BODY_SIDE
from ..stages.material.region_settings import RegionSettings
from ..stages.packing.threemf import to_bed_matrix
from ..stages.printing.enlarged import bed_scale, enlarged
from ..stages.printing.print_plan import PrintPlan, plan_print
from ..stages.printing.solid_plan import SolidLayers, plan_solid
from ..stages.regions.bodies import Mirror, RegionBody, mirrored, pack_bodies, rounded_mesh
from ..stages.regions.regions import Region
from .parts import MadePart
from .selection import Selection, selected
from .settings_basis import with_persons_basis


@dataclass(frozen=True, eq=False)
class ToPack:
    """The bodies that are packed, with their settings, before it is known how they lie."""

    bodies: tuple[RegionBody, ...]
    whole: tuple[RegionBody, ...]  # all of the part
    outside: TriMesh  # of the part, as its print is planned: of folded walls that of the pad; on the grid of the files
    settings: Mapping[str, RegionSettings]  # by region id
    mirror: Mirror | None
    wished: Mapping[
        str, float
    ]  # by region id: the firmness level asked for; a body's own is that of its zone as printed
    selection: Selection | None  # None where all regions are packed


@dataclass(frozen=True, eq=False)
class LaidOut(ToPack):
    """The bodies that are packed, with their settings, as they lie on the bed."""

    plan: PrintPlan
    to_bed: Float  # (4, 4)
    # (4, 4); STLs of a selection too lie as in the whole part: they have no other way to say how they fit each other.
    stl_from_part: Float
    bed_scale: Float  # (3,); by what files are multiplied along the bed's axes once they lie there, for shrinkage


def laid_out(part: MadePart, only: Collection[str] | None = None) -> tuple[MadePart, LaidOut]:
    """Return the part, with the words of a selection, and the bodies to pack as they lie: all, or some regions'.

    Raises InputError when there is no region of an id in `only`.
    """
    part, chosen = to_pack(part, only)
    return part, lay_out(part, chosen)


def to_pack(part: MadePart, only: Collection[str] | None = None) -> tuple[MadePart, ToPack]:
    """Return the part, with the words of a selection, and the bodies to pack: all, or those of some regions.

    Raises InputError when there is no region of an id in `only`; ExportError when a body would not print as a solid.
    """
    selection = None if only is None else selected(part, only)
    if selection is not None:
        part = replace(part, job=replace(part.job, part=selection.named(part.job.part)))
    if part.regions is None or part.pad is None:
        raise SolveError("There are no regions to pack.")
    firmness = part.firmness
    if firmness is None:
        raise SolveError("No settings were chosen for the regions.")
    chosen = {region.id: firmness.chosen[region.zone] for region in part.regions.regions}
    wished = {region.id: _wished_level(part, region) for region in part.regions.regions}
    regions: Any = [
        replace(each, firmness_level=part.family.printed_level(wished[each.id], chosen[each.id].reached_kpa))
        for each in part.regions.regions
    ]
    if part.folded is not None:  # one region: the solid takes the place of the pad's filled shape
        solid = part.folded.solid
        regions = [replace(each, mesh=solid.mesh, volume_cm3=solid.volume_cm3) for each in regions]
    mirror = mirrored(regions, part.pad.press_direction) if part.job.part.mirror else None
    whole = bodies = pack_bodies(mirror.regions if mirror else regions)
    if selection is not None:  # the mirror's plane is that of the whole part
        bodies = tuple(each for each in whole if each.id in selection.ids)
        mirror = mirror and replace(mirror, regions=tuple(each for each in mirror.regions if each.id in selection.ids))
    settings = {body.id: with_persons_basis(chosen[body.id].settings, part.job) for body in bodies}
    # On the grid of the files, as the bodies are: what hangs on the last bits does not choose how the part lies.
    outside = rounded_mesh(mirror.of(part.pad.mesh) if mirror is not None else part.pad.mesh)
    levels = {body.id: wished[body.id] for body in bodies}
    return part, ToPack(bodies, whole, outside, settings, mirror, levels, selection)


def lay_out(part: MadePart, chosen: ToPack) -> LaidOut:
    """Return the bodies to pack of a part as they lie on the bed."""
    plan = _plan_the_print(part, chosen)
    if chosen.selection is not None:
        plan = chosen.selection.planned(plan)
    return LaidOut(
        **vars(chosen),
        plan=plan,
        to_bed=to_bed_matrix(chosen.bodies, plan.orientation.turn),
        stl_from_part=to_bed_matrix(chosen.whole, plan.orientation.turn),
        bed_scale=bed_scale(part.job.printer.shrinkage_pct),
    )


def _wished_level(part: MadePart, region: Region) -> float:
    """Return the level asked for; where trials taught another stiffness, the level whose modulus that is."""
    level = float(region.firmness_level)
    zone = None if part.zones is None or part.folded is not None else part.zones.zones[region.zone]
    taught = zone is not None and zone.stiffness_times != 1.0
    return part.family.level_of_modulus(zone.target_kpa(part.family)) if zone and taught else round(level, 4)


def _plan_the_print(part: MadePart, chosen: ToPack) -> PrintPlan:
    """Plan the print of the part as it is packed."""
    pad, job, bodies, settings = part.pad, part.job, chosen.bodies, chosen.settings
    assert pad is not None
    scale = bed_scale(job.printer.shrinkage_pct)
    bodies_side = (pad.side == BODY_SIDE)[pad.mesh.faces].all(axis=1)
    plan = plan_print(
        bodies,
        settings,
        chosen.outside,
        density_g_cm3=part.material.density_g_cm3,
        bed_mm=[float(each) for each in np.asarray(job.printer.bed_mm) / scale],
        press_direction=pad.press_direction,
        is_body_face=bodies_side,
        least_wall_mm=pad.least_thickness_mm,
        filament_diameter_mm=job.printer.filament_diameter_mm,
        price_per_kg=job.material.price_per_kg,
    )
    slices = None if part.folded is None else part.folded.slices
    if slices is None:
        return enlarged(plan, job.printer.shrinkage_pct, job.printer.flow_pct)
    (body,) = bodies  # a part of folded walls is one solid
    plan = plan_solid(
        plan,
        SolidLayers(body.mesh.volume, slices.area_mm2, slices.loops),
        settings[body.id],
        density_g_cm3=part.material.density_g_cm3,
        filament_diameter_mm=job.printer.filament_diameter_mm,
        price_per_kg=job.material.price_per_kg,
    )
    return enlarged(plan, job.printer.shrinkage_pct, job.printer.flow_pct)
