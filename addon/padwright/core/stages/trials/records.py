"""What a wearer noted of a print, and what is proposed for the next one: records alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from ...base.estimate import Estimate
from ...job.keys import key
from ...job.schema import Point

THAN_LAST = ("better", "same", "worse")
FEELS = ("too firm", "right", "too soft")
MOST_PAIN = 10


@dataclass(frozen=True)
class ZoneAnswer:
    """What the wearer said of one zone; None where nothing was answered."""

    zone: str = key("text", "name of the zone, as in the job", count=(1, 1))
    feels: str | None = key("choice", "how it feels", choices=FEELS, default=None)
    than_last: str | None = key("choice", "against the revision worn before", choices=THAN_LAST, default=None)


@dataclass(frozen=True)
class Trial:
    """One time that a print was worn."""

    revision: str = key("text", "the print's part.revision", count=(1, 1), high=40)
    date: str = key("text", "day, as 2026-03-14", count=(1, 1), high=10)
    hours_worn: float = key("number", "how long, this time", low=0, high=24)
    activity: str = key("text", "what was done on it", default="")
    zones: tuple[ZoneAnswer, ...] = key("tables", "what was felt, zone by zone", default=(), table=ZoneAnswer)
    pain: float = key("number", "worst pain, 0 none to 10", low=0, high=MOST_PAIN, default=0.0)
    pain_at: str = key("text", "where: a zone, or a cell of the picture such as C4", default="")
    pain_point: Point | None = key(  # noqa: RUF009 - as all others; the linter knows types of one name alone
        "point", "where, in the base scan file's numbers", default=None
    )
    slipped: str = key("text", "what slipped", default="")
    wore: str = key("text", "what wore off or tore", default="")
    photos: tuple[str, ...] = key("texts", "names of photos", default=(), count=(0, 100))
    note: str = key("text", "anything else", default="")


@dataclass(frozen=True)
class TrialBook:
    """All trials of a part, in the order of the file."""

    trials: tuple[Trial, ...] = key("tables", "one each time it was worn", toml="trial", default=(), table=Trial)
    lines: tuple[int, ...] = field(default=(), compare=False, kw_only=True)
    """Where each trial begins in its file."""

    def of(self, revision: str) -> tuple[Trial, ...]:
        """Return the trials of one revision."""
        return tuple(each for each in self.trials if each.revision == revision)

    def answers(self, zone: str) -> Iterator[tuple[int, Trial, ZoneAnswer]]:
        """Yield number (from 0), trial and answer of each trial that says something of a zone."""
        for number, trial in enumerate(self.trials):
            for answer in trial.zones:
                if answer.zone == zone and (answer.feels or answer.than_last):
                    yield number, trial, answer


@dataclass(frozen=True)
class ZoneChange:
    """What is proposed for one zone."""

    zone: str
    times: float  # stiffness of the next print over that of this one; 1 leaves it
    now_kpa: float  # secant modulus as printed in this revision
    next_kpa: float  # the one that is asked for
    # Where the wearer's ideal lies, times this revision's stiffness: 9 cases in 10 within low and high.
    ideal: Estimate
    chance_now: float  # that this revision is within one noticeable step of the ideal, 0 to 1
    why: str
    watch: str  # what to look at when it is worn; "" where nothing changes
    # By the load check, mean pressure on the zone before and after all changes; None where it was not computed.
    pressure_now_kpa: float | None = None
    pressure_next_kpa: float | None = None
    notes: tuple[str, ...] = ()  # contradictions, early verdicts, what held it back

    @property
    def is_changed(self) -> bool:
        """Whether the next print differs here."""
        return self.times != 1.0


@dataclass(frozen=True)
class Disagreement:
    """What is felt and what is predicted disagree steadily: what may be wrong, and how to find out."""

    kind: str  # material, fit or flesh
    zones: tuple[str, ...]
    why: str  # which rule found it, with its numbers
    what_to_do: str


@dataclass(frozen=True)
class Proposal:
    """The next revision, zone by zone, with its reasons."""

    revision: str  # that of the job it starts from
    next_revision: str
    changes: tuple[ZoneChange, ...]  # in the order of the job's zones
    stop: tuple[str, ...] = ()  # to be said before all else: pain, and what not to do
    disagreements: tuple[Disagreement, ...] = ()
    notes: tuple[str, ...] = ()
    answers_used: int = 0
    hours_now: Estimate | None = None  # this revision's print time, h; None where it was not computed
    hours_next: Estimate | None = None
    mass_now_g: Estimate | None = None
    mass_next_g: Estimate | None = None

    @property
    def is_change(self) -> bool:
        """Whether anything is proposed."""
        return any(each.is_changed for each in self.changes)
