"""Numbers and lists of numbers as people type them, and as TOML has them: commas for points, blanks for commas."""

from __future__ import annotations

import re
from collections.abc import Mapping

_COMMA = re.compile(r"(?<![\d.])([+-]?\d*),(\d+)$")
_INNER_COMMA = re.compile(r"(=\s*[+-]?\d+),(\d+)(?=\s*[,}\]])")
_GROUPED = re.compile(r"([+-]?\d{1,3})([,.' \u00a0\u202f]\d{3})+(?:[.,]\d+)?$")
_TOKEN = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_SPAN = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:-|to|\.\.)\s*(\d+(?:[.,]\d+)?)")
_SIGNS = str.maketrans(dict.fromkeys("\u2212\u2013\u2014", "-"))
"""Minus signs and dashes as word processors write them."""
ROW = re.compile(
    r"^(?P<key>\s*(?:[A-Za-z0-9_.\"'-]+\s*=\s*)?)(?P<row>[\[(][^\[\](){}\"'#]*[\])])(?P<rest>\s*,?\s*(?:#.*)?)$"
)
"""A line with one list of numbers in it, with or without a key before."""


def with_point(value: str, key: str, whole: Mapping[str, str]) -> str:
    """Return a number that was typed with a decimal comma, alone or in a table within the line; others as they are.

    `whole` has the keys that take whole numbers alone, and the one that they take; "" where there is more than one.
    """
    found = _COMMA.fullmatch(value)
    if found:
        before = found[1] if found[1].strip("+-") else f"{found[1]}0"
        return (whole[key] or before) if key in whole else f"{before}.{found[2]}"
    return _INNER_COMMA.sub(r"\1.\2", value) if value.startswith(("{", "[")) else value


def without_groups(value: str) -> str:
    """Return a number that was typed with signs between its thousands; others as they are."""
    if not _GROUPED.fullmatch(value):
        return value
    last = max(value.rfind("."), value.rfind(","))
    signs = {sign for sign in ",.' \u00a0\u202f" if sign in value}
    head, tail = (value[:last], value[last + 1 :]) if len(signs) > 1 and last > 0 else (value, "")
    return re.sub(r"[^\d+-]", "", head) + (f".{tail}" if tail else "")


def is_two_readings(value: str) -> bool:
    """Say if a number may as well have a comma between its thousands as a decimal one: 1,500."""
    return re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", value) is not None


def list_of_numbers(value: str) -> str | None:
    """Return a list of numbers that was typed without brackets or with other signs between, as TOML; None if it is not.

    Between numbers may stand a comma, a semicolon, blanks or an x; then a comma without a blank behind it is a decimal
    one.
    """
    text = value.strip().translate(_SIGNS)
    if text[:1] in "[(" and text[-1:] in "])":
        text = text[1:-1].strip()
    span = _SPAN.fullmatch(text)
    if span:
        parts = [span[1], span[2]]
    elif ";" in text:
        parts = text.split(";")
    elif re.search(r"\s", text) or " x " in text:
        parts = re.split(r"\s*,?\s+(?:[x\u00d7]\s+)?|\s*[x\u00d7]\s*", text)
    else:
        parts = re.split(r"[x\u00d7]", text)
    parts = [part.strip().rstrip(",") for part in parts if part.strip()]
    if len(parts) < 2 or not all(_TOKEN.fullmatch(part) for part in parts):
        return None
    return f"[{', '.join(_plain(part) for part in parts)}]"


def mended_row(line: str) -> str | None:
    """Return a line with a list of numbers as TOML has it, without blanks around; None where there is no such list."""
    found = ROW.match(line)
    row = list_of_numbers(found["row"]) if found else None
    if found is None or row is None:
        return None
    return f"{found['key']}{row}{found['rest']}".strip()


def _plain(number: str) -> str:
    """Return a number with a point for its comma and a digit before it."""
    return re.sub(r"^([+-]?)(?=\.)", r"\g<1>0", number.replace(",", ".")).removeprefix("+")
