"""Which key or word a person meant by one that is not known: by the words in common first, then by letters."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

from ..base.units import MM_PER_UNIT

_LEAST_ALIKE = 0.6
"""Of the letters, where no word is in common (the ratio of `difflib`). A choice of ours."""
_WORD_ALIKE = 0.8
"""From which ratio two words are one, misspelt or in the plural. A choice of ours."""
_SLIP = 0.9
"""From which ratio a name is a key but for a letter or two. A choice of ours."""
_UNITS = frozenset("mm cm m in n kpa kg g pct cm2 cm3 mm3 s deg".split())


def nearest_keys(name: str, known: Iterable[str], least: float = _LEAST_ALIKE) -> list[str]:
    """Return the known keys that a name stands for, those that fit equally well all of them; empty where none does.

    First come keys that are the name but for a letter or a dash; then those that share all words with it, the unit at
    the end aside, the one with the fewest words beside first; then the one with the most words in common, the first
    word counting twice, as it says what is meant; then the one with the most letters in common, `least` of them alike.
    """
    known = list(known)
    slips = {key: _ratio(_bare(name), _bare(key)) for key in known}
    nearest = max(slips.values(), default=0.0)
    if nearest >= _SLIP:
        return [key for key in known if slips[key] == nearest]
    typed = _words(name)
    ranked: dict[tuple[float, ...], list[str]] = {}
    for key in known:
        words = _words(key)
        rank = _rank(typed, words)
        alike = difflib.SequenceMatcher(None, "_".join(typed), "_".join(words)).ratio()
        if rank == _NO_WORD and max(alike, _ratio(name, key)) < least:
            continue
        ranked.setdefault((*rank, 0.0 if rank[0] else round(alike, 6)), []).append(key)
    return ranked[max(ranked)] if ranked else []


def has_all_words(name: str, key: str) -> bool:
    """Say if a key has every word of a name, its unit aside."""
    words = _words(key)
    return all(any(_is_same(word, each) for each in words) for word in _words(name))


def in_its_unit(name: str, key: str, value: object) -> str:
    """Return how to write a value under a key of another unit than the name ends in; "" where the unit is the same."""
    times = TIMES.get((name.lower().rpartition("_")[2], key.rpartition("_")[2]))
    if times is None or isinstance(value, bool) or not isinstance(value, (int, float)):
        return ""
    return f" Write: {key} = {value * times:.6g}"


TIMES = {
    **{(unit, "mm"): mm for unit, mm in MM_PER_UNIT.items() if unit != "mm"},
    ("kg", "n"): 9.80665,
    ("lb", "kg"): 0.45359237,
    ("lbs", "kg"): 0.45359237,
    ("g", "kg"): 0.001,
    ("bar", "kpa"): 100.0,
    ("psi", "kpa"): 6.894757,
    ("mpa", "kpa"): 1000.0,
}
"""What a number in the first unit is multiplied by to be in the second (SI brochure, 9th edition; NIST SP 811)."""

_NO_WORD = (0.0, 0.0, 0.0)


def _rank(typed: list[str], words: list[str]) -> tuple[float, float, float]:
    """Return how well the words fit: all of them, how many of them from the first on, and how few are beside."""
    if not typed or not words:
        return _NO_WORD
    common = [word for word in typed if any(_is_same(word, each) for each in words)]
    if not common:
        return _NO_WORD
    whole = float(len(common) == len(typed) or len(common) >= len(words))
    starts = float(_is_same(typed[0], words[0]))
    if not whole and not starts and 2 * len(common) < max(len(typed), len(words)):
        return _NO_WORD
    return whole, len(common) + starts, -float(abs(len(words) - len(typed)))


def _words(name: str) -> list[str]:
    """Return a name's words in small letters, without the unit at its end."""
    words = [word for word in re.split(r"[^a-z0-9]+", re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name).lower()) if word]
    while len(words) > 1 and words[-1] in _UNITS:
        words.pop()
    return words


_ALSO = {
    "colour": "color", "end": "to", "firmness": "level", "hardness": "level", "height": "thickness", "line": "bead",
    "maximum": "max", "min": "least", "minimum": "least", "outline": "footprint", "start": "from",
    "tolerance": "plus", "type": "kind", "walls": "contour", "wall": "contour", "weight": "mass",
}  # fmt: skip
"""Words that people use for one of ours."""


def _is_same(one: str, other: str) -> bool:
    return other in (one, _ALSO.get(one)) or (min(len(one), len(other)) > 3 and _ratio(one, other) >= _WORD_ALIKE)


def _bare(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower())


def _ratio(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one.lower(), other.lower()).ratio()
