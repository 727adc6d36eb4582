"""Two scans whose files were exchanged, told by their sizes before any work, or that are one and the same."""

from __future__ import annotations

from ...base.errors import InputError
from ...base.files import InputFile
from ...base.text import with_article
from ...job.card_sizes import fitting_units
from ...job.cards import Family
from ...job.read import blame_key
from ...job.schema import Base, Impression
from .point_readings import Seen


def refuse_swapped_sizes(base: Seen, impression: Seen, family: Family) -> None:
    """Refuse two scans of which each has a plausible size in the other's unit alone.

    Raises InputError when they look swapped.
    """
    if base.unit == impression.unit:
        return
    of_base, of_impression = (fitting_units(seen.bounds, family) for seen in (base, impression))
    is_crossed = impression.unit in of_base and base.unit in of_impression
    if is_crossed and base.unit not in of_base and impression.unit not in of_impression:
        with blame_key("base", "scan"):
            raise InputError(
                f"The scans look swapped: read in {base.unit} the base scan, and read in {impression.unit} the "
                f"impression scan, have no size that {with_article(family.name.lower())} can have, but each has one in "
                "the other's unit.",
                hint="Exchange the file names of base.scan and impression.scan, and leave the units where they are.",
            )


def refuse_same_bytes(base: Base, impression: Impression, base_file: InputFile, impression_file: InputFile) -> None:
    """Refuse a copy of the base scan in place of the impression scan.

    Raises InputError.
    """
    if base_file.sha256 == impression_file.sha256:
        with blame_key("impression", "scan"):
            raise InputError(
                f'"{impression.scan}" holds the same as the base scan, "{base.scan}", byte for byte.',
                hint="Give the file of the base under the pressed clay; if that was overwritten, save the scan again.",
            )
