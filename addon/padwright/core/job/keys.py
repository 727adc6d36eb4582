"""What a key of a job or card may hold and how it is checked; one description serves reading, writing and help."""

from __future__ import annotations

import math
import re
from dataclasses import MISSING, dataclass, field, fields
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .toml_lines import Path


class BadValueError(ValueError):
    """A value is not what the key expects; the text says what is."""

    at: int | None = None  # which element of a list it is, from 0


@dataclass(frozen=True)
class Key:
    """One key: its kind, its limits and its meaning."""

    # text, slug, choice, number, integer, flag, file, folder, color, point, points, direction, press, numbers, texts,
    # table, tables
    kind: str
    about: str  # what it means, in the person's words, one line
    toml: str = ""  # its name in the file, where it can't be a Python name ("from")
    # low, high: limits of a number, both allowed unless `above` (then the low limit itself is not); high: a text's too.
    low: float | None = None
    high: float | None = None
    above: bool = False
    choices: tuple[str, ...] = ()
    count: tuple[int, int] = (0, 100_000)  # (least, most); how many elements a list must have
    card: bool = False  # the default comes from the part family card
    table: type | None = None  # the dataclass of a table or of each element of tables
    example: object = None  # what `new` writes for a key that must be given


def key(kind: str, about: str, *, default: Any = MISSING, **limits: Any) -> Any:
    """Return a dataclass field that carries its `Key`; without a default the key must be given."""
    return field(default=default, kw_only=True, metadata={"key": Key(kind, about, **limits)})


def listed(about: str) -> Any:
    """Return the field of a list of keys: what is said of a job, no part of it, so jobs with others may be equal."""
    return field(default=(), compare=False, kw_only=True, metadata={"key": Key("texts", about)})


def keys_of(table: type) -> dict[str, tuple[str, Key, Any]]:
    """Return name in the file -> (field name, key, default or MISSING) of a table's dataclass."""
    found = {}
    for item in fields(table):
        if "key" in item.metadata:
            described: Key = item.metadata["key"]
            found[described.toml or item.name] = (item.name, described, item.default)
    return found


def walk_keys(table: type, path: Path = ()) -> list[tuple[Path, Key, Any]]:
    """Return (path, key, default) of every key of a table and of the tables in it, lists of tables without an index."""
    found: list[tuple[Path, Key, Any]] = []
    for name, (_, described, default) in keys_of(table).items():
        found.append(((*path, name), described, default))
        if described.table is not None:
            found += walk_keys(described.table, (*path, name))
    return found


SLUG = "[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9_-])?"
COLOR = "#[0-9A-Fa-f]{6}"
"""Regular expressions for the whole of a text; JSON Schema takes them too."""
PRESS_WORDS = ("auto", "inward")


def longest_text(described: Key) -> int:
    """Return how many characters a text may have."""
    return 500 if described.high is None else int(described.high)


def expected(described: Key) -> str:
    """Return what the key expects, as a noun phrase for messages and comments."""
    least, most = described.count
    how_many = f"{least}" if least == most else f"{least} or more" if most >= 100_000 else f"{least} to {most}"
    up_to = f", {most} at most" if most < 100_000 else ""
    if described.kind in ("number", "integer"):
        noun = "a number" if described.kind == "number" else "a whole number"
        low, high = (None if limit is None else f"{limit:.10g}" for limit in (described.low, described.high))
        if low is not None and low == high:
            return low
        if low is not None and high is not None:
            return f"{noun} above {low} up to {high}" if described.above else f"{noun} from {low} to {high}"
        if low is not None:
            return f"{noun} above {low}" if described.above else f"{noun} of at least {low}"
        return noun
    if described.kind == "choice":
        return "one of " + ", ".join(f'"{choice}"' for choice in described.choices)
    if described.kind == "texts" and described.choices:
        return f"a list of {how_many} out of " + ", ".join(f'"{choice}"' for choice in described.choices)
    return {
        "text": "one line of text in quotes",
        "slug": "up to 40 letters, digits, -, _ or ., beginning with a letter or digit, in quotes",
        "flag": "true or false",
        "file": "a file name in quotes, relative to this file",
        "folder": "a folder's name in quotes, relative to this file",
        "color": 'a color "#rrggbb"' + (f" or one of {', '.join(described.choices)}" if described.choices else ""),
        "point": "a point [x, y, z]",
        "points": f"a list of {how_many} points [x, y, z]",
        "direction": "a direction [x, y, z]",
        "press": 'a direction [x, y, z], "auto" or "inward"',
        "numbers": f"a list of {how_many} numbers",
        "texts": f"a list of {how_many} texts in quotes",
        "table": "a table",
        "tables": f"a list of {how_many} tables" if least else "a list of tables" + up_to,
    }[described.kind]


def check_value(described: Key, value: Any) -> Any:
    """Return the value in its frozen form (lists become tuples, whole numbers floats where a number is expected).

    Raises BadValueError when it is not what the key expects; the text says what was found.
    """
    return _CHECKS[described.kind](described, value)


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value[:60]}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, int) and value.bit_length() > 10_000:  # Python does not show one of thousands of digits
        return f"a whole number of {int(value.bit_length() * math.log10(2.0)) + 1} digits or so"
    return str(value)[:60]


def _fail(value: Any) -> BadValueError:
    return BadValueError(f"got {_shown(value)}")


def _number(described: Key, value: Any) -> float:
    found = re.match(r"\s*[+-]?\d+([.,]\d+)?", value) if isinstance(value, str) else None
    if found:
        bare = found.group().strip().replace(",", ".")
        raise BadValueError(f"got {_shown(value)}, a text; write the number alone, without quotes or unit: {bare}")
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not is_number or (isinstance(value, int) and abs(value) > 2**53) or not math.isfinite(value):
        raise _fail(value)
    low, high = described.low, described.high
    is_too_low = low is not None and (value < low or (described.above and value == low))
    if is_too_low or (high is not None and value > high):
        raise _fail(value)
    return float(value)


def _integer(described: Key, value: Any) -> int:
    if isinstance(value, float):
        raise _fail(value)
    return int(_number(described, value))


def _flag(described: Key, value: Any) -> bool:
    if not isinstance(value, bool):
        raise _fail(value)
    return value


def _text(described: Key, value: Any) -> str:
    if not isinstance(value, str):
        raise _fail(value)
    longest = longest_text(described)
    if len(value) > longest:
        raise BadValueError(f"got {len(value)} characters, {longest} are the most")
    if not value.isprintable():
        raise BadValueError("got characters that can't be shown, or several lines")
    if value.strip() == "" and described.count[0] > 0:
        raise BadValueError("got an empty text")
    return value


def _slug(described: Key, value: Any) -> str:
    text = _text(described, value)
    if not re.fullmatch(SLUG, text):
        raise _fail(value)
    if re.fullmatch(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", text):
        raise BadValueError(f'got "{text}", which Windows keeps for a device')
    return text


def _choice(described: Key, value: Any) -> str:
    if value not in described.choices:
        raise _fail(value)
    return str(value)


_READ_AS = {"\b": "/b", "\t": "/t", "\n": "/n", "\f": "/f", "\r": "/r", "\x1b": "/e"}
"""What TOML makes of a backslash and a letter, and what was meant where a path was typed with backslashes."""


def _file(described: Key, value: Any) -> str:
    if isinstance(value, str) and any(sign in value for sign in _READ_AS):
        meant = "".join(_READ_AS.get(sign, sign) for sign in value).replace("\\", "/")
        raise BadValueError(f'a path is written with /, as \\ has a meaning of its own inside "...". Write: "{meant}"')
    text = _text(described, value)
    if text.strip() == "":
        raise BadValueError("got an empty text")
    return text


def _color(described: Key, value: Any) -> str:
    if not isinstance(value, str) or not (re.fullmatch(COLOR, value) or value in described.choices):
        raise _fail(value)
    return value


FARTHEST = 1e12
"""Largest coordinate in a file's own numbers: maps in mm stay below; squares of what is larger lose their digits."""


def _point(described: Key, value: Any) -> tuple[float, float, float]:
    if isinstance(value, list) and len(value) == 6 and not any(isinstance(part, float) for part in value):
        raise BadValueError("got 6 whole numbers: a decimal point is a point, not a comma")
    if not isinstance(value, list) or len(value) != 3:
        raise _fail(value)
    plain = Key("number", "", low=-FARTHEST, high=FARTHEST)
    x, y, z = (_number(plain, part) for part in value)
    return x, y, z


def _sized(described: Key, value: Any) -> list[Any]:
    least, most = described.count
    if not isinstance(value, list) or not least <= len(value) <= most:
        raise _fail(value)
    return value


def _points(described: Key, value: Any) -> tuple[tuple[float, float, float], ...]:
    points = []
    for index, point in enumerate(_sized(described, value)):
        try:
            points.append(_point(described, point))
        except BadValueError as error:
            error.at = index
            raise
    return tuple(points)


def _press(described: Key, value: Any) -> tuple[float, float, float] | str:
    if isinstance(value, str):
        if value not in PRESS_WORDS:
            raise _fail(value)
        return value
    return _direction(described, value)


def _direction(described: Key, value: Any) -> tuple[float, float, float]:
    point = _point(described, value)
    length = math.hypot(*point)
    if length < 1e-6:
        raise BadValueError("got a direction without length")
    if length > 1e6:
        raise BadValueError(f"got a direction of length {length:.3g}; about 1 is usual")
    return point


def _numbers(described: Key, value: Any) -> tuple[float, ...]:
    return tuple(_number(described, part) for part in _sized(described, value))


def _texts(described: Key, value: Any) -> tuple[str, ...]:
    texts = tuple(_text(described, part) for part in _sized(described, value))
    for text in texts:
        if described.choices and text not in described.choices:
            raise _fail(text)
    return texts


_CHECKS = {
    "number": _number,
    "integer": _integer,
    "flag": _flag,
    "text": _text,
    "slug": _slug,
    "choice": _choice,
    "file": _file,
    "folder": _file,
    "color": _color,
    "point": _point,
    "points": _points,
    "direction": _direction,
    "press": _press,
    "numbers": _numbers,
    "texts": _texts,
}
