"""What holds between the keys of a pressure mat, and between it and the zones that are taken from it."""

from __future__ import annotations

from .schema import Job
from .toml_tables import TableReader

_ENDS = ("from_kpa", "to_kpa", "from_pct", "to_pct")


def check_mat(reader: TableReader, job: Job) -> None:
    """Note what is wrong with the table of the mat."""
    mat = job.mat
    if mat.file is None:
        return
    if job.body.press_direction == "inward":
        reader.fault(("mat",), "a mat lies across one press direction; this part is gripped all around.")
    if mat.unit is not None and mat.unit != "raw" and mat.kpa_per_unit is not None:
        reader.fault(("mat", "kpa_per_unit"), 'give either unit or kpa_per_unit, not both (unit = "raw" goes with it).')
    if mat.frame is not None and mat.frames != "one":
        reader.fault(("mat", "frame"), 'one frame is taken with frames = "one" alone; write that too.')
    if mat.frames == "one" and mat.frame is None:
        reader.fault(("mat", "frames"), "say which one: frame = 1 is the first.")
    if mat.dpi is not None and mat.sheet_mm is not None:
        reader.fault(("mat", "dpi"), "the sheet's size says how large a pixel is; leave out dpi or sheet_mm.")
    if mat.sheet_corners is not None and mat.sheet_mm is None:
        reader.fault(("mat", "sheet_corners"), "give sheet_mm = [width, height] too: how far those corners are apart.")
    for index, place in enumerate(mat.places):
        if sum(each is not None for each in (place.cell, place.at_mm, place.pixel)) != 1:
            reader.fault(("mat", "places", index), "give one of cell, at_mm and, of a picture, pixel.")
    if mat.laid == "places" and len(mat.places) < 2:
        reader.fault(("mat", "laid"), f"{len(mat.places)} [[mat.places]] are given; give 2 or 3, or leave laid out.")
    if mat.laid in ("load_centers", "outline"):
        if len(mat.places) > 1:
            reader.fault(
                ("mat", "places"),
                f'with laid = "{mat.laid}" one place tells which way round; leave out the other.',
            )
        if job.impression is None:
            reader.fault(("mat", "laid"), "without an impression there is nothing to lay it by; give [[mat.places]].")
    if mat.places and mat.pose is not None:
        reader.fault(("mat", "pose"), "its places say how the mat lies; leave out pose or the places.")
    if job.impression is None and len(mat.places) < 2:
        reader.fault(("mat",), "without an impression the mat is laid by places alone: give 2 or 3 [[mat.places]].")


def check_mat_zone(reader: TableReader, job: Job, index: int) -> None:
    """Note what is wrong with a zone that is taken from pressures: of a file of its own, or of the job's mat."""
    zone = job.zones[index]
    path = ("zones", index)
    if all(getattr(zone, name) is None for name in _ENDS):
        reader.fault((*path, "from_kpa"), "give from_kpa, to_kpa or both, or from_pct and to_pct.")
    if zone.file is None and not zone.places:
        if job.mat.file is None:
            reader.fault((*path, "source"), 'the job has no [mat]; give one, with file = "...".')
        return
    if zone.file is None:
        reader.fault((*path, "file"), "this key is missing; places are those of a file of the zone's own.")
    if not zone.places:
        reader.fault(
            (*path, "places"), "this key is missing; a file of the zone's own is laid by places. Or move it to [mat]."
        )
