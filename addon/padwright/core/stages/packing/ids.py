"""UUIDs and file names that stay the same from one run to the next; ids come from `core/base/slugs.py`."""

from __future__ import annotations

import re
import uuid

from ...base.errors import InputError
from ...base.slugs import slug, unique_slugs

__all__ = ["NAMESPACE", "NAMESPACE_URI", "SETTINGS_RELATION", "file_stem", "part_uuid", "slug", "unique_slugs"]

NAMESPACE = uuid.UUID("44198f1a-cceb-425d-a883-5750ed0b6fc5")
"""Drawn once at random for this project; the seed of every UUIDv5 (RFC 9562, section 5.5) and fixed for good."""

NAMESPACE_URI = f"urn:uuid:{NAMESPACE}"
"""Namespace of our 3MF metadata and `$id` of the settings schema; a URN needs no address on the web (RFC 9562)."""

SETTINGS_RELATION = "urn:uuid:d076f347-4248-4a01-b201-48c515374bbb"
"""Type of the package relationship from the 3D model to the settings inside the 3MF."""

_RESERVED = re.compile(r"(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)")
_NOT_IN_FILE_NAMES = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')


def part_uuid(part_number: str, role: str) -> str:
    """Return the UUIDv5 of a part number and a role ("build", "part", "region:heel"), lower case.

    The same part number and role give the same UUID in every run (RFC 9562, section 5.5).
    """
    return str(uuid.uuid5(NAMESPACE, f"{part_number}\n{role}"))


def file_stem(part_number: str) -> str:
    """Return the part number if it can begin a file name on Linux, Windows and macOS.

    Raises InputError when it is empty, longer than 80 characters, has a character or an ending that a file name cannot
    have, or is a name that Windows keeps for its devices.
    """
    if not part_number or len(part_number) > 80:
        raise InputError(f"The part number has {len(part_number)} characters.", hint="Use 1 to 80.")
    found = _NOT_IN_FILE_NAMES.search(part_number)
    if found:
        raise InputError(
            f'The part number "{part_number}" holds {found.group()!r}, which file names cannot hold.',
            hint="Use letters, digits, -, _ and single dots.",
        )
    if part_number != part_number.strip(" .") or ".." in part_number or _RESERVED.match(part_number):
        raise InputError(
            f'The part number "{part_number}" cannot begin a file name on every system.',
            hint="Start and end with a letter or a digit.",
        )
    return part_number


def selection_number(number: str) -> str:
    """Return what the files of a selection begin with, so that none has a name of the whole part's."""
    return f"{number}.selection"


def commit_name(number: str, *, is_selection: bool) -> str:
    """Return the name of the document that makes a run's files one: a selection's does not claim to be a run."""
    return f"{selection_number(number)}.json" if is_selection else f"{number}.run.json"
