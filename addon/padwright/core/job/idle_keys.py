"""Keys that the person gave a job and that change nothing in it, because another key says so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from ..base.notes import Note, on_change
from .fill_table import Fill
from .mat_table import Mat
from .schema import Job, Limits

_OF_TUNING = (
    "loads", "caps", "peak_for_mass_pct", "peak_for_time_pct", "sinkage_limit_mm", "least_bottoming_margin",
    "level_step_limit", "greatest_modulus_ratio",
)  # fmt: skip


def idle_notes(job: Job) -> tuple[Note, ...]:
    """Return a note for each key that was given and changes nothing, with the key it hangs on."""
    given = set(job.given)
    return tuple(idle_note(key, why) for key, why in _idle(job) if key in given)


def idle_note(key: str, why: str) -> Note:
    """Return what to say of a given key, with dots, that changes nothing; `why` is a clause without its full stop."""
    return on_change(f"{key} changes nothing: {why}.")


def _idle(job: Job) -> Iterator[tuple[str, str]]:
    yield from _idle_of_shape(job)
    yield from _idle_of_settings(job)
    yield from _idle_of_load(job)


def _idle_of_shape(job: Job) -> Iterator[tuple[str, str]]:
    """Yield keys of scans, pad, zones and regions."""
    pad, blend = job.pad, job.blend
    if job.alignment.pairs:
        yield "alignment.pose", "the scans are aligned by alignment.pairs"
    if job.impression is None:
        yield "body.load_center_spacing_mm", "without an impression there are no load centers to compare it with"
    if job.body.scan is None:
        for name in ("scan_unit", "scan_load_share"):
            yield f"body.{name}", "no body.scan is given"
    if job.body.rigid:
        yield "body.flesh_thickness_mm", "with body.rigid the body has no flesh"
        yield "impression.pressed_with_n", "with body.rigid the clay's pressure does not count"
        yield "impression.clay_pressure", "with body.rigid the clay's pressure does not count"
    if job.impression is not None and job.impression.scan is None:
        for name in ("unit", "scale", "pick_error_mm"):
            yield f"impression.{name}", "virtual clay has no scan"
    elif job.impression is not None:
        for name in ("imprint_depth_mm", "clay_strength_kpa"):
            yield f"impression.{name}", "the clay was scanned, so how deep the body went in is measured"
        yield "body.scan_load_share", "the clay was scanned, so how loaded flesh looks is known"
    if job.mat.file is None:
        for each in fields(Mat)[1:]:
            yield f"mat.{each.name}", "no mat.file is given"
    if pad.envelope is None:
        yield "pad.envelope_unit", "no pad.envelope is given"
    if pad.footprint is None:
        yield "pad.footprint_on", "no pad.footprint is given"
    edge = "pad.envelope" if pad.envelope is not None else "pad.footprint" if pad.footprint is not None else ""
    if edge:
        yield "pad.footprint_from", f"{edge} says where the pad ends"
        yield "pad.contact_margin_mm", f"{edge} says where the pad ends"
    elif pad.footprint_from == "clay":
        yield "pad.contact_margin_mm", 'with pad.footprint_from = "clay" the pad ends at the edge of the clay'
    if len(job.zones) < 2:
        yield "blend.steps", "a blend lies between two zones, and there is one"
        yield "blend.width_mm", "a blend lies between two zones, and there is one"
    elif (
        job.fill.kind != "folds"
        and blend.steps == 0
        and not any(each.steps and each.width_mm is None for each in blend.between)
    ):
        yield "blend.width_mm", "blend.steps is 0, so zones meet without a blend"
    if job.fill.kind == "folds":
        for name in ("contact", "overlap_mm", "least_width_beads"):
            yield f"regions.{name}", 'with fill.kind = "folds" the pad stays one solid'
    elif job.regions.contact != "overlapping":
        yield "regions.overlap_mm", f'regions.contact is "{job.regions.contact}"'


def _idle_of_settings(job: Job) -> Iterator[tuple[str, str]]:
    """Yield keys of what may be chosen and of tuning."""
    target = job.target
    if job.fill.kind == "folds":
        for each in fields(Limits):
            yield f"limits.{each.name}", 'with fill.kind = "folds" walls make it soft, not settings'
        if job.fill.layout != "rows":
            yield "fill.direction", f'only rows run one way, and fill.layout is "{job.fill.layout}"'
    else:
        for each in fields(Fill)[1:]:
            yield f"fill.{each.name}", f'it is for folded walls, and fill.kind is "{job.fill.kind}"'
    if job.printer.bead_width_mm is not None and job.fill.kind != "folds":
        yield "limits.bead_widths_mm", "printer.bead_width_mm is taken for all regions"
    if target.goal != "relieve":
        for name in ("relieve", "relief_share"):
            yield f"target.{name}", f'target.goal is "{target.goal}", and only "relieve" relieves zones'
    if target.goal == "levels":
        for name in _OF_TUNING:
            yield f"target.{name}", 'target.goal is "levels", so nothing is tuned'
    elif not job.load.cases:
        yield "target.loads", "there is one load, as [[load.cases]] is empty"


def _idle_of_load(job: Job) -> Iterator[tuple[str, str]]:
    """Yield keys of the load."""
    load = job.load
    if job.body.press_direction == "inward":
        why = "a part gripped all around bears no weight; give load.squeeze_n or load.grip_pressure_kpa"
        by_weight = [case for case in load.cases if case.force_n is None]
        if not by_weight:
            yield "load.body_mass_kg", why
        if not any(case.share is None for case in by_weight):
            yield "load.share", why
        yield "load.point", "no one force acts on a part gripped all around"
    elif load.body_mass_kg is None:
        yield "load.share", "it is a share of load.body_mass_kg, which is not given"
    if job.body.press_direction != "inward":
        yield "load.grip_pressure_kpa", "only parts that wrap around their base are gripped; give load.force_n"
    elif load.squeeze_n:
        yield "load.grip_pressure_kpa", "load.squeeze_n is taken instead"
