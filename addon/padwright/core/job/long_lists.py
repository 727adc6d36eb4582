"""Refuse a job with more points typed into it than can be read in a few seconds, before it is read."""

from __future__ import annotations

import re

from ..base.errors import InputError

_MOST_ROWS = 300_000
"""Rows in brackets of a whole job: three drawn lines of the greatest length. Some 3 s of reading for each 100,000."""

_LIST = re.compile(rb"""^[ \t]*([A-Za-z0-9_."'-]+)[ \t]*=[ \t]*\[""", re.MULTILINE)


def refuse_long_lists(data: bytes, name: str) -> None:
    """Raise InputError, with the longest list's line and key, where a TOML text has too many rows in brackets."""
    rows = data.count(b"[")
    if rows <= _MOST_ROWS:
        return
    lists = list(_LIST.finditer(data))
    ends = [*(each.start() for each in lists[1:]), len(data)][: len(lists)]
    counts = [data.count(b"[", each.end(), end) for each, end in zip(lists, ends, strict=True)]
    longest = max(range(len(lists)), key=counts.__getitem__, default=None)
    where, what = f"{name}:1", "its lists hold"
    if longest is not None:
        found = lists[longest]
        line = data.count(b"\n", 0, found.start()) + 1
        where = f"{name}:{line}: {found.group(1).decode('ascii')}"
        what = f"this list holds about {round(counts[longest], -3):,} of the job's"
    raise InputError(
        f"{where}: {what} {rows:,} rows in brackets; {_MOST_ROWS:,} are the most.",
        hint="Leave out corners of the drawn line: one every half millimeter is finer than a pad is built.",
    )
