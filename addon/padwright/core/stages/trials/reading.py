"""Read the notes of a part's trials; all faults are told at once, each with its line."""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Mapping, Sequence
from typing import Any

from ...base.errors import InputError
from ...job.keys import keys_of
from ...job.toml_lines import Path, parse_toml
from ...job.toml_tables import TableReader
from .places import is_cell
from .records import MOST_PAIN, Trial, TrialBook

MOST_TRIAL_BYTES = 5_000_000
"""Largest file of trials that is read: some ten thousand of them."""

_FIRST_DAY = datetime.date(2000, 1, 1)
"""Before it no pad was printed: a slip of the pen."""

_TWICE = "stands twice in this table"  # as `job.toml_slips` says it


def trials_name(number: str) -> str:
    """Return the name of the file of a part's trials; it lies beside the job."""
    return f"{number}.trials.toml"


def read_trials(
    data: bytes, name: str, *, zones: Sequence[str], revisions: Sequence[str], today: datetime.date
) -> TrialBook:
    """Return the trials of a file.

    Parameters
    ----------
    zones : sequence of str
        Names of the job's zones.
    revisions : sequence of str
        Those that were printed, oldest first.
    today : date
        Nothing was worn later.

    Raises InputError when it is no TOML, or a key, zone, date, revision or place in it is wrong; all are told.
    """
    try:
        tables, lines = parse_toml(data, name, {})
    except InputError as error:
        if _TWICE in error.message:  # of two forms as one, too
            hint = "Or, where another trial begins there, write its first line above it: [[trial]]"
            raise InputError(error.message, hint=hint) from None
        raise
    bare = [lines[each,] for each in tables if each in keys_of(Trial)]
    if bare:
        raise InputError(
            f"{name}:{min(bare)}: a trial stands here without its first line, [[trial]].", hint="Write it above this."
        )
    tables = _eased(tables)
    reader = TableReader(name, lines, TrialBook)
    reader.text = data.decode("utf-8-sig").replace("\r\n", "\n").split("\n")
    book: TrialBook | None = reader.read(TrialBook, tables)
    for number, table in enumerate(_tables_of(tables)):
        _check(reader, ("trial", number), table, zones, revisions, today)
    trials = reader.finish(book).trials
    return TrialBook(trials=trials, lines=tuple(lines["trial", number] for number in range(len(trials))))


def _tables_of(tables: Mapping[str, Any]) -> list[dict[str, Any]]:
    found = tables.get("trial")
    return [each for each in found if isinstance(each, dict)] if isinstance(found, list) else []


def _eased(tables: Mapping[str, Any]) -> dict[str, Any]:
    """Return the tables with what a form leaves open taken out, and days and revisions as texts."""
    eased = dict(tables)
    if isinstance(tables.get("trial"), list):
        eased["trial"] = [_eased_trial(each) if isinstance(each, dict) else each for each in tables["trial"]]
    return eased


def _eased_trial(table: Mapping[str, Any]) -> dict[str, Any]:
    eased = {name: value for name, value in table.items() if name in ("revision", "date") or value != ""}
    day, revision = eased.get("date"), eased.get("revision")
    if isinstance(day, datetime.datetime):
        day = day.date()
    if isinstance(day, datetime.date):
        eased["date"] = day.isoformat()
    if isinstance(revision, int) and not isinstance(revision, bool):
        eased["revision"] = str(revision)
    if isinstance(eased.get("zones"), list):
        eased["zones"] = [
            {name: value for name, value in each.items() if name == "zone" or value != ""}
            if isinstance(each, dict)
            else each
            for each in eased["zones"]
        ]
    return eased


def _check(
    reader: TableReader,
    path: Path,
    table: Mapping[str, Any],
    zones: Sequence[str],
    revisions: Sequence[str],
    today: datetime.date,
) -> None:
    revision, day = table.get("revision"), table.get("date")
    if isinstance(revision, str) and revision.strip() and revision not in revisions:
        reader.fault(
            (*path, "revision"), f'"{revision[:40]}" was never printed; {_known("revisions", revision, revisions)}'
        )
    if isinstance(day, str) and day.strip():
        wrong = _wrong_day(day, today)
        if wrong:
            reader.fault((*path, "date"), wrong)
    named: list[str] = []
    answers = table.get("zones")
    for number, answer in enumerate(answers if isinstance(answers, list) else ()):
        zone = answer.get("zone") if isinstance(answer, dict) else None
        if not isinstance(zone, str):
            continue
        here = (*path, "zones", number)
        if zone.strip() and zone not in zones:
            reader.fault((*here, "zone"), f'"{zone[:80]}" is no zone of the job; {_known("zones", zone, zones)}')
        elif zone in named:
            reader.fault((*here, "zone"), f'"{zone}" stands twice in this trial; answer once a zone.')
        named.append(zone)
        if answer.get("than_last") is not None and revisions and revision == revisions[0]:
            reader.fault(
                (*here, "than_last"), f'nothing was worn before revision "{revision}"; leave it out, or empty.'
            )
    place = table.get("pain_at")
    if isinstance(place, str) and place not in zones and not is_cell(place):
        reader.fault(
            (*path, "pain_at"),
            f'"{place[:80]}" is no zone, and no cell of the picture such as "C4"; {_known("zones", place, zones)}',
        )
    if place and table.get("pain_point"):
        reader.fault((*path, "pain_point"), "give either pain_at or pain_point, not both.")
    if (place or table.get("pain_point")) and not table.get("pain"):  # pain that is overlooked may be made worse
        reader.fault(
            (*path, "pain"),
            f"where it hurt is said, but not how much; write up to {MOST_PAIN}, or leave the place out.",
        )


def _known(what: str, given: str, known: Sequence[str]) -> str:
    """Return which one was meant, or which there are."""
    near = difflib.get_close_matches(given, known, 1, 0.6)
    if near:
        return f'did you mean "{near[0]}"?'
    quoted = [f'"{each}"' for each in known]
    return f"the {what} are {', '.join(quoted)}."


def _wrong_day(day: str, today: datetime.date) -> str:
    """Return what is wrong with a day; "" where nothing is."""
    try:
        found = datetime.date.fromisoformat(day)
    except ValueError:
        return f'"{day[:40]}" is no day; write year, month and day, as {today.isoformat()}.'
    if found > today:
        return f"{day} lies ahead; today is {today.isoformat()}."
    return f"{day} lies too far back; write it as {today.isoformat()}." if found < _FIRST_DAY else ""
