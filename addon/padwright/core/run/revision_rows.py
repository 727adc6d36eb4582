"""Two run documents and two settings documents row by row: keys of the job, settings, what is predicted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ..base.text import figure
from ..job.toml_values import toml_value
from ..stages.report.document_lines import lines_of
from ..stages.report.setting_lines import RegionLines
from ..stages.report.side_by_side import STIFFNESS, ChainRow, ChangedRow
from ..stages.report.words_map import WordsMap
from .revisions import Revision

_LONGEST = 60
_WORKED_OUT = ("solid_share_pct", "fill_cell_mm")
"""Settings that no person set: they move a little with whatever else changes."""
_OWN = {"given", "schema", "part.revision", "part.previous"}
"""Keys of a job that differ between any two revisions, or say nothing of the part; so do all of [output]."""


def key_rows(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[ChangedRow, ...]:
    """Return the keys that two jobs, as tables, have differently; zones are told by their names."""
    first, second = dict(_flat(before)), dict(_flat(now))
    rows = []
    for name in dict.fromkeys([*second, *first]):
        if name not in _OWN and not name.startswith("output.") and first.get(name) != second.get(name):
            rows.append(ChangedRow("", name, *(_shown(each.get(name)) for each in (first, second))))
    return tuple(rows)


def corrected_rows(asked: Sequence[tuple[str, Any]], job: Mapping[str, Any]) -> tuple[ChangedRow, ...]:
    """Return what keys were to become by a comparison with the print, beside what a job, as tables, has now."""
    now = dict(_flat(job))
    return tuple(ChangedRow("", name, _shown(value), _shown(now.get(name))) for name, value in asked)


def _flat(table: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    for name, value in table.items():
        here = f"{path}.{name}" if path else name
        if isinstance(value, Mapping):
            yield from _flat(value, here)
        elif isinstance(value, list) and value and all(isinstance(each, Mapping) for each in value):
            for number, each in enumerate(value, start=1):
                called = each.get("name")
                yield from _flat(each, f'{here} "{called}"' if called else f"{here} {number}")
        else:
            yield here, value


def _shown(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list) and len(value) > 3:
        return f"a list of {len(value)}"
    text = toml_value(value)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 4]} ..."


def file_rows(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[ChangedRow, ...]:
    """Return the input files whose content changed, from two settings documents."""
    first, second = ({each["role"]: each for each in doc["provenance"]["inputs"]} for doc in (before, now))
    rows = []
    for role in dict.fromkeys([*second, *first]):
        ends = [each.get(role) for each in (first, second)]
        if role != "settings_map" and ends[0] != ends[1] and len({each and each["sha256"] for each in ends}) > 1:
            told = (f"{each['file']} ({each['sha256'][:8]})" if each else "" for each in ends)
            rows.append(ChangedRow("", f"content of the {role.replace('_', ' ')}", *told))
    return tuple(rows)


def setting_rows(before: Mapping[str, Any], now: Mapping[str, Any], words: WordsMap) -> tuple[ChangedRow, ...]:
    """Return the settings that two settings documents have differently, region by region in the person's words.

    A fill within half a percent is as before.
    """
    first, second = ({each.id: each for each in lines_of(dict(doc), words)} for doc in (before, now))
    rows = []
    for region in dict.fromkeys([*second, *first]):
        both = [each.get(region) for each in (first, second)]
        lines = {line.key: line.name for each in both if each for line in each.lines}
        name = next(each.name for each in reversed(both) if each)
        for key, what in lines.items():
            told = [_told(each, key) for each in both]
            if told[0] != told[1] and not (key in _WORKED_OUT and _is_as_before(both, key)):
                rows.append(ChangedRow(name, what, *told))
    return tuple(rows)


def _told(region: RegionLines | None, key: str) -> str:
    return next((line.told for line in region.lines if line.key == key), "") if region else ""


def _is_as_before(both: Sequence[RegionLines | None], key: str) -> bool:
    ends = [each.value(key) if each else "" for each in both]
    return all(ends) and float(ends[0]) > 0.0 and _percent_more(float(ends[0]), float(ends[1])) == 0


def _percent_more(before: float, now: float) -> int:
    """Return by how many percent a number is more than before, above 0; 0 within half of one: that tells nothing."""
    return round(100.0 * (now / before - 1.0))


def zone_rows(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[ChangedRow, ...]:
    """Return stiffness, pressure and give of each zone, from two run documents."""
    rows = []
    stiff = [{each["name"]: each["reached_kPa"] for each in run["settings"]["zones"]} for run in (before, now)]
    loads = [_zones_of_load(run) for run in (before, now)]
    for zone in dict.fromkeys([*stiff[1], *stiff[0]]):
        rows.append(_number_row(zone, STIFFNESS, [each.get(zone) for each in stiff], times=True))
        for key, what, factor in (
            ("mean_pressure_kPa", "mean pressure, kPa", 1.0),
            ("sinkage_mm", "gives, mm", 1.0),
            ("bottoming_margin", "give left, %", 100.0),
        ):
            ends = [_scaled(each.get(zone, {}).get(key), factor) for each in loads]
            if any(each is not None for each in ends):
                rows.append(_number_row(zone, what, ends))
    return tuple(rows)


def whole_rows(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[ChangedRow, ...]:
    """Return load, mass and hours of the part, from two run documents."""
    rows = []
    for path, what in (
        (("load", "force_n"), "load, N"),
        (("load", "sinkage_mm"), "gives, mm"),
        (("load", "peak_pressure_kPa"), "peak pressure, kPa"),
        (("load", "mean_pressure_kPa"), "mean pressure, kPa"),
        (("print", "mass_g"), "weighs, g"),
        (("print", "time_h"), "prints, h"),
        (("print", "filament_m"), "filament, m"),
    ):
        ends = [(run.get(path[0]) or {}).get(path[1]) for run in (before, now)]
        if any(each is not None for each in ends):
            rows.append(_number_row("", what, ends))
    return tuple(rows)


def _zones_of_load(run: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {each["name"]: each for each in (run.get("load") or {}).get("zones", ())}


def _scaled(number: Any, factor: float) -> Any:
    if isinstance(number, Mapping):
        return {**number, **{end: factor * number[end] for end in ("value", "low", "high")}}
    return number


def _number_row(where: str, what: str, ends: Sequence[Any], *, times: bool = False) -> ChangedRow:
    """Return a row of two numbers or estimates, each told with its bounds, and by how much they differ."""
    told = [_estimate(each) for each in ends]
    values = [float(each["value"] if isinstance(each, Mapping) else each) for each in ends if each is not None]
    change = ""
    if len(values) == 2 and told[0] != told[1] and values[0] > 0.0:
        share = _percent_more(*values)
        change = "" if share == 0 else f"x {values[1] / values[0]:.2f}" if times else f"{share:+d} %"
    return ChangedRow(where, what, told[0], told[1], change)


def _estimate(each: Any) -> str:
    if each is None:
        return ""
    if not isinstance(each, Mapping):
        return figure(float(each), 0 if abs(each) >= 10.0 else 1)
    value, low, high = (float(each[end]) for end in ("value", "low", "high"))
    digits = len(figure(value).partition(".")[2])
    text = f"{value:.{digits}f}"
    return text if low == high else f"{text} ({low:.{digits}f} to {high:.{digits}f})"


def history_row(revision: Revision) -> dict[str, Any]:
    """Return what the run documents of later revisions keep of one."""
    run = revision.run
    return {
        "revision": revision.name,
        "created_utc": revision.settings["provenance"]["created_utc"],
        "folder": revision.folder,
        "mass_g": run["print"]["mass_g"],
        "time_h": run["print"]["time_h"],
        "sinkage_mm": (run.get("load") or {}).get("sinkage_mm"),
        "zones": [{"name": each["name"], "reached_kPa": each["reached_kPa"]} for each in run["settings"]["zones"]],
    }


def chain_row(kept: Mapping[str, Any], felt: str) -> ChainRow:
    """Return a row of the table of all revisions from what `history_row` keeps."""
    stiff = "; ".join(f"{each['name']} {figure(each['reached_kPa'])}" for each in kept["zones"])
    hours = kept["time_h"]
    return ChainRow(
        str(kept["revision"]),
        str(kept["created_utc"])[:10],
        figure(float(kept["mass_g"]["value"])),
        f"{figure(float(hours['low']))} to {figure(float(hours['high']))}",
        _estimate(kept["sinkage_mm"]),
        stiff,
        felt,
    )
