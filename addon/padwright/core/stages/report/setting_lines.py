"""What to type in for each region, line by line: our settings in the person's names, order and units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...base.mesh import Float
from .setting_words import BOTTOM, SETTING_KINDS, SIDES, STRUCTURE_WORDS, TOP
from .words_map import WordsMap

_SOLID = "solid"
_MOST_DECIMALS = 9
_MOST_ROUNDED = 0.05
"""A number may change by so much when it is rounded to the decimals a program takes: as sure as a part is weighed."""
_UPRIGHT = 0.9
"""Cosine between the body side and up from which it counts as the top (or the bottom): within about 25 degrees."""
_SHOWN = {"fraction": "", "layers": "", "lines": "", "% of nozzle": "%", "% of line width": "%"}
_SHOWN |= {"degC": "degrees C", "degF": "degrees F"}


@dataclass(frozen=True)
class SettingLine:
    """One thing to type in."""

    key: str  # ours; "" for a line of the person's own
    name: str  # in the person's words
    value: str  # as it is typed
    unit: str = ""  # what stands behind it
    where: str = ""  # where in the person's program

    @property
    def told(self) -> str:
        """The value with its unit."""
        return f"{self.value} {self.unit}".rstrip()


@dataclass(frozen=True)
class RegionLines:
    """All that is typed in for one region."""

    id: str
    name: str
    lines: tuple[SettingLine, ...]

    def value(self, setting: str) -> str:
        """Return what is typed in for one of our settings; "" where it has none."""
        return next((line.value for line in self.lines if line.key == setting), "")


def body_is_up(press_direction: Float | None, turn: Float) -> bool | None:
    """Say if a part lies body side up; None where it lies on neither of its sides.

    `turn`, (3, 3), is from the part frame to the bed's.
    """
    if press_direction is None:
        return None
    up = -float(np.asarray(turn)[2] @ np.asarray(press_direction, dtype=np.float64))
    return None if abs(up) < _UPRIGHT else up > 0.0


def setting_lines(
    settings: Mapping[str, Any], words: WordsMap, *, is_body_up: bool | None, material: str = ""
) -> tuple[SettingLine, ...]:
    """Return what is typed in for a region with these settings, in the order of the map.

    A number that the map's decimals would move by more than 5 % keeps as many as it needs: a run ends with its files,
    and the person sees what their program cannot take.

    Parameters
    ----------
    settings : mapping
        As in the settings document: by the names of `RegionSettings`.
    is_body_up : bool or None
        From `body_is_up`: where the part lies on a side, closed layers are told as those at the top and the bottom.
    material : str
        Name of the filament; left out, its id.
    """
    found = _by_side(settings, is_body_up)
    if material:
        found["material_id"] = material
    if found.get("fill_structure") == _SOLID:  # closed throughout
        for each in (TOP, BOTTOM, *SIDES, "fill_cell_mm"):
            found.pop(each, None)
    order = [*words.settings, *(each for each in SETTING_KINDS if each not in words.settings)]
    lines = []
    for setting in order:
        said = words.of(setting)
        if setting not in found or said.leave_out:
            continue
        name = said.name or SETTING_KINDS[setting].name
        lines.append(SettingLine(setting, name, *_value(setting, found, words), said.where))
    return tuple(lines)


def _by_side(settings: Mapping[str, Any], is_body_up: bool | None) -> dict[str, Any]:
    found = {name: value for name, value in settings.items() if name in SETTING_KINDS}
    if is_body_up is not None:
        for side, place in zip(SIDES, (TOP, BOTTOM) if is_body_up else (BOTTOM, TOP), strict=True):
            if side in found:
                found[place] = found.pop(side)
    return found


def _value(setting: str, found: Mapping[str, Any], words: WordsMap) -> tuple[str, str]:
    """Return a setting's value and its unit, as the person's program takes them."""
    kind, said, value = SETTING_KINDS[setting], words.of(setting), found[setting]
    if setting == "fill_structure":
        named = getattr(said.values, str(value), "")
        return named or STRUCTURE_WORDS.get(str(value), str(value)), ""
    if not kind.units:
        return str(value), ""
    unit = said.unit or kind.unit
    numbers = {name: each for name, each in found.items() if isinstance(each, int | float)}
    number = kind.units[unit](float(value), numbers) * said.times
    is_whole = kind.is_count and unit == kind.unit and said.times == 1.0
    decimals = said.decimals or 0
    told = _rounded(number, decimals) if said.decimals is not None or is_whole else _figures(number)
    while abs(float(told) - number) > _MOST_ROUNDED * abs(number) and decimals < _MOST_DECIMALS:
        decimals += 1
        told = _rounded(number, decimals)
    behind = _SHOWN.get(unit, unit) if said.unit_words is None else said.unit_words
    least = "at least " if setting == "contour_count" and found.get("fill_structure") == _SOLID else ""
    return f"{least}{told}", behind


def _figures(number: float) -> str:
    """Return a number with four figures at most, never with a power of ten."""
    text = f"{number:.4g}"
    return _rounded(float(text), 6) if "e" in text else text


def _rounded(number: float, decimals: int) -> str:
    """Return a number with so many decimals at most, without needless zeros."""
    text = f"{number:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def shared_lines(regions: Sequence[RegionLines]) -> tuple[tuple[SettingLine, ...], tuple[SettingLine, ...]]:
    """Return what is the same in all regions, and the first line of each setting that is not, for a heading."""
    every = {line.key: line for region in regions for line in region.lines}
    order = list(dict.fromkeys(line.key for region in regions for line in region.lines))
    same = {each for each in order if len({region.value(each) for region in regions}) == 1}
    return tuple(every[each] for each in order if each in same), tuple(
        every[each] for each in order if each not in same
    )
