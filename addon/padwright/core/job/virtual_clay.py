"""What a job must say where no clay was scanned and the body is pressed into virtual clay."""

from __future__ import annotations

from .schema import Job
from .toml_tables import TableReader


def check_virtual_clay(reader: TableReader, job: Job) -> None:
    """Refuse clay that is neither scanned nor can be computed."""
    asked = job.impression
    if asked is None or asked.scan is not None:
        return
    if job.body.scan is None:
        reader.fault(
            ("impression", "scan"),
            "this key is missing; give the impression scan, or a scan of the body, body.scan, to press into virtual "
            "clay.",
        )
        return
    if asked.clay_thickness_mm is None:
        reader.fault(
            ("impression", "clay_thickness_mm"),
            "this key is missing; virtual clay has the thickness that the pad is to have where nothing presses.",
        )
    elif asked.imprint_depth_mm is not None and asked.imprint_depth_mm >= asked.clay_thickness_mm:
        reader.fault(
            ("impression", "imprint_depth_mm"),
            f"it must be below clay_thickness_mm, {asked.clay_thickness_mm:g}: deeper, the body stands on the base.",
        )
    if asked.imprint_depth_mm is not None and asked.clay_strength_kpa is not None:
        reader.fault(
            ("impression", "clay_strength_kpa"), "give either clay_strength_kpa or imprint_depth_mm, not both."
        )
    if job.body.press_direction == "inward":
        reader.fault(
            ("body", "press_direction"),
            'a body is pressed into virtual clay from one side; "inward" is not possible. Give three numbers, or scan '
            "clay that a hand has gripped.",
        )
    if asked.pressed_with_n is None and not _has_load(job):
        reader.fault(
            ("load",),
            "a load is missing; nothing else says how hard the body is pressed into virtual clay. Give "
            "load.body_mass_kg, load.force_n or impression.pressed_with_n.",
        )


def _has_load(job: Job) -> bool:
    load = job.load
    return bool(load.force_n if load.force_n is not None else (load.body_mass_kg or 0.0) * load.share)
