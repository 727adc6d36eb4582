"""Names made into ids, files and UUIDs that stay the same from one run to the next."""

from __future__ import annotations

import hashlib
import re
import unicodedata
import uuid
from collections.abc import Sequence

from ..errors import InputError

NAMESPACE = uuid.UUID("44198f1a-cceb-425d-a883-5750ed0b6fc5")
"""Drawn once at random for this project; the seed of every UUIDv5 (RFC 9562, section 5.5) and fixed for good."""

NAMESPACE_URI = f"urn:uuid:{NAMESPACE}"
"""Namespace of our 3MF metadata and `$id` of the settings schema; a URN needs no address on the web (RFC 9562)."""

SETTINGS_RELATION = "urn:uuid:d076f347-4248-4a01-b201-48c515374bbb"
"""Type of the package relationship from the 3D model to the settings inside the 3MF."""

LONGEST_ID = 40
_RESERVED = re.compile(r"(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)")
_NOT_IN_FILE_NAMES = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')


def slug(name: str) -> str:
    """Return the id of a name: a letter, then at most 39 of a-z, 0-9, "-" and "_".

    The rule: fold the case, take accents off, turn every other run of characters into one "-", trim "-" from both
    ends, put "zone-" before a name that does not start with a letter, and cut at 40 characters. A name that leaves
    nothing (another script) becomes "zone-" and eight hex digits of its SHA-256, so that it stays the same.

    Parameters
    ----------
    name : str
        The person's own words.

    Raises
    ------
    InputError
        When the name is empty or only blanks.
    """
    if not name.strip():
        raise InputError("A zone has an empty name.", hint="Give it a name.")
    plain = "".join(c for c in unicodedata.normalize("NFKD", name.casefold()) if not unicodedata.combining(c))
    words = re.sub(r"[^a-z0-9_]+", "-", plain).strip("-_")
    if not words:
        return "zone-" + hashlib.sha256(unicodedata.normalize("NFC", name).encode()).hexdigest()[:8]
    if not words[0].isalpha():
        words = "zone-" + words
    return words[:LONGEST_ID].rstrip("-_")


def unique_slugs(names: Sequence[str]) -> tuple[str, ...]:
    """Return one id a name, all different: where two names give the same id, the later gets "-2", "-3" and so on."""
    taken: set[str] = set()
    ids: list[str] = []
    for name in names:
        base = candidate = slug(name)
        number = 1
        while candidate in taken:
            number += 1
            suffix = f"-{number}"
            candidate = base[: LONGEST_ID - len(suffix)].rstrip("-_") + suffix
        taken.add(candidate)
        ids.append(candidate)
    return tuple(ids)


def part_uuid(part_number: str, role: str) -> str:
    """Return the UUIDv5 of a part number and a role ("build", "part", "region:heel"), lower case.

    The same part number and role give the same UUID in every run (RFC 9562, section 5.5).
    """
    return str(uuid.uuid5(NAMESPACE, f"{part_number}\n{role}"))


def file_stem(part_number: str) -> str:
    """Return the part number if it can begin a file name on Linux, Windows and macOS.

    Raises
    ------
    InputError
        When it is empty, longer than 80 characters, has a character or an ending that a file name cannot have, or is
        a name that Windows keeps for its devices.
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
