"""Names in a person's words made into ids that files and programs accept."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Collection, Sequence

from .errors import InputError

LONGEST_ID = 40


def slug(name: str) -> str:
    """Return the id of a name in the person's words: a letter, then at most 39 of a-z, 0-9, "-" and "_".

    The rule: fold the case, take accents off, turn every other run of characters into one "-", trim "-" from both
    ends, put "zone-" before a name that does not start with a letter, and cut at 40 characters. A name that leaves
    nothing (another script) becomes "zone-" and eight hex digits of its SHA-256, so that it stays the same.

    Raises InputError when the name is empty or only blanks.
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


def unused_name(name: str, taken: Collection[str]) -> str:
    """Return the name, or where it is taken the first of "name (2)", "name (3)" and so on that is not."""
    found, number = name, 1
    while found in taken:
        number += 1
        found = f"{name} ({number})"
    return found


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
