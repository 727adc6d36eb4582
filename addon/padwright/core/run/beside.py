"""What lies beside a job and is for who takes the part away: the person's words; nothing of it changes the part."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

from ..base.files import MOST_TABLE_BYTES, InputFile, read_named
from ..job.read import blame_key
from ..job.schema import Job
from ..stages.report.words_map import WordsMap, parse_words


@dataclass(frozen=True, eq=False)
class Beside:
    """Read anew each time a part is packed."""

    words: WordsMap = field(default_factory=WordsMap)
    inputs: tuple[InputFile, ...] = ()  # the files read


def read_beside(job: Job, folder: Path) -> Beside:
    """Return what a job names beside its scans; its files are named from `folder`.

    Raises InputError when the words map cannot be read or is wrong.
    """
    if job.output.settings_map is None:
        return Beside()
    path = folder / job.output.settings_map
    with blame_key("output", "settings_map"):
        data = read_named(path, "The words map", most_bytes=MOST_TABLE_BYTES)
    words = parse_words(data, path.name)
    record = InputFile("settings_map", job.output.settings_map, hashlib.sha256(data).hexdigest(), len(data))
    return Beside(words, (record,))
