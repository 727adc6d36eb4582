"""What is wrong with a job, in the words of the panels: who works in the window has seen no key of a job file."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from ..core.job.toml_lines import Path, show_path
from .job_places import OPTIONAL, OTHERS, PLAIN
from .properties import UNIT_ITEMS, PADWRIGHT_PG_part

_LISTS = {
    ("zones",): ("zones", "Zone", {"color": "color", "color_tolerance": "tolerance"}),
    ("pad", "reliefs"): ("reliefs", "Relief", {"points": "curve"}),
    ("mat", "places"): ("mat_places", "Place", {}),
    ("impression", "load_centers"): ("centers", "Load center", {"use": "is_used"}),
}
_LENGTH = {"from": "start", "to": "end"}
_PLACES: dict[Path, str] = {
    ("body", "press_direction"): "press_vector",
    ("material", "card"): "material",
    ("pad", "footprint"): "footprint",
    ("target", "relieve"): "goal",
    ("impression",): "impression",
}
_KEYS = {
    "from_mm": '"From"',
    "measured_mm": '"By Hand"',
    "body.press_direction": "the press direction",
    "pad.envelope": "an envelope",
}
_IN_WINDOW = (
    (re.compile(r" by its number \(\[[a-z]+\] [a-z_]+ in the job\)"), ""),
    (re.compile(r'\buse (?:fill\.|\[fill\] )kind = "settings"'), 'choose "By Settings" in the panel "Fill"'),
    (re.compile(r'\bUse (?:fill\.|\[fill\] )kind = "settings"'), 'Choose "By Settings" in the panel "Fill"'),
    (re.compile(r"\[fill\] (?=[a-z_]+)"), "fill."),
    (re.compile(r"\[\[mat\.places\]\]"), 'places in the panel "Pressure Mat"'),
    (re.compile(r"\[\[impression\.load_centers\]\]"), 'the list in the panel "Impression"'),
)
_UNITS = {unit: title for unit, title, _ in UNIT_ITEMS}
_UNIT_HINT = re.compile(r'set unit = "(mm|cm|m|in)" for this scan')
_KEY = re.compile(r"\b([a-z]+)\.([a-z_]+)\b")
_FILE_WORDS = (", in quotes", " in quotes", "this table is missing; ")
_UNIT = re.compile(r" \((mm|kg|kPa|°)\)$")


def in_panel_words(part: Any, first_zone: int = 0) -> Callable[[Path, str], str]:
    """Return what turns a fault of a job, its place and text, into a sentence that names the fields of the panels.

    The job's first zone is the part's zone `first_zone`.
    """

    def said(path: Path, text: str) -> str:
        if path == ("part", "certified_gear"):
            caution = text.partition(". ")[2]
            return f'{caution} If it is not for such gear, start the part anew and tick "Not for Certified Gear".'
        if path[:1] == ("zones",) and len(path) > 1:
            path = ("zones", int(path[1]) + first_zone, *path[2:])
        for words in _FILE_WORDS:
            text = text.replace(words, "")
        text = text.replace('a direction [x, y, z], "auto" or "inward"', "a direction")
        for key, shown in _KEYS.items():
            text = re.sub(rf"\b{re.escape(key)}\b", shown, text)
        return f"{_field(part, path)}: {text}"

    return said


def in_window(text: str) -> str:
    """Return a sentence of the core with the fields and panels of the window for the keys of a job that it names."""
    for keys, shown in _IN_WINDOW:
        text = keys.sub(shown, text)
    text = _UNIT_HINT.sub(lambda found: f"choose {_UNITS[found[1]]} as its unit", text)
    return _KEY.sub(_shown, text)


def _shown(found: re.Match[str]) -> str:
    names = {where: name for name, where in {**OTHERS, **PLAIN, **OPTIONAL}.items()}
    name = names.get((found[1], found[2]))
    return found[0] if name is None else f'"{label(PADWRIGHT_PG_part, name)}"'


def _field(part: Any, path: Path) -> str:
    """Return what the panels call a place in a job."""
    for place, (rows, title, others) in _LISTS.items():
        if path[: len(place)] == place and len(path) > len(place) + 1:
            index, key = int(path[len(place)]), str(path[-1])
            row = [each for each in getattr(part, rows) if getattr(each, "is_said", True)][index]
            return f"{_title(title, index, row.name)}, {label(row, others.get(key, key))}"
    if len(path) == 4 and path[1] == "check_lengths":
        number, length = [each for each in enumerate(part.lengths) if each[1].scan == path[0]][int(path[2])]
        key = _LENGTH.get(str(path[3]), str(path[3]))
        return f"{_title('Check length', number, length.name)}, {label(length, key)}"
    names: dict[Path, str] = {where: name for name, where in {**PLAIN, **OPTIONAL}.items()}
    names.update(_PLACES)
    return label(part, names[path]) if path in names else show_path(path)


def _title(kind: str, index: int, name: str) -> str:
    is_short = name.strip() and name.isprintable() and len(name) <= 40
    return f'{kind} "{name}"' if is_short else f"{kind} {index + 1}"


def label(row: Any, name: str) -> str:
    """Return what the field of a property is called, without its unit."""
    found = row.bl_rna.properties.get(name)
    return _UNIT.sub("", found.name) if found is not None else name
