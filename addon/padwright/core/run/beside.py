"""What lies beside a job and is for who takes the part away: words, notes, the revision before.

Nothing of it changes the part.
"""

from __future__ import annotations

import datetime
import hashlib
from dataclasses import dataclass, field
from pathlib import Path

from ..base.files import MOST_TABLE_BYTES, InputFile, read_named
from ..job.read import blame_key
from ..job.schema import Job
from ..stages.report.words_map import WordsMap, parse_words
from ..stages.trials.records import TrialBook
from .revisions import Revision, read_previous
from .trial_notes import noted


@dataclass(frozen=True, eq=False)
class Beside:
    """Read anew each time a part is packed."""

    words: WordsMap = field(default_factory=WordsMap)
    inputs: tuple[InputFile, ...] = ()  # the files read
    previous: Revision | None = None  # the revision before
    trials: TrialBook = field(default_factory=TrialBook)  # what the wearer noted of the part's revisions


def read_beside(job: Job, folder: Path) -> Beside:
    """Return what a job names beside its scans; its files are named from `folder`.

    Raises InputError when the words map, the notes of trials or the folder of the revision before cannot be read or is
    wrong.
    """
    previous = read_previous(job, folder)
    trials = noted(job, folder, datetime.date.today()).book
    words, record = _words(job, folder)
    return Beside(words, record, previous, trials)


def _words(job: Job, folder: Path) -> tuple[WordsMap, tuple[InputFile, ...]]:
    if job.output.settings_map is None:
        return WordsMap(), ()
    path = folder / job.output.settings_map
    with blame_key("output", "settings_map"):
        data = read_named(path, "The words map", most_bytes=MOST_TABLE_BYTES)
    words = parse_words(data, path.name)
    record = InputFile("settings_map", job.output.settings_map, hashlib.sha256(data).hexdigest(), len(data))
    return words, (record,)
