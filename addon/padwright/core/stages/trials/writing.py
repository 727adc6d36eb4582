"""Trials as text: a form in the wearer's words, a trial from a screen, and both put behind what a file holds."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from typing import Any

from ...job.keys import keys_of
from ...job.toml_lines import locate_keys
from ...job.toml_values import toml_value
from .records import Trial

_HEAD = """\
# What the wearer says of each print of {name} ({number}). One [[trial]] each time it was worn; add one with
#   python -m padwright trial JOB
# Answer after a day of wear, best on three or four days: a first impression turns round as often as not.
# What you cannot tell, leave empty. Zones and cells are on the picture {picture}.
"""

_FORM = """\

[[trial]]
revision = {revision}
date = {today}           # the day it was worn
hours_worn = 0.0            # how long, this time
activity = ""               # what you did on it
# feels: "too firm", "right" or "too soft"; {compared}
zones = [
{zones}
]
pain = 0                    # worst pain, 0 none to 10. At 4 and more, or where it gets numb: stop wearing it
pain_at = ""                # where: a zone, or a cell of the picture such as "C4"
slipped = ""                # what slipped
wore = ""                   # what wore off, tore or came apart
photos = []                 # names of photos
note = ""
"""
_COMPARED = 'than_last, against revision {last}: "better", "same" or "worse"'


def book_head(name: str, number: str, picture: str) -> str:
    """Return how a new file of trials begins."""
    return _HEAD.format(name=name, number=number, picture=picture)


def trial_form(revision: str, zones: Sequence[str], today: str, last: str | None) -> str:
    """Return an empty trial to fill in; `last` is the revision worn before, None for the first.

    It asks for a comparison only where there is something to compare with.
    """
    blank = ', than_last = ""' if last is not None else ""
    width = max((len(toml_value(each)) for each in zones), default=0)
    rows = [f'    {{ zone = {toml_value(each) + ",":{width + 1}} feels = ""{blank} }},' for each in zones]
    compared = "there is no print before it to compare with" if last is None else _COMPARED.format(last=last)
    return _FORM.format(revision=toml_value(revision), today=today, compared=compared, zones="\n".join(rows))


def trial_text(trial: Trial) -> str:
    """Return a trial as TOML that reads back equal; what says nothing is left out."""
    lines = ["", "[[trial]]"]
    for name, value in _said(trial):
        if name == "zones":
            lines += ["zones = [", *(f"    {toml_value(dict(_said(each)))}," for each in value), "]"]
        else:
            lines.append(f"{name} = {value if name == 'date' else toml_value(value)}")
    return "\n".join(lines) + "\n"


def _said(table: Any) -> Iterator[tuple[str, Any]]:
    for name, (field_name, _, default) in keys_of(type(table)).items():
        value = getattr(table, field_name)
        if value != default:
            yield name, value


def behind(text: str, added: str) -> str:
    """Return a file's text with more behind it: what stands there stays byte for byte, and so do its line ends."""
    ends = "\r\n" if "\r\n" in text else "\n"
    open_line = ends if text and not text.endswith("\n") else ""
    return text + open_line + added.replace("\n", ends)


def waiting_form(text: str, revision: str) -> int | None:
    """Return the line (from 1) of a trial of a revision that nobody filled in yet; None where there is none.

    `text` has been read without a fault.
    """
    trials = tomllib.loads(text.removeprefix("\ufeff")).get("trial", [])
    lines = locate_keys(text.removeprefix("\ufeff"))
    for number, table in enumerate(trials):
        answers = [each for each in table.get("zones", ()) if each.get("feels") or each.get("than_last")]
        is_empty = not answers and not any(table.get(key) for key in ("hours_worn", "pain", "note", "slipped", "wore"))
        if is_empty and str(table.get("revision")) == revision:
            return lines["trial", number]
    return None
