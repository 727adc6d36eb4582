"""Stage 12: the part as files, in memory; `output.bundle` puts them on disk."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..base.errors import SolveError
from ..base.mesh import Float
from ..base.progress import Progress, Steps
from ..base.resources import version
from ..geometry.through import BODY_SIDE
from ..job.schema import CheckLength, Job
from ..stages.material.material_model import model_from_card
from ..stages.material.region_settings import RegionSettings
from ..stages.packing.sidecar import TOOL, run_time_utc, stl_name, threemf_name, write_sidecar
from ..stages.packing.sidecar_parts import (
    ContactRecord,
    MaterialRecord,
    PartRecord,
    Provenance,
    ScaleRecord,
    SidecarParts,
)
from ..stages.packing.stl import write_stl
from ..stages.packing.threemf import PartSheet, to_bed_matrix, write_threemf
from ..stages.packing.thumbnail import firmness_color, thumbnail_png
from ..stages.printing.print_plan import PrintPlan, plan_print
from ..stages.printing.print_record import print_record
from ..stages.regions.bodies import Mirror, RegionBody, mirrored, pack_bodies, rounded_mesh
from ..stages.scans.captured import CapturedScans, Scan
from .parts import MadePart
from .predicted import predicted_part, predicted_region
from .selection import Selection, selected
from .settings_basis import with_persons_basis


@dataclass(frozen=True, eq=False)
class Packed:
    """What was packed, for the evidence and the summary.

    Attributes
    ----------
    bodies : tuple of RegionBody
    settings : mapping of region id to RegionSettings
    to_bed : (4, 4) float
    mirror : Mirror or None
    plan : PrintPlan
    notes : tuple of str
    wished : mapping of region id to float
        The firmness level asked for; a body's own is that of its zone as printed.
    is_tuned : bool
    volume_cm3 : float
        Of what is written: the sum of regions that touch, their union where they overlap.
    selection : Selection or None
        None where all regions were packed.
    """

    bodies: tuple[RegionBody, ...]
    settings: Mapping[str, RegionSettings]
    to_bed: Float
    mirror: Mirror | None
    plan: PrintPlan
    notes: tuple[str, ...]
    wished: Mapping[str, float]
    is_tuned: bool
    volume_cm3: float
    selection: Selection | None = None


def pack_files(part: MadePart, only: Collection[str] | None = None) -> Steps[tuple[dict[str, bytes], Packed]]:
    """Return the part's files by name, and what they hold.

    Parameters
    ----------
    part : MadePart
    only : collection of region id, optional
        Pack these alone. They keep their places and shapes; names, numbers and sums are the selection's own.

    Raises
    ------
    InputError
        When there is no region of an id in `only`.
    ExportError
        When a region would not print as a solid or the settings document has faults.
    """
    yield Progress(0.0, "planning the print")
    selection = None if only is None else selected(part, only)
    if selection is not None:
        part = replace(part, job=replace(part.job, part=selection.named(part.job.part)))
    if part.regions is None or part.pad is None:
        raise SolveError("There are no regions to pack.")
    job = part.job
    number = job.part.number
    firmness = part.firmness
    if firmness is None:
        raise SolveError("No settings were chosen for the regions.")
    zone_of = {region.id: region.zone for region in part.regions.regions}
    wished = {region.id: round(float(region.firmness_level), 4) for region in part.regions.regions}
    printed = {zone: chosen.reached_kpa for zone, chosen in firmness.chosen.items()}
    regions: Any = [
        replace(each, firmness_level=part.family.printed_level(each.firmness_level, printed[each.zone]))
        for each in part.regions.regions
    ]
    press = part.pad.press_direction
    mirror = mirrored(regions, press) if job.part.mirror else None
    whole = bodies = pack_bodies(mirror.regions if mirror else regions)
    if selection is not None:  # the mirror's plane is that of the whole part
        bodies = tuple(each for each in whole if each.id in selection.ids)
        mirror = mirror and replace(mirror, regions=tuple(each for each in mirror.regions if each.id in selection.ids))
    settings = {body.id: with_persons_basis(firmness.chosen[zone_of[body.id]].settings, job) for body in bodies}
    plan = _plan_the_print(part, bodies, settings, mirror)
    if selection is not None:
        plan = selection.planned(plan)
    to_bed = to_bed_matrix(bodies, plan.orientation.turn)
    # STLs of a selection too lie as in the whole part: they have no other way to say how they fit each other.
    laid = to_bed_matrix(whole, plan.orientation.turn)
    created = run_time_utc()
    files: dict[str, bytes] = {}
    if job.output.stl:
        for done, body in enumerate(bodies):
            yield Progress(0.2 + 0.2 * done / len(bodies), f"writing {body.name} as STL")
            files[stl_name(number, body.id)] = write_stl(body, number, laid)
    yield Progress(0.4, "writing the settings")
    parts = _sidecar_parts(part, bodies, settings, plan, to_bed, mirror, created, files)
    parts = replace(parts, wished={body.id: wished[body.id] for body in bodies}, is_tuned=firmness.tuning is not None)
    printing = print_record(
        plan,
        job.printer.bed_mm,
        is_bed_given="printer.bed_mm" in job.given,
        stl_count=len(files),
        card=part.material,
    )
    parts = replace(parts, stl_from_part=laid, printing=printing)
    if selection is not None:
        parts = selection.told(parts)
    sidecar = write_sidecar(parts)
    card_colors = [level.display_color for level in part.family.levels]
    colors = [firmness_color(body.firmness_level, card_colors) for body in bodies]
    sheet = PartSheet(job.part.name, number, part.material.name, created, f"{TOOL} {version()}", job.part.note)
    yield Progress(0.5, "drawing the picture")
    picture = thumbnail_png(bodies, press, colors=colors) if job.output.thumbnail else None
    yield Progress(0.6, "writing the 3MF")
    files[threemf_name(number)] = write_threemf(
        bodies,
        sheet,
        sidecar=sidecar,
        to_bed=to_bed,
        thumbnail=picture,
        colors=colors if job.output.color_by_level else None,
        wished=parts.wished,
    )
    files[f"{number}.settings.json"] = sidecar
    notes = [note for body in bodies for note in body.notes]
    notes += mirror.notes if mirror else ()
    volume = parts.part.volume_cm3 or sum(body.mesh.volume for body in bodies) / 1000.0
    return files, Packed(
        bodies, settings, to_bed, mirror, plan, tuple(notes), parts.wished, parts.is_tuned, volume, selection
    )


def _plan_the_print(
    part: MadePart, bodies: Sequence[RegionBody], settings: Mapping[str, RegionSettings], mirror: Mirror | None
) -> PrintPlan:
    """Plan the print of the part as it is packed (stage 11)."""
    pad, job = part.pad, part.job
    assert pad is not None
    # On the grid of the files, as the bodies are: what hangs on the last bits does not choose how the part lies.
    mesh = rounded_mesh(mirror.of(pad.mesh) if mirror is not None else pad.mesh)
    bodies_side = (pad.side == BODY_SIDE)[pad.mesh.faces].all(axis=1)
    return plan_print(
        bodies,
        settings,
        mesh,
        density_g_cm3=part.material.density_g_cm3,
        bed_mm=job.printer.bed_mm,
        press_direction=pad.press_direction,
        is_body_face=bodies_side,
        least_wall_mm=pad.least_thickness_mm,
        filament_diameter_mm=job.printer.filament_diameter_mm,
        price_per_kg=job.material.price_per_kg,
    )


def _union_cm3(part: MadePart) -> float | None:
    """Return the volume that overlapping regions fill together, the pad's on the files' grid; None where they touch."""
    assert part.pad is not None and part.regions is not None
    if not part.regions.is_overlapping or not part.regions.contacts:
        return None
    return rounded_mesh(part.pad.mesh).volume / 1000.0


def _sidecar_parts(
    part: MadePart,
    bodies: tuple[RegionBody, ...],
    settings: Mapping[str, RegionSettings],
    plan: PrintPlan,
    to_bed: Float,
    mirror: Mirror | None,
    created: str,
    files: Mapping[str, bytes],
) -> SidecarParts:
    assert part.pad is not None and part.regions is not None
    job: Job = part.job
    joint = "overlap" if part.regions.is_overlapping else "coincident"
    amount = job.regions.overlap_mm if joint == "overlap" else 0.0
    impression_scale = _scale_record(part.impression, () if job.impression is None else job.impression.check_lengths)
    alignment = part.alignment
    answered = {}
    if job.part.certified_gear is False:
        answered = {
            caution.code: "part.certified_gear = false in the job"
            for caution in part.family.cautions
            if caution.severity == "stop"
        }
    stl = {
        body.id: hashlib.sha256(files[stl_name(job.part.number, body.id)]).hexdigest()
        for body in bodies
        if stl_name(job.part.number, body.id) in files
    }
    return SidecarParts(
        part=PartRecord(
            job.part.name,
            job.part.number,
            job.part.revision,
            part.pad.press_direction,
            to_bed,
            family=part.family.id,
            description=job.part.note,
            **({} if part.of(CapturedScans).on_base_frame else {"origin": "the job's datum on the base scan, in mm"}),
            mirror=mirror,
            volume_cm3=_union_cm3(part),
            orientation=plan.orientation.name,
        ),
        bodies=bodies,
        settings=settings,
        levels=part.family.levels,
        material=_material(part),
        provenance=Provenance(
            version(),
            created,
            part.inputs,
            _scale_record(part.base, job.base.check_lengths) or ScaleRecord(1.0, 0.0, "unknown", "none"),
            impression_scale,
            {"rms_mm": alignment.rms_mm, "p95_mm": alignment.p95_mm, "overlap": alignment.overlap}
            if alignment
            else None,
            job.seed,
        ),
        cautions=part.family.cautions,
        stops_answered=answered,
        contacts=[
            ContactRecord(each.first, each.second, each.area_mm2 / 100.0, joint, amount)
            for each in part.regions.contacts
        ],
        predicted={body.id: predicted_region(part, body.id, plan) for body in bodies},
        predicted_part=predicted_part(part, plan),
        stl_sha256=stl,
    )


def _material(part: MadePart) -> MaterialRecord:
    card = part.material
    solid = model_from_card(card).solid
    return MaterialRecord(
        card.id,
        card.name,
        card.symbol,
        card.hardness,
        card.density_g_cm3,
        solid.as_json(),
    )


def _scale_record(scan: Scan | None, lengths: tuple[CheckLength, ...]) -> ScaleRecord | None:
    if scan is None:
        return None
    if scan.fit is None:
        return ScaleRecord(scan.factor, 0.0, "unknown", "file_unit" if scan.factor == 1.0 else "as_base")
    if not lengths:
        return ScaleRecord(1.0, 0.0, "unknown", "file_unit")
    error = scan.fit.standard_error
    return ScaleRecord(
        scan.factor,
        float(error or 0.0),
        "k1" if error else "unknown",
        "check_lengths",
        tuple(
            (each.name or name, each.measured_mm, each.plus_minus_mm, float(found))
            for each, name, found in zip(lengths, scan.fit.names, scan.fit.scan_mm, strict=True)
        ),
    )
