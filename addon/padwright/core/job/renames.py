"""Keys and values of jobs and cards that once had another name: read without end, and told by the names of today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from .toml_lines import Path, show_path

_SETTINGS = {
    "fill_density_pct": "solid_share_pct",
    "fill_pattern": "fill_structure",
    "roof_layer_count": "body_side_layer_count",
    "floor_layer_count": "base_side_layer_count",
}
_KEYS: dict[Path, str] = {
    ("impression", "load_centre_count"): "load_center_count",
    ("impression", "load_centres"): "load_centers",
    ("body", "load_centre_spacing_mm"): "load_center_spacing_mm",
    ("zones", "load_centres"): "load_centers",
    ("zones", "colour"): "color",
    ("zones", "colour_tolerance"): "color_tolerance",
    ("limits", "fill_density_pct"): "solid_share_pct",
    ("limits", "fill_patterns"): "fill_structures",
}
_VALUES: dict[Path, Mapping[str, str]] = {
    ("zones", "source"): {"load_centres": "load_centers", "colour_marks": "color_marks"}
}


@dataclass(frozen=True)
class Renames:
    """What the keys and values of one kind of file were called."""

    # Path of the key as it was, without list numbers, tables above it as they are now -> its name now.
    keys: Mapping[Path, str]
    values: Mapping[Path, Mapping[str, str]] = field(
        default_factory=dict
    )  # by path as it is now: value as it was -> value now


JOB = Renames(_KEYS, _VALUES)
CARD = Renames(
    {
        **{("defaults", *path): name for path, name in _KEYS.items()},
        **{path: name for path, name in _KEYS.items() if path[0] == "zones"},
        **{("levels", old): name for old, name in _SETTINGS.items()},
    },
    _VALUES,
)
SETTINGS = Renames({(old,): name for old, name in _SETTINGS.items()})


@dataclass(frozen=True)
class Renewed:
    """Tables under the names of today."""

    tables: dict[str, Any]
    lines: dict[Path, int]  # by key path, both of today and as in the file
    # By key path of today: what the file calls a key that it gives under its old name
    once: dict[Path, str]
    notes: tuple[str, ...]  # one for each old name that was found
    doubles: tuple[tuple[Path, str], ...]  # path, text: keys given under both names


def renewed(tables: Mapping[str, Any], lines: Mapping[Path, int], renames: Renames) -> Renewed:
    """Return tables with every old name replaced by today's; of a key given under both names today's is kept."""
    notes: dict[str, None] = {}
    once: dict[Path, str] = {}
    doubles: list[tuple[Path, str]] = []

    def walk(value: Any, plain: Path, here: Path) -> Any:
        if isinstance(value, list):
            if not _may_hold_names(value):  # a drawn line, with a hundred thousand rows of numbers
                return value
            return [walk(item, plain, (*here, index)) for index, item in enumerate(value)]
        if not isinstance(value, Mapping):
            now = renames.values.get(plain, {}).get(value) if isinstance(value, str) else None
            if now is None:
                return value
            notes[f'Read under its old name: {show_path(plain)} = "{value}"; it is "{now}" now.'] = None
            return now
        found = {}
        for name, inner in value.items():
            now = renames.keys.get((*plain, name), name)
            if now != name:
                if now in value:
                    doubles.append(((*here, name), f"it is the old name of {now}, and both are given; keep {now}."))
                    continue
                old, new = show_path((*plain, name)), show_path((*plain, now))
                notes[f"Read under its old name: {old}; it is {new} now."] = None
                once[_path_now((*here, name), renames)] = name
            found[now] = walk(inner, (*plain, now), (*here, name))
        return found

    made = walk(tables, (), ())
    old = {path[-1] for path in renames.keys}
    now_lines = {_path_now(path, renames): line for path, line in lines.items() if not old.isdisjoint(path)}
    return Renewed(made, {**now_lines, **lines}, once, tuple(notes), tuple(doubles))


def _may_hold_names(value: Any) -> bool:
    if isinstance(value, list):
        return any(_may_hold_names(item) for item in value)
    return isinstance(value, (str, Mapping))


def _path_now(path: Path, renames: Renames) -> Path:
    now: Path = ()
    for part in path:
        plain = tuple(each for each in now if not isinstance(each, int))
        now = (*now, part if isinstance(part, int) else renames.keys.get((*plain, part), part))
    return now
