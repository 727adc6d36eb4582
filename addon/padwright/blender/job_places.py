"""Where the part's properties stand in a job: from the scene to a job and back, and which stage reads them."""

from __future__ import annotations

from typing import Any

PLAIN = {
    "family": ("part", "family"),
    "part_name": ("part", "name"),
    "number": ("part", "number"),
    "revision": ("part", "revision"),
    "is_mirrored": ("part", "mirror"),
    "base_unit": ("base", "unit"),
    "fit_gap_mm": ("pad", "fit_gap_mm"),
    "least_thickness_mm": ("pad", "least_thickness_mm"),
    "cover_mm": ("pad", "cover_mm"),
    "rim_radius_mm": ("pad", "rim_radius_mm"),
    "body_side_smoothing_mm": ("impression", "body_side_smoothing_mm"),
    "average_sides": ("impression", "average_sides"),
    "blend_steps": ("blend", "steps"),
    "blend_width_mm": ("blend", "width_mm"),
    "contact": ("regions", "contact"),
    "overlap_mm": ("regions", "overlap_mm"),
    "fill_kind": ("fill", "kind"),
    "fill_layout": ("fill", "layout"),
    "voids": ("fill", "voids"),
    "least_core_mm": ("fill", "least_core_mm"),
    "most_slope_deg": ("fill", "most_slope_deg"),
    "longest_bridge_mm": ("fill", "longest_bridge_mm"),
    "nozzle_mm": ("printer", "nozzle_mm"),
    "share": ("load", "share"),
    "grip_pressure_kpa": ("load", "grip_pressure_kpa"),
    "is_rigid": ("body", "rigid"),
    "goal": ("target", "goal"),
    "sinkage_limit_mm": ("target", "sinkage_limit_mm"),
    "writes_stl": ("output", "stl"),
}
OPTIONAL = {
    "clay_thickness_mm": ("impression", "clay_thickness_mm"),
    "imprint_depth_mm": ("impression", "imprint_depth_mm"),
    "clay_strength_kpa": ("impression", "clay_strength_kpa"),
    "scan_load_share": ("body", "scan_load_share"),
    "spacing_mm": ("body", "load_center_spacing_mm"),
    "body_mass_kg": ("load", "body_mass_kg"),
    "flesh_thickness_mm": ("body", "flesh_thickness_mm"),
    "wall_folds": ("fill", "folds"),
    "wall_beads": ("fill", "wall_beads"),
    "wall_pitch_mm": ("fill", "pitch_mm"),
    "skin_layers": ("fill", "skin_layers"),
}
"""What is 0 here was not measured, or is left to Padwright, and is left out of the job."""

OTHERS = {
    "impression_unit": ("impression", "unit"),
    "impression_scale": ("impression", "scale"),
    "shows_body": ("impression", "scan"),
    "press": ("body", "press_direction"),
    "press_vector": ("body", "press_direction"),
    "material": ("material", "card"),
    "run_vector": ("fill", "direction"),
    "mat_file": ("mat", "file"),
    "mat_unit": ("mat", "unit"),
    "mat_pitch_mm": ("mat", "pitch_mm"),
    "mat_dpi": ("mat", "dpi"),
    "mat_sheet_mm": ("mat", "sheet_mm"),
    "mat_dark_bears": ("mat", "dark_bears"),
    "mat_frames": ("mat", "frames"),
    "mat_frame": ("mat", "frame"),
    "mat_seen": ("mat", "flipped"),
    "mat_laid": ("mat", "laid"),
    "mat_pose": ("mat", "pose"),
    "mat_measured_on": ("mat", "measured_on"),
    "mat_for_load": ("mat", "use_for_load"),
    "mat_accuracy": ("mat", "accuracy_percent"),
    "mat_places_on": ("mat", "places_on"),
    "rows_run": ("fill", "direction"),
}
"""Properties that stand in a job otherwise than as their plain value."""

PLACES = {**PLAIN, **OPTIONAL, **OTHERS}
LISTS = (
    (("base", "check_lengths"), "lengths", ("scan", "measured_mm", "plus_minus_mm", "start", "end")),
    (("alignment", "pairs"), "pairs", ("base", "impression", "has_base", "has_impression")),
    (("mat", "places"), "mat_places", ("by", "cell", "at_mm", "pixel", "point", "has_point")),
    (
        ("zones",),
        "zones",
        (
            *("name", "level", "stiffness_times", "source", "radius_mm", "from_mm", "to_mm"),
            *("color", "tolerance", "paint", "from_kpa", "to_kpa"),
        ),
    ),
    (("target", "relieve"), "zones", ("name", "is_relieved")),
)
"""Place in a job, list of the part, and the columns that count."""


def sub_table(tables: dict[str, Any], path: tuple[str, ...]) -> dict[str, Any]:
    """Return the table at a path in a job, made where it is not there."""
    for name in path:
        tables = tables.setdefault(name, {})
    return tables
