"""What lies beside a job and is for who takes the part away: the person's words; nothing of it changes the part."""

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
from .trial_notes import noted


@dataclass(frozen=True, eq=False)
class Beside:
    """Read anew each time a part is packed."""

    words: WordsMap = field(default_factory=WordsMap)
    inputs: tuple[InputFile, ...] = ()  # the files read
    trials: TrialBook = field(default_factory=TrialBook)  # what wearers noted of the part


def read_beside(job: Job, folder: Path) -> Beside:
    """Return what a job names beside its scans; its files are named from `folder`.

    Raises InputError when the words map or the notes of trials cannot be read or are wrong.
    """
    trials = noted(job, folder, datetime.date.today()).book
    if job.output.settings_map is None:
        return Beside(trials=trials)
    path = folder / job.output.settings_map
    with blame_key("output", "settings_map"):
        data = read_named(path, "The words map", most_bytes=MOST_TABLE_BYTES)
    words = parse_words(data, path.name)
    record = InputFile("settings_map", job.output.settings_map, hashlib.sha256(data).hexdigest(), len(data))
    return Beside(words, (record,), trials)
