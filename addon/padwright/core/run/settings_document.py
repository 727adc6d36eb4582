"""What the settings document is made of, gathered from the part as it is laid out."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

from ..base.files import InputFile
from ..base.plain import picked
from ..base.resources import version
from ..job.material_cards import MaterialCard
from ..job.schema import CheckLength
from ..stages.material.material_model import model_from_card
from ..stages.packing.sidecar import stl_name
from ..stages.packing.sidecar_parts import (
    ContactRecord,
    MaterialRecord,
    PartRecord,
    Provenance,
    ScaleRecord,
    SidecarParts,
)
from ..stages.printing.print_record import print_record
from ..stages.regions.bodies import rounded_mesh
from ..stages.scans.captured import CapturedScans, Scan
from .laid_out import LaidOut
from .parts import MadePart
from .predicted import predicted_part, predicted_region


def _union_cm3(part: MadePart) -> float | None:
    """Return the volume that overlapping regions fill together, the pad's on the files' grid; None where they touch."""
    assert part.pad is not None and part.regions is not None
    if not part.regions.is_overlapping or not part.regions.contacts:
        return None
    return rounded_mesh(part.pad.mesh).volume / 1000.0


def document_parts(
    part: MadePart, laid: LaidOut, created: str, files: Mapping[str, bytes], beside: Sequence[InputFile] = ()
) -> SidecarParts:
    """Return what the settings document is made of.

    `created` is UTC, `files` are the STLs, for their digests, `beside` the files read besides those of the stages.
    """
    job, plan = part.job, laid.plan
    assert part.regions is not None and part.firmness is not None
    joint = "overlap" if part.regions.is_overlapping else "coincident"
    amount = job.regions.overlap_mm if joint == "overlap" else 0.0
    stl = {body.id: files.get(stl_name(job.part.number, body.id)) for body in laid.bodies}
    parts = SidecarParts(
        part=_part_record(part, laid),
        bodies=laid.bodies,
        settings=laid.settings,
        levels=part.family.levels,
        material=material_record(part.material),
        provenance=_provenance(part, created, beside),
        cautions=part.family.cautions,
        stops_answered=_answered(part),
        contacts=[
            ContactRecord(each.first, each.second, each.area_mm2 / 100.0, joint, amount)
            for each in part.regions.contacts
        ],
        predicted={body.id: predicted_region(part, body.id, plan) for body in laid.bodies},
        predicted_part=predicted_part(part, plan),
        stl_sha256={body: hashlib.sha256(data).hexdigest() for body, data in stl.items() if data is not None},
        wished=laid.wished,
        is_tuned=part.firmness.tuning is not None,
        stl_from_part=laid.stl_from_part,
        printing={
            **print_record(
                plan,
                job.printer.bed_mm,
                is_bed_given="printer.bed_mm" in job.given,
                stl_count=len(files),
                card=part.material,
            ),
            **({} if job.printer.flow_pct == 100.0 else {"flow_pct": job.printer.flow_pct}),
        },
    )
    return parts if laid.selection is None else laid.selection.told(parts)


def _part_record(part: MadePart, laid: LaidOut) -> PartRecord:
    assert part.pad is not None
    words = part.job.part
    return PartRecord(
        words.name,
        words.number,
        words.revision,
        part.pad.press_direction,
        laid.to_bed,
        family=part.family.id,
        description=words.note,
        **({} if part.of(CapturedScans).on_base_frame else {"origin": "the job's datum on the base scan, in mm"}),
        mirror=laid.mirror,
        volume_cm3=_union_cm3(part),
        orientation=laid.plan.orientation.name,
        bed_scale=laid.bed_scale if (laid.bed_scale != 1.0).any() else None,
    )


def _provenance(part: MadePart, created: str, beside: Sequence[InputFile]) -> Provenance:
    job = part.job
    base = _scale_record(part.base, job.base.check_lengths) or ScaleRecord(1.0, 0.0, "unknown", "none")
    impression = _scale_record(part.impression, () if job.impression is None else job.impression.check_lengths)
    agreement = None if part.alignment is None else picked(part.alignment, "rms_mm", "p95_mm", "overlap")
    return Provenance(version(), created, (*part.inputs, *beside), base, impression, agreement, job.seed)


def _answered(part: MadePart) -> dict[str, str]:
    """Return by their codes the cautions that the job answers, and how."""
    if part.job.part.certified_gear is not False:
        return {}
    stops = [each.code for each in part.family.cautions if each.severity == "stop"]
    return dict.fromkeys(stops, "part.certified_gear = false in the job")


def material_record(card: MaterialCard) -> MaterialRecord:
    """Return what the settings document says of a material."""
    solid = model_from_card(card).solid
    return MaterialRecord(card.id, card.name, card.symbol, card.hardness, card.density_g_cm3, solid.as_json())


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
