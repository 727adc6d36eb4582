"""Which of a region's settings the person gave: by the keys that stand in the job, not by what their values are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ..job.material_cards import is_shared_material
from ..job.schema import Job
from ..stages.material.region_settings import RegionSettings

_KEYS = {
    "material_id": "material.card",
    "nozzle_diameter_mm": "printer.nozzle_mm",
    "bead_width_mm": "printer.bead_width_mm",
    "layer_thickness_mm": "printer.layer_thickness_mm",
    "max_volume_flow_mm3_s": "material.max_volume_flow_mm3_s",
}


def with_persons_basis(settings: RegionSettings, job: Job) -> RegionSettings:
    """Return the settings with the basis "user" for each that the job itself gives, and for no other.

    A setting counts as given when its key stands in the job, or when the limits in the job leave nothing else; the
    speed when it is the machine's limit that the job names and not one the flow holds lower.
    """
    return replace(settings, basis={**settings.basis, **dict.fromkeys(_given(settings, job), "user")})


def _given(settings: RegionSettings, job: Job) -> Iterator[str]:
    yield from (name for name, place in _KEYS.items() if place in job.given)
    if "printer.max_speed_mm_s" in job.given and settings.max_speed_mm_s == job.printer.max_speed_mm_s:
        yield "max_speed_mm_s"
    if "material.card" in job.given and not is_shared_material(job.material.card):
        # No card that ships names a temperature: what a card of the person's own does is theirs.
        yield from (name for name in ("nozzle_temperature_degC", "bed_temperature_degC") if name in settings.basis)
    limits = job.limits
    for key, name, allowed in (
        ("bead_widths_mm", "bead_width_mm", limits.bead_widths_mm or ()),
        ("fill_structures", "fill_structure", limits.fill_structures),
        ("solid_share_pct", "solid_share_pct", limits.solid_share_pct),
        ("contour_counts", "contour_count", limits.contour_counts),
    ):
        if f"limits.{key}" in job.given and set(allowed) == {getattr(settings, name)}:
            yield name
