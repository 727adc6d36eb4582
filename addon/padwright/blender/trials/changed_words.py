"""Keys of a job that changed, in the words of the fields."""

from __future__ import annotations

import re

from .. import reporting
from ..job_words import label
from ..properties_lists import PADWRIGHT_PG_zone

_OF_ZONE = re.compile(r'zones "(.+)"\.(\w+)')


def key_words(name: str) -> str:
    """Return a key by its place, as `zones "rest".level` or `pad.fit_gap_mm`, as the panels call it."""
    found = _OF_ZONE.fullmatch(name)
    if found is not None:
        return f"{found[1]}: {label(PADWRIGHT_PG_zone, found[2])}"
    return reporting.in_window(name).strip('"')
