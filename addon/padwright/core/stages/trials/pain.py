"""Pain that was noted, and what it forbids: it comes before all that is learned, and never makes anything firmer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .records import TrialBook

STOP = 4.0
"""From which the first word is to stop: one below moderate, 5 to 6 of 10 (Serlin et al. 1995,
doi 10.1016/0304-3959(94)00178-H); our own care."""
SEVERE = 7.0
"""From which nothing is proposed: severe is 7 to 10 (ibid.)."""


@dataclass(frozen=True)
class Pain:
    """The worst pain noted of the last print."""

    worst: float
    date: str
    zones: tuple[str, ...]  # where it hurt; a zone each
    has_unknown_place: bool  # some pain was noted without a place on the part
    worst_zone: str | None = None  # where it was worst

    @property
    def is_severe(self) -> bool:
        """Whether nothing is to be proposed."""
        return self.worst >= SEVERE

    def may_get_firmer(self, zone: str) -> bool:
        """Say if a zone may get firmer: not where it hurts, nor anywhere while it is not known where it hurts."""
        return self.worst == 0.0 or not (self.has_unknown_place or zone in self.zones)

    def first_words(self) -> tuple[str, ...]:
        """Return what is said before all else."""
        if self.worst == 0.0:
            return ()
        where = f' at "{self.worst_zone}"' if self.worst_zone is not None else ""
        if self.worst < STOP:
            held = "where it hurts" if self.zones and not self.has_unknown_place else "while nobody says where"
            return (
                f"Pain of {self.worst:g} of 10 was noted{where} ({self.date}): nothing gets firmer {held}. If it "
                "grows, or numbness or tingling comes, stop wearing it.",
            )
        words = [
            f"STOP: pain of {self.worst:g} of 10 was noted{where} ({self.date}). Do not wear this print any more. If "
            "pain, numbness, tingling or red skin stays, see a doctor."
        ]
        if self.is_severe:
            words.append(
                "Nothing is proposed: at such pain no change of firmness is worth a try before it is known where the "
                "pain comes from. Ask a doctor, or who treats you; for a print after that, a relief or another shape "
                "there comes before firmness."
            )
        else:
            words.append(
                "Where it hurts nothing gets firmer; wear the next print for minutes first, and stop if it hurts."
            )
        if self.has_unknown_place:
            words.append(
                "Say where it hurt (pain_at: a zone, or a cell of the picture): until then nothing gets firmer."
            )
        return tuple(words)


def pain_of(book: TrialBook, revision: str, places: Mapping[int, str | None]) -> Pain:
    """Return the pain noted of a revision's trials; `places` has the zone of each that says where, by its number."""
    found = [(number, each) for number, each in enumerate(book.trials) if each.revision == revision and each.pain > 0.0]
    if not found:
        return Pain(0.0, "", (), False)
    at, worst = max(found, key=lambda each: each[1].pain)
    zones = dict.fromkeys(zone for number, _ in found if (zone := places.get(number)) is not None)
    return Pain(
        worst.pain, worst.date, tuple(zones), any(places.get(number) is None for number, _ in found), places.get(at)
    )
