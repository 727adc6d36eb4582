"""The notes of a part's trials beside its job: read, and added to; what stands there is never lost."""

from __future__ import annotations

import datetime
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ..base.errors import ExportError
from ..base.files import read_named, write_new
from ..job.schema import Job
from ..stages.trials.reading import MOST_TRIAL_BYTES, read_trials, trials_name
from ..stages.trials.records import Trial, TrialBook
from ..stages.trials.writing import behind, book_head, trial_form, trial_text, waiting_form
from .history import earlier_prints, revisions_beside


@dataclass(frozen=True)
class TrialNotes:
    """The file of a part's trials."""

    path: Path
    text: str  # "" where there is no file yet
    book: TrialBook


def noted(job: Job, folder: Path, today: datetime.date) -> TrialNotes:
    """Return the trials noted beside a job; an empty book where there is no file. `folder` is the job's.

    Raises InputError when anything in the file is wrong; all faults are told, each with its line.
    """
    path = folder / trials_name(job.part.number)
    if not path.is_file():
        return TrialNotes(path, "", TrialBook())
    data = read_named(path, "The file of trials", most_bytes=MOST_TRIAL_BYTES)
    book = _read(data, job, folder, today, path.name)
    return TrialNotes(path, data.decode("utf-8-sig"), book)


def add_form(job: Job, folder: Path, today: datetime.date) -> tuple[TrialNotes, int]:
    """Write an empty trial of a job's revision behind the others, and return the notes with the line it begins at.

    One of that revision that nobody filled in yet is taken, and nothing written.

    Raises InputError when the file has faults; ExportError when it cannot be written.
    """
    notes = noted(job, folder, today)
    waiting = waiting_form(notes.text, job.part.revision)
    if waiting is not None:
        return notes, waiting
    earlier = earlier_prints(job, folder)
    last = earlier[-1].revision if earlier else None
    zones = [zone.name for zone in job.zones]
    written = _added(notes, job, folder, today, trial_form(job.part.revision, zones, today.isoformat(), last))
    return written, written.book.lines[-1]


def add_trial(job: Job, folder: Path, trial: Trial, today: datetime.date) -> TrialNotes:
    """Write a trial behind the others.

    Raises InputError when it has faults, or the file; ExportError when it cannot be written. The file stays as it was.
    """
    return _added(noted(job, folder, today), job, folder, today, trial_text(trial))


def _added(notes: TrialNotes, job: Job, folder: Path, today: datetime.date, added: str) -> TrialNotes:
    head = "" if notes.text else book_head(job.part.name, job.part.number, places_name(job.part.number))
    text = behind(notes.text or head, added)
    book = _read(text.encode(), job, folder, today, notes.path.name)
    _put(notes, text.encode())
    return TrialNotes(notes.path, text, book)


def _read(data: bytes, job: Job, folder: Path, today: datetime.date, name: str) -> TrialBook:
    own = [each.revision for each in earlier_prints(job, folder)]
    revisions = tuple(dict.fromkeys((*own, job.part.revision, *revisions_beside(job, folder))))
    return read_trials(data, name, zones=[zone.name for zone in job.zones], revisions=revisions, today=today)


def _put(notes: TrialNotes, data: bytes) -> None:
    """Write the file whole or not at all: beside it first, then in its place."""
    path = notes.path.resolve()  # of a link the file behind it
    beside = path.with_name(f"{path.name}.new")
    with suppress(OSError):
        beside.unlink()
    try:
        write_new(beside, data)
        os.replace(beside, path)
    except FileExistsError:
        raise ExportError(f'"{beside}" is in the way.', hint="Remove it.") from None
    except OSError as error:
        with suppress(OSError):
            beside.unlink()
        raise ExportError(f'"{notes.path}" cannot be written: {error.strerror}.') from None


def places_name(number: str) -> str:
    """Return the name of the picture with zones and cells."""
    return f"{number}.places.svg"
