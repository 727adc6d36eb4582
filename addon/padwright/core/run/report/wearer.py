"""What the wearer says: zone by zone and print by print, with the picture of places to point at."""

from __future__ import annotations

from collections.abc import Sequence

from ...base.text import counted
from ...stages.report.page import Section, bullets, figure, heading, paragraph, table
from ...stages.trials.learning import counted_answers, early_trials
from ...stages.trials.reading import trials_name
from ...stages.trials.records import TrialBook
from ..places import PartPlaces
from ..trial_notes import places_name
from .source import ReportSource

_ASK = (
    "Each time it was worn, note how every zone feels: too firm, right or too soft; against the print before, better, "
    "same or worse; and where anything hurts. Answer after a day of wear. What you cannot tell, leave out."
)


def wearer_section(source: ReportSource) -> Section:
    """Return what was noted of the part's prints, and the picture of its zones and cells."""
    job, book = source.part.job, source.trials
    body = paragraph(_ASK)
    body += paragraph(
        f"A form for it is added to {trials_name(job.part.number)}, beside the job, by the command trial."
    )
    if book.trials:
        zones = [zone.name for zone in job.zones]
        body += table(("Zone", *_revisions(book)), _rows(book, zones), "How it feels, answers after a day of wear")
        body += "".join(_remarks(source.places, book, revision) for revision in _heads(book))
    now = book.of(job.part.revision)
    is_sore = any(trial.pain for trial in now)
    picture = source.places.picture(now) if is_sore else source.places_picture
    if picture is not None:
        words = "The part from its body side, its zones, and cells to name a place by, as C4."
        if is_sore:
            words += " Rings: where it hurt, and how much of 10."
        body += figure(picture, f"{words} By itself: {places_name(job.part.number)}.", kind="places")
    return Section("wearer", "What the wearer says", body, _STYLE)


_STYLE = """\
.places { overflow-x: auto; }
.places svg { display: block; max-width: 100%; min-width: 34rem; height: auto; }
"""
"""On a phone it is moved sideways: else its letters were too small to read."""

_COMPARED = {"better": "better than before", "same": "the same as before", "worse": "worse than before"}


def _heads(book: TrialBook) -> tuple[str, ...]:
    return tuple(dict.fromkeys(each.revision for each in book.trials))


def _revisions(book: TrialBook) -> tuple[str, ...]:
    return tuple(f"Revision {each}" for each in _heads(book))


def _rows(book: TrialBook, zones: Sequence[str]) -> list[tuple[str, ...]]:
    early = early_trials(book.trials)
    return [(zone, *(_cell(book, early, revision, zone) for revision in _heads(book))) for zone in zones]


def _cell(book: TrialBook, early: Sequence[bool], revision: str, zone: str) -> str:
    """Return the answers on one zone of one print in words."""
    own = [(early[at], answer) for at, trial, answer in book.answers(zone) if trial.revision == revision]
    settled = [answer for is_early, answer in own if not is_early]
    told = [counted_answers(settled)] if settled else []
    compared = [each.than_last for each in settled if each.than_last]
    told += [f"{compared.count(word)} {_COMPARED[word]}" for word in dict.fromkeys(compared)]
    return "; ".join(each for each in told if each) or ("first impressions alone" if own else "-")


def _remarks(places: PartPlaces, book: TrialBook, revision: str) -> str:
    """Return what else was noted of a print: pain first, then what slipped and wore, notes, photos."""
    trials = book.of(revision)
    hours = sum(each.hours_worn for each in trials)
    said = [f"{each.date}, pain {each.pain:g} of 10 at {places.pain_words(each)}" for each in trials if each.pain > 0.0]
    for name, head in (("slipped", "slipped"), ("wore", "wore"), ("note", "note")):
        said += [f"{each.date}, {head}: {getattr(each, name)}" for each in trials if getattr(each, name)]
    photos = [name for each in trials for name in each.photos]
    if photos:
        said.append(f"Photos: {', '.join(photos)}")
    return heading(f"Revision {revision}: worn {counted(len(trials), 'time')}, {hours:g} h") + bullets(said)
