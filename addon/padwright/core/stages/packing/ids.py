"""UUIDs and file names that stay the same from one run to the next; ids come from `core/base/slugs.py`."""

from __future__ import annotations

import uuid

NAMESPACE = uuid.UUID("44198f1a-cceb-425d-a883-5750ed0b6fc5")
"""Drawn once at random for this project; the seed of every UUIDv5 (RFC 9562, section 5.5) and fixed for good."""

NAMESPACE_URI = f"urn:uuid:{NAMESPACE}"
"""Namespace of our 3MF metadata and `$id` of the settings schema; a URN needs no address on the web (RFC 9562)."""

SETTINGS_RELATION = "urn:uuid:d076f347-4248-4a01-b201-48c515374bbb"
"""Type of the package relationship from the 3D model to the settings inside the 3MF."""


def part_uuid(part_number: str, role: str) -> str:
    """Return the UUIDv5 of a part number and a role ("build", "part", "region:heel"), lower case.

    The same part number and role give the same UUID in every run (RFC 9562, section 5.5).
    """
    return str(uuid.uuid5(NAMESPACE, f"{part_number}\n{role}"))


def selection_number(number: str) -> str:
    """Return what the files of a selection begin with, so that none has a name of the whole part's."""
    return f"{number}.selection"


def commit_name(number: str, *, is_selection: bool) -> str:
    """Return the name of the document that makes a run's files one: a selection's does not claim to be a run."""
    return f"{selection_number(number)}.json" if is_selection else f"{number}.run.json"
