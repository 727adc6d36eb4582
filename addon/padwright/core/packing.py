"""Stage 12: the part as files, in memory; `output.bundle` puts them on disk."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from .errors import SolveError
from .firmness.material_model import model_from_card
from .job_schema import CheckLength, Job
from .mesh import Float
from .output.bodies import Body, Mirror, mirrored, pack_bodies
from .output.printplan import PrintPlan
from .output.sidecar import TOOL, run_time_utc, stl_name, threemf_name, write_sidecar
from .output.sidecar_parts import Contact, MaterialRecord, PartRecord, Provenance, ScaleRecord, SidecarParts
from .output.stl import write_stl
from .output.threemf import PartSheet, to_bed_matrix, write_threemf
from .output.thumbnail import firmness_color, thumbnail_png
from .packing_predicted import predicted_part, predicted_region
from .region_settings import RegionSettings
from .resources import version
from .run_firmness import plan_the_print
from .run_parts import Part, Scan


@dataclass(frozen=True, eq=False)
class Packed:
    """What was packed, for the evidence and the summary.

    Attributes
    ----------
    bodies : tuple of Body
    settings : mapping of region id to RegionSettings
    to_bed : (4, 4) float
    mirror : Mirror or None
    plan : PrintPlan
    notes : tuple of str
    """

    bodies: tuple[Body, ...]
    settings: Mapping[str, RegionSettings]
    to_bed: Float
    mirror: Mirror | None
    plan: PrintPlan
    notes: tuple[str, ...]


def pack_files(part: Part) -> tuple[dict[str, bytes], Packed]:
    """Return the part's files by name, and what they hold.

    Raises
    ------
    ExportError
        When a region would not print as a solid or the settings document has faults.
    """
    if part.regions is None or part.pad is None:
        raise SolveError("There are no regions to pack.")
    job = part.job
    number = job.part.number
    regions: Any = part.regions.regions
    press = part.pad.press_direction
    mirror = mirrored(regions, press) if job.part.mirror else None
    bodies = pack_bodies(mirror.regions if mirror else regions)
    firmness = part.firmness
    if firmness is None:
        raise SolveError("No settings were chosen for the regions.")
    settings = {region.id: firmness.chosen[region.zone].settings for region in part.regions.regions}
    plan = plan_the_print(part, bodies, settings, mirror)
    to_bed = to_bed_matrix(bodies, plan.orientation.turn)
    created = run_time_utc()
    files: dict[str, bytes] = {}
    if job.output.stl:
        for body in bodies:
            files[stl_name(number, body.id)] = write_stl(body, number)
    parts = _sidecar_parts(part, bodies, settings, plan, to_bed, mirror, created, files)
    sidecar = write_sidecar(parts)
    card_colors = [level.display_color for level in part.family.levels]
    colors = [firmness_color(body.firmness_level, card_colors) for body in bodies]
    sheet = PartSheet(job.part.name, number, part.material.name, created, f"{TOOL} {version()}", job.part.note)
    files[threemf_name(number)] = write_threemf(
        bodies,
        sheet,
        sidecar=sidecar,
        to_bed=to_bed,
        thumbnail=thumbnail_png(bodies, press, colors=colors) if job.output.thumbnail else None,
        colors=colors if job.output.color_by_level else None,
    )
    files[f"{number}.settings.json"] = sidecar
    notes = [note for body in bodies for note in body.notes]
    notes += mirror.notes if mirror else ()
    return files, Packed(bodies, settings, to_bed, mirror, plan, tuple(notes))


def _sidecar_parts(
    part: Part,
    bodies: tuple[Body, ...],
    settings: Mapping[str, RegionSettings],
    plan: PrintPlan,
    to_bed: Float,
    mirror: Mirror | None,
    created: str,
    files: Mapping[str, bytes],
) -> SidecarParts:
    assert part.pad is not None and part.regions is not None
    job: Job = part.job
    joint = "overlap" if job.regions.contact == "overlapping" else "coincident"
    amount = job.regions.overlap_mm if joint == "overlap" else 0.0
    impression_scale = _scale_record(part.impression, () if job.impression is None else job.impression.check_lengths)
    alignment = part.alignment
    inputs = [part.base.record, *([part.impression.record] if part.impression else []), *part.inputs]
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
            **({} if part.on_base_frame else {"origin": "the job's datum on the base scan, in mm"}),
            mirror=mirror,
            volume_cm3=part.pad.volume_cm3 if joint == "coincident" else None,
        ),
        bodies=bodies,
        settings=settings,
        levels=part.family.levels,
        material=_material(part),
        provenance=Provenance(
            version(),
            created,
            tuple(inputs),
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
            Contact(each.first, each.second, each.area_mm2 / 100.0, joint, amount) for each in part.regions.contacts
        ],
        predicted={body.id: predicted_region(part, body.id, plan) for body in bodies},
        predicted_part=predicted_part(part, plan),
        stl_sha256=stl,
    )


def _material(part: Part) -> MaterialRecord:
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
