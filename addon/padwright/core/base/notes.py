"""What a run remarks to the person, each remark with its weight: from what must be acted on to background."""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import IntEnum


class Weight(IntEnum):
    """How much a note matters to who is about to print."""

    BACKGROUND = 0  # how a number came about; nothing to do
    LOOK = 1  # worth a look: a number that is less sure, a place that may feel odd
    CHANGED = 2  # the part is not what was asked, or something given was not used
    ACT = 3  # to be acted on before printing: the part may come out wrong, not hold, or not print


_WORDS = {Weight.BACKGROUND: "background", Weight.LOOK: "to look at", Weight.CHANGED: "on changes"}
_SENTENCE_END = re.compile(r"(?<=[.?])\s+(?=[A-Z])")


class Note(str):
    """A note with its weight; in all else the text alone, so that it goes wherever a text goes."""

    weight: Weight

    def __new__(cls, text: str, weight: Weight = Weight.BACKGROUND) -> Note:
        """Return the note; its text and its weight never change."""
        note = super().__new__(cls, text)
        note.weight = weight
        return note


def to_act_on(text: str) -> Note:
    """Return a note of what must be acted on before printing; no summary leaves it out."""
    return Note(text, Weight.ACT)


def on_change(text: str) -> Note:
    """Return a note of what is not as it was asked, or of what was given and not used."""
    return Note(text, Weight.CHANGED)


def to_look_at(text: str) -> Note:
    """Return a note worth a look."""
    return Note(text, Weight.LOOK)


def weight_of(note: str) -> Weight:
    """Return the weight of a note; a plain text is background."""
    return note.weight if isinstance(note, Note) else Weight.BACKGROUND


def as_heavy(text: str, note: str) -> Note:
    """Return another text of the weight of a note, as with the name of what it is about before it."""
    return Note(text, weight_of(note))


def heaviest_first(notes: Iterable[str]) -> list[str]:
    """Return each text once, by the heaviest of its weights; of one weight as they came.

    A note that another repeats behind a name ("heel: ...") is left out.
    """
    ordered = sorted(notes, key=lambda note: -weight_of(note))
    once = list(dict.fromkeys(ordered))
    named = {note.split(": ", 1)[1] for note in once if ": " in note}
    return [note for note in once if note not in named]


def weight_words(weight: Weight) -> str:
    """Return what notes of a weight are called where they are counted."""
    return _WORDS[weight]


def sentences(note: str) -> list[str]:
    """Return a text sentence by sentence: cut behind a full stop or a question mark before a capital letter."""
    return _SENTENCE_END.split(note)
