"""What a line that is not TOML was meant to be: the slips of people who type a job by hand, with the mended line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from types import MappingProxyType

from ..base.units import MM_PER_UNIT
from .guesses import TIMES
from .toml_numbers import is_two_readings, list_of_numbers, mended_row, with_point, without_groups

_DOUBLE, _SINGLE = "\u201c\u201d\u201e\u201f\u00ab\u00bb\u2033", "\u2018\u2019\u201a\u201b\u2039\u203a\u2032"
_QUOTES = str.maketrans({**dict.fromkeys(_DOUBLE, '"'), **dict.fromkeys(_SINGLE, "'")})
"""Quotes as word processors and phones write them, and the straight ones."""
_PAIR = re.compile(r"^(?P<key>\s*[A-Za-z0-9_.\"'-]+\s*=\s*)(?P<value>[^#]*?)(?P<rest>\s*(?:#.*)?)$")
_COLON = re.compile(r"^(\s*[A-Za-z0-9_.-]+)\s*:\s*(?!/)(.+)$")
_COMMA = re.compile(r"^([+-]?\d+),(\d+)$")
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_MEASURED = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*([A-Za-zµ°%\"][A-Za-z0-9µ°%/²³]*)$")
_FIGURES = re.compile(r"[\d.,;:+\s-]+")  # no text, whatever it was meant to be
_ABOUT = re.compile(r"^[~\u2248<>]*\s*([+-]?\d+(?:[.,]\d+)?)\s*(?:(?:\+/-|\u00b1).*)?$")
_SPOKEN = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}
_UNITS = {'"': "in", "inch": "in", "inches": "in", "meter": "m", "meters": "m"}

_LONGEST = 300
"""Of a line that is looked at; one typed by hand is shorter, and it is shown."""


def explain(text: str, line: int, what: str, whole: Mapping[str, str] = MappingProxyType({})) -> tuple[int, str] | None:
    """Return the line of a text that is no TOML, and what is wrong with it and how to write it; None for no known slip.

    Line, from 1, and `what` are where the standard reader stopped and its words; `whole` is as for `with_point`.
    """
    lines = text.splitlines()
    given = lines[line - 1] if 0 < line <= len(lines) else ""
    if len(given) > _LONGEST:
        return None
    if _is_toml(given) or _is_row(given):  # what comes before it, or stands elsewhere, is to blame
        return _of_many_lines(lines, line, what)
    said: list[str] = []
    mended = given
    for words, repaired in (
        ("text stands in straight quotes", _straight),
        ("a remark begins with #", _remarked),
        ("a table's name stands in [ ], one of several in [[ ]]", _headed),
        ("a key is one word, with _ for blanks", _one_word),
        ("a key and its value have = between them", _with_equals),
        ("a line ends without a comma or semicolon", _of_value(lambda _, value: value.rstrip(";, "))),
        ('a path is written with /, as \\ has a meaning of its own inside "..."', _with_slashes),
        ("a decimal point is a point, not a comma", _of_value(lambda key, value: with_point(value, key, whole))),
        ("nothing stands between thousands", _of_value(lambda _, value: without_groups(value))),
        ("a number stands alone, without what it may be off", _of_value(lambda _, value: _ABOUT.sub(r"\1", value))),
        ("a list stands in [ ], with a comma and a blank between its numbers", _listed),
        ("a number stands alone, its unit is in the key's name", _of_value(_without_unit)),
        ("the closing quote is missing", _of_value(_closed)),
        ("a number has digits on both sides of its point and no needless zeros before it", _of_value(_full_number)),
        ("true and false are written in small letters", _of_value(lambda _, value: _SPOKEN.get(value.lower(), value))),
        ("text stands in quotes", _of_value(_quoted)),
    ):
        better = repaired(mended)
        if better != mended:
            said.append(words)
            mended = better
            if (_is_toml(mended) or _is_row(mended)) and _with_slashes(mended) == mended:
                return line, f"{'; '.join(said)}. Write: {mended.strip()}{_or_else(given, mended)}"
    return _of_many_lines(lines, line, what)


def _or_else(given: str, mended: str) -> str:
    """Return what else a number with one comma may have been."""
    found = _PAIR.match(given)
    if found is None or not is_two_readings(found["value"]) or "." not in mended.split("=")[1]:
        return ""
    return f" (or {found['value'].replace(',', '')} without a sign, if the comma stood between thousands)"


def _of_many_lines(lines: list[str], line: int, what: str) -> tuple[int, str] | None:
    """Return what is wrong where more than the one line is to blame."""
    before = next(
        (number for number in range(min(line - 1, len(lines)), 0, -1) if lines[number - 1].split("#")[0].strip()), 0
    )
    if 0 < before < line <= len(lines) and lines[line - 1].lstrip().startswith(("[", "{")):
        row = lines[before - 1].split("#")[0].strip()
        if "nclosed" in what and row.endswith(("]", "}")) and "," in row:
            return before, f"the comma between this and the next line is missing. Write: {row},"
    if "nclosed array" in what or "nclosed inline table" in what or "end of document" in what:
        for number in range(min(line, len(lines)), 0, -1):
            said = lines[number - 1].split("#")[0]
            for opens, closes in ("[]", "{}"):
                if "=" in said and said.count(opens) > said.count(closes):
                    return (
                        line,
                        f"the list or table that begins on line {number} is not closed: its {closes} is missing.",
                    )
    several = _single_of_several(lines, line)
    if several:
        return several
    found = re.search(r"[Cc]annot declare \((.*?),?\) twice", what)
    if found:
        name = ".".join(re.findall(r"'([^']*)'", found[1]))
        return line, (
            f"the table [{name}] stands twice. Put its keys together under one [{name}]; of what there may be several, "
            f"each begins with [[{name}]]."
        )
    if "overwrite a value" in what or "uplicate" in what:
        key = lines[line - 1].split("=")[0].strip() if 0 < line <= len(lines) else ""
        return (line, f"the key {key} stands twice in this table. Leave one of the two out.") if key else None
    return None


def _single_of_several(lines: list[str], line: int) -> tuple[int, str] | None:
    """Return where a table of which there are several begins with [ ] alone."""
    header = re.match(r"\s*\[{1,2}\s*([\w.]+)", lines[line - 1]) if 0 < line <= len(lines) else None
    if header is None or not any(re.match(rf"\s*\[\[\s*{re.escape(header[1])}\s*\]\]", each) for each in lines):
        return None
    for number, each in enumerate(lines, 1):
        if re.match(rf"\s*\[\s*{re.escape(header[1])}\s*\]", each):
            return (
                number,
                f"of [{header[1]}] there are several, so each begins with two brackets. Write: [[{header[1]}]]",
            )
    return None


def bare_number(key: str, text: str) -> str:
    """Return the number in a text that was given for one, in the unit of the key; "" where there is none."""
    found = _PAIR.match(f"{key} = {text.strip()}")
    value = _COMMA.sub(r"\1.\2", _without_unit(key, found["value"])) if found else ""
    return value if _NUMBER.fullmatch(value) else ""


def _is_row(line: str) -> bool:
    """Say if a line is a list by itself, as it stands within a longer one."""
    return line.lstrip().startswith(("[", "{")) and _is_toml(f"row = [{line}\n]")


def _is_toml(line: str) -> bool:
    try:
        tomllib.loads(line)
    except ValueError:
        return False
    return True


def _of_value(mend: Callable[[str, str], str]) -> Callable[[str], str]:
    """Return what mends the value of a line with a key, given key and value, as what mends the line."""

    def mended(line: str) -> str:
        found = _PAIR.match(line)
        if found is None:
            return line
        key = found["key"].split("=")[0].strip()
        return found["key"] + mend(key, found["value"]) + found["rest"]

    return mended


def _straight(line: str) -> str:
    return line.translate(_QUOTES)


def _with_equals(line: str) -> str:
    if "=" in line.split("#")[0]:
        return re.sub(r"^(\s*[\w.]+\s*)(?:==+|:=)\s*", r"\1= ", line)
    with_colon = _COLON.sub(r"\1 = \2", line)
    return with_colon if with_colon != line else re.sub(r"^(\s*[a-z]+_\w+)\s+(?=\S)", r"\1 = ", line)


def _remarked(line: str) -> str:
    """Write # before a remark that begins with // or ; as it does elsewhere."""
    return re.sub(r"""^([^"'#]*?(?:"[^"]*")?\s*)(?://+|(?<![^\s]);)\s*(?=\S)""", r"\1# ", line)


def _headed(line: str) -> str:
    found = re.fullmatch(r"\s*(\[{0,2})\s*([A-Za-z_][\w.]*)\s*(\]{0,2})\s*", line)
    if found is None or not found[1] + found[3]:
        return line
    return f"[[{found[2]}]]" if "[[" in found[1] or "]]" in found[3] else f"[{found[2]}]"


def _one_word(line: str) -> str:
    found = re.match(r"^\s*([A-Za-z]\w*(?: +\w+)+)(\s*=.*)$", line)
    return line if found is None else re.sub(" +", "_", found[1]) + found[2]


def _with_slashes(line: str) -> str:
    return re.sub(r'"[^"]*"', lambda text: re.sub(r"\\+", "/", text[0]), line)


def _closed(_: str, value: str) -> str:
    for quote in "\"'":
        if value.count(quote) == 1:
            return f"{quote}{value.replace(quote, '').strip()}{quote}"
    return value


def _listed(line: str) -> str:
    return mended_row(line) or _of_value(lambda _, value: list_of_numbers(value) or value)(line)


def _without_unit(key: str, value: str) -> str:
    measured = _MEASURED.match(value)
    if measured is None:
        return value
    number, unit = measured[1].replace(",", "."), measured[2].lower()
    unit = _UNITS.get(unit, unit)
    wanted = key.rpartition("_")[2]
    times = 0.01 if unit == "%" and wanted != "pct" else TIMES.get((unit, wanted), 1.0)
    if unit in MM_PER_UNIT and wanted in MM_PER_UNIT:
        times = MM_PER_UNIT[unit] / MM_PER_UNIT[wanted]
    return f"{float(number) * times:.6g}" if times != 1.0 else number


def _full_number(_: str, value: str) -> str:
    if not _NUMBER.fullmatch(value):
        return value
    return f"{float(value):.0f}" if value.lstrip("+-").isdigit() else repr(float(value))


def _quoted(_: str, value: str) -> str:
    return value if not value or value[0] in "\"'[{" or _FIGURES.fullmatch(value) else f'"{value}"'
