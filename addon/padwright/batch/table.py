"""The table of a batch: a row a job, what needs a look first on top; as CSV for other programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from .job_list import ListedJob, natural
from .plan import BatchPlan
from .record import JobRecord

FACTS = (
    "regions",
    "volume_cm3",
    "mass_g",
    "print_hours",
    "largest_pressure_kPa",
    "sinkage_mm",
    "bottoming_margin",
    "alignment_rms_mm",
)
"""Numbers of a part, by their names in the records and in the CSV."""
COLUMNS = (
    "look", "why", "state", "exit_code", "job", "number", "name", "revision", "family", *FACTS, "notes_to_look_at",
    "seconds", "tries", "files", "message", "hint",
)  # fmt: skip


class Urgency(IntEnum):
    """How soon a row wants a person's eyes."""

    FAILED = 0
    ACT = 1  # something must be acted on before it is printed
    CHANGED = 2  # the part is not what was asked in all
    FINE = 3
    NOT_RUN = 4


LOOK_WORDS = {
    Urgency.FAILED: "failed",
    Urgency.ACT: "before you print",
    Urgency.CHANGED: "changed",
    Urgency.FINE: "",
    Urgency.NOT_RUN: "not run",
}


@dataclass(frozen=True)
class JobRow:
    """A job with what came of it."""

    job: ListedJob
    record: JobRecord | None  # None: not run yet
    is_fresh: bool  # of this batch, not of one before
    plan: BatchPlan

    @property
    def state(self) -> str:
        """The word: made, unchanged, failed, not run."""
        if self.record is None:
            return "not run"
        if not self.record.is_done:
            return "failed"
        return "made" if self.is_fresh else "unchanged"

    @property
    def part(self) -> Mapping[str, Any]:
        """What the run said of the part; nothing where none was made."""
        return self.record.part if self.record is not None else {}

    @property
    def number(self) -> str:
        """The part's number, from the job's file where none was made."""
        return str(self.part.get("number", self.job.number))

    @property
    def look(self) -> Urgency:
        """How soon it wants a look."""
        if self.record is None:
            return Urgency.NOT_RUN
        if not self.record.is_done:
            return Urgency.FAILED
        if self.part.get("before_printing") or self.double:
            return Urgency.ACT
        return Urgency.CHANGED if self.part.get("changes") or self.record.notes else Urgency.FINE

    @property
    def double(self) -> str:
        """What to say where other jobs make a part of this number too; "" where none does."""
        others = [name for name in self.plan.doubles.get(self.job.number, ()) if name != self.job.name]
        if not others or self.job.after:
            return ""
        more = f" and {len(others) - 1} more" if len(others) > 1 else ""
        return f"{others[0]}{more} makes a part {self.job.number} too: prints cannot be told apart."

    @property
    def why(self) -> tuple[str, ...]:
        """What there is to look at, the weightiest first."""
        if self.record is None:
            return ()
        if not self.record.is_done:
            return (self.record.message,)
        doubles = [self.double] if self.double else []
        return (*doubles, *self.part.get("before_printing", ()), *self.part.get("changes", ()), *self.record.notes)

    @property
    def order(self) -> tuple[int, int, list[tuple[int, str | int]]]:
        """What needs a look first comes first."""
        return (int(self.look), -len(self.why), natural(self.job.name))


def table_csv(rows: Iterable[JobRow]) -> bytes:
    """Return the table as CSV (RFC 4180), UTF-8; numbers with a point, what is not known is empty."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for row in rows:
        record = row.record
        facts = [row.part.get(name) for name in FACTS]
        writer.writerow(
            [
                LOOK_WORDS[row.look],
                _safe(" ".join(row.why)),
                row.state,
                "" if record is None else record.code,
                _safe(row.job.name),
                _safe(row.number),
                *(_safe(str(row.part.get(name, ""))) for name in ("name", "revision", "family")),
                *("" if each is None else each for each in facts),
                row.part.get("to_look_at", ""),
                "" if record is None else record.seconds,
                "" if record is None else record.tries,
                _safe(row.job.place) if record is not None and record.is_done else "",
                _safe(record.message) if record is not None else "",
                _safe(record.hint) if record is not None else "",
            ]
        )
    return text.getvalue().encode()


def look_words(rows: Iterable[JobRow]) -> str:
    """Return how many want a look, by kind: "2 failed, 3 with something to act on before printing"."""
    looks = [row.look for row in rows]
    told = [
        (Urgency.FAILED, "failed"),
        (Urgency.ACT, "to act on before printing"),
        (Urgency.CHANGED, "not in all as asked"),
        (Urgency.NOT_RUN, "not run yet"),
    ]
    return ", ".join(f"{looks.count(look)} {words}" for look, words in told if look in looks)


def _safe(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula (OWASP, CSV injection): with ' before it where it might."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
