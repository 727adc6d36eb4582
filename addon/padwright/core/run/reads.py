"""What each stage reads of a job: the one list from which memory, ticks and marks of what is outdated are made.

Apart from the stages themselves, which load many libraries: panels ask it at every redraw.
"""

from __future__ import annotations

from typing import NamedTuple


class Reads(NamedTuple):
    """What a stage takes beside the results of the stages before it.

    Attributes
    ----------
    places : tuple of str
        Of a job, with dots: a key, or a table with all its keys.
    files : tuple of str
        Places of file names: the files' contents count, not what they are called.
    """

    places: tuple[str, ...]
    files: tuple[str, ...] = ()

    def holds(self, place: str) -> bool:
        """Say if a place of a job is one of these, or inside one."""
        return any(place == each or place.startswith(f"{each}.") for each in (*self.places, *self.files))


STAGE_READS = {
    "scans": Reads(
        (
            "part.family",
            "base.unit",
            "base.check_lengths",
            "base.pick_error_mm",
            "impression.unit",
            "impression.scale",
            "impression.check_lengths",
            "impression.pick_error_mm",
            "datum",
        ),
        ("base.scan", "impression.scan"),
    ),
    "alignment": Reads(("alignment", "seed")),
    "reading": Reads(
        (
            "body",
            "impression.clay_thickness_mm",
            "impression.contact_depth_mm",
            "impression.load_center_count",
            "impression.load_centers",
            "impression.smoothing_mm",
            "impression.body_side_smoothing_mm",
            "impression.average_sides",
        )
    ),
    "pad": Reads(("pad",), ("pad.envelope",)),
    "zones": Reads(("zones", "blend"), ("zones.file",)),
    "regions": Reads(("regions", "printer.bead_width_mm")),
    "load": Reads(("material", "printer", "limits", "load", "target"), ("material.card",)),
}
"""In the order of the stages; what one reads, those after it depend on too."""


def stage_of(place: str) -> str | None:
    """Return the first stage that reads a place of a job, or None where only packing does."""
    return next((stage for stage, reads in STAGE_READS.items() if reads.holds(place)), None)
