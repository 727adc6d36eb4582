"""What the lines before a mat's numbers state: unit, distance of cells, size of a frame, numbers with a meaning."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ...job.mat_table import RAW

_NUMBER = r"[+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?"
_UNITS = (
    # unit, how it is written
    ("N/cm2", r"\bN\s*/\s*(?:sq\.?\s*cm|cm\s*\^?\s*[2²])"),
    ("N/mm2", r"\bN\s*/\s*(?:sq\.?\s*mm|mm\s*\^?\s*[2²])|\bMPa\b"),
    ("kg/cm2", r"\bkgf?\s*/\s*(?:sq\.?\s*cm|cm\s*\^?\s*[2²])"),
    ("g/cm2", r"\bgf?\s*/\s*(?:sq\.?\s*cm|cm\s*\^?\s*[2²])"),
    ("kPa", r"\bk[Pp][Aa]\b|\bKPA\b|(?i:\bkilopascals?\b)"),
    ("hPa", r"\bhPa\b"),
    ("mmHg", r"(?i:\bmm\s*\.?\s*hg\b|\btorr\b)"),
    ("psi", r"(?i:\bpsi\b|\blbf?\s*/\s*in\s*\^?\s*[2²])"),
    ("mbar", r"(?i:\bmbar\b|\bmillibars?\b)"),
    ("bar", r"\b[Bb]ar\b"),
    ("Pa", r"\bPa\b|(?i:\bpascals?\b)"),
    (RAW, r"(?i:\braw\b|\bcounts?\b|\badc\b|\bdigital output\b|\braw[_ ]?sums?\b)"),
)
_UNIT_LINE = re.compile(r"(?i)\bunits?\b|\beinheit|\bunit[eéà]|\bunidad")
_PITCH_LINE = re.compile(
    r"(?i)pitch|spacing|sensel|(?:cell|sensor|element)[ _-]*(?:size|dimension|width|height|distance)"
    r"|resolution|abstand|teilung|raster"
)
_DOWN = re.compile(r"(?i)\brow|_row|height|vertical|\by\b|zeile")
_ACROSS = re.compile(r"(?i)\bcol|_col|width|horizontal|\bx\b|spalte")
_LENGTHS = {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, "inches": 25.4, "m": 1000.0}
_LENGTH = re.compile(rf"({_NUMBER})\s*(?:[x\u00d7*/;,]\s*({_NUMBER})\s*)?(mm|cm|inch(?:es)?|in|m)\b(?!\s*\^?\s*[2²Hh])")
_BARE = re.compile(rf"[:=;,\t ]\s*({_NUMBER})\s*$")
_ROWS = re.compile(r"(?i)\b(?:n_?|num(?:ber)?[ _]?(?:of[ _])?|\w*_)?(?:rows?|zeilen)\b\W{0,4}(\d+)")
_COLUMNS = re.compile(r"(?i)\b(?:n_?|num(?:ber)?[ _]?(?:of[ _])?|\w*_)?(?:cols?|columns?|spalten)\b\W{0,4}(\d+)")
_SIZE = re.compile(
    r"(?i)\b(?:size|grid|matrix|frame size|sensors?|cells?|sensels?)\b\W{0,3}(\d+)\s*[x\u00d7*]\s*(\d+)\b"
)
_NO_SENSOR = re.compile(
    rf"(?i)(?:no[ _-]*(?:sensor|data|value|cell)|invalid|not[ _-]*used|unused|inactive|missing|nodata)\D*?({_NUMBER})"
)
_NO_SENSOR_BEFORE = re.compile(rf"(?i)({_NUMBER})\s*(?:=|means|:|stands for|is)\s*(?:no[ _-]*(?:sensor|data)|invalid)")
_SATURATED = re.compile(
    rf"(?i)(?:satur\w*|overload|full[ _-]*scale|upper[ _-]*limit|measuring[ _-]*range)\D*?({_NUMBER})"
)
_OFFSET = re.compile(r"(?i)offset|origin|first[ _-]*(?:cell|sensor)|margin|border")
_ZERO = re.compile(rf"(?i)(?:\bzero|\btare|baseline|unloaded)\D*?({_NUMBER})")


@dataclass(frozen=True)
class HeaderFacts:
    """What is stated; None where nothing is."""

    units: tuple[str, ...] = ()  # all that are named, one where it is plain
    pitch_mm: tuple[float, float] | None = None  # row to row, column to column
    is_pitch_bare: bool = False  # the pitch's own unit is not stated: taken as mm
    rows: int | None = None
    columns: int | None = None
    no_sensor: tuple[float, ...] = ()
    saturated_at: float | None = None
    offset_mm: tuple[float, float] | None = None
    zero: float | None = None


def header_facts(lines: Sequence[str]) -> HeaderFacts:
    """Return what the lines that are no rows of numbers state."""
    pitch, is_bare = _pitch(lines)
    rows, columns = _first(_ROWS, lines), _first(_COLUMNS, lines)
    if rows is None or columns is None:
        size = next((found for line in lines if (found := _SIZE.search(line)) and not _LENGTH.search(line)), None)
        if size is not None:
            rows, columns = float(size[1]), float(size[2])
    both = (_NO_SENSOR, _NO_SENSOR_BEFORE)
    marks = [number(found[1]) for each in both for line in lines if (found := each.search(line))]
    return HeaderFacts(
        units=_units(lines),
        pitch_mm=pitch,
        is_pitch_bare=is_bare,
        rows=None if rows is None else int(rows),
        columns=None if columns is None else int(columns),
        no_sensor=tuple(dict.fromkeys(marks)),
        saturated_at=_first(_SATURATED, lines),
        offset_mm=_offset(lines),
        zero=_first(_ZERO, lines),
    )


def number(text: str) -> float:
    """Return a number written with a point or a comma."""
    return float(text.replace(",", "."))


def _first(pattern: re.Pattern[str], lines: Iterable[str]) -> float | None:
    found = [each for line in lines if len(each := pattern.findall(line)) == 1]  # names of many columns state nothing
    return number(found[0][0]) if found else None


def _units(lines: Sequence[str]) -> tuple[str, ...]:
    """Return the units named where units are told, else in any line; "raw" counts only where no unit stands."""
    for some in ([line for line in lines if _UNIT_LINE.search(line)], lines):
        found = []
        for line in some:
            rest = line
            for unit, pattern in _UNITS:
                if re.search(pattern, rest):
                    found.append(unit)
                    rest = re.sub(pattern, " ", rest)  # "kg/cm2" holds a "g/cm2"
        kept = tuple(dict.fromkeys(each for each in found if each != RAW)) or tuple(dict.fromkeys(found))
        if kept:
            return kept
    return ()


def _pitch(lines: Sequence[str]) -> tuple[tuple[float, float] | None, bool]:
    """Return the distances of cells, mm, down and across, and whether their unit is not stated."""
    down: float | None = None
    across: float | None = None
    is_bare = False
    for line in lines:
        if not _PITCH_LINE.search(line):
            continue
        found = _LENGTH.search(line)
        bare = None if found else _BARE.search(line)
        if found is None and bare is None:
            continue
        if found is not None:
            mm = _LENGTHS[found[3].lower()]
            first = mm * number(found[1])
            second = first if found[2] is None else mm * number(found[2])
        else:
            assert bare is not None
            first = second = number(bare[1])
            is_bare = True
        if not (0.2 <= first <= 200.0 and 0.2 <= second <= 200.0):  # an area or a count, no distance of cells
            continue
        is_down, is_across = bool(_DOWN.search(line)), bool(_ACROSS.search(line))
        if found is not None and found[2] is not None:
            down, across = down or first, across or second
        elif is_down and not is_across:
            down = down or first
        elif is_across and not is_down:
            across = across or first
        else:
            down, across = down or first, across or first
    if down is None and across is None:
        return None, False
    return (down or across or 0.0, across or down or 0.0), is_bare


def _offset(lines: Sequence[str]) -> tuple[float, float] | None:
    for line in lines:
        found = _LENGTH.search(line) if _OFFSET.search(line) and not _PITCH_LINE.search(line) else None
        if found is not None:
            mm = _LENGTHS[found[3].lower()]
            first = mm * number(found[1])
            return first, first if found[2] is None else mm * number(found[2])
    return None
