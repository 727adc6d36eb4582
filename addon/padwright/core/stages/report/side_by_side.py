"""Two revisions of a part side by side: records that a page and a panel show, and the page's chapter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ...base.files import without_user
from ...base.text import counted, figure, placed
from .page import Section, bullets, heading, paragraph, table
from .shape_change import ShapeChange


@dataclass(frozen=True)
class ChangedRow:
    """One thing that is the same or not in two revisions."""

    where: str  # zone or region; "" for the part as a whole
    what: str
    before: str  # "" where there was none
    now: str
    change: str = ""  # in words, where it is a number: "x 1.20", "+12 %"


@dataclass(frozen=True)
class ChainRow:
    """One revision of the part's history."""

    revision: str
    created: str
    mass_g: str
    hours: str
    gives_mm: str
    stiffness: str  # zone by zone, kPa
    felt: str


@dataclass(frozen=True, eq=False)
class SideBySide:
    """What changed from the revision before to this one."""

    before: str  # names of the revisions
    now: str
    folder: str  # of the revision before, as the job names it
    keys: tuple[ChangedRow, ...]  # of the job, those that changed
    shape: ShapeChange
    shape_words: tuple[str, ...]  # the same told
    settings: tuple[ChangedRow, ...]  # region by region, those that changed
    zones: tuple[ChangedRow, ...]  # stiffness and load of each zone
    whole: tuple[ChangedRow, ...]  # load, mass and hours of the part
    felt: tuple[ChangedRow, ...]  # what its wearer noted; none where there are no notes
    chain: tuple[ChainRow, ...]  # every revision, oldest first
    notes: tuple[str, ...] = ()
    printed: tuple[tuple[str, str], ...] = ()  # how the print before came out; none where no scan of it was compared
    corrected: tuple[ChangedRow, ...] = ()  # keys: what the print before asked for, and what the job has now

    @property
    def in_short(self) -> tuple[str, ...]:
        """What changed in a few sentences, for a summary and a panel."""
        keys = list(dict.fromkeys(row.what for row in self.keys))
        more = f" and {len(keys) - _MOST_NAMED} more" if len(keys) > _MOST_NAMED else ""
        stiff = [f"{row.where} {row.change}" for row in self.zones if row.what == STIFFNESS and row.change]
        return (
            f"Since revision {self.before} changed: {', '.join(keys[:_MOST_NAMED]) or 'no key of the job'}{more}.",
            *self.shape_words,
            f"Stiffness: {', '.join(stiff) or 'as before'}.",
        )

    def as_json(self) -> dict[str, Any]:
        """Return what the run document tells; lengths in mm, places in the part frame."""
        shape = self.shape
        ends = (("thicker", shape.thicker_mm, shape.thicker_at), ("thinner", shape.thinner_mm, shape.thinner_at))
        return {
            "revision": self.before,
            "folder": without_user(self.folder),
            "keys": [row.what for row in self.keys],
            "volume_cm3": [shape.volume_before_cm3, shape.volume_now_cm3],
            "not_compared": shape.not_compared,
            **{f"{name}_mm": {"value": size, "place_mm": place} for name, size, place in ends},
            "usual_mm": shape.usual_mm,
            "gained_cm2": shape.gained_cm2,
            "lost_cm2": shape.lost_cm2,
            "notes": list(self.notes),
        }


_MOST_NAMED = 6

STIFFNESS = "stiffness, kPa"
"""What the rows of a zone's stiffness are called."""


def shape_words(shape: ShapeChange, zone_at: Sequence[str] = ("", "")) -> tuple[str, ...]:
    """Return a change of shape in sentences; `zone_at` are the zones of the places of `thicker_at` and `thinner_at`."""
    change = shape.volume_now_cm3 - shape.volume_before_cm3
    share = 100.0 * change / shape.volume_before_cm3
    volume = f"Volume of what is printed: {figure(shape.volume_before_cm3)} to {figure(shape.volume_now_cm3)} cm3"
    said = [f"{volume} ({share:+.1f} %)." if abs(share) >= 0.05 else "Volume of what is printed: as before."]
    if shape.not_compared:
        return (*said, f"The shapes were not laid over each other: {shape.not_compared}.")
    if abs(shape.usual_mm) >= _TOLD_MM:
        said.append(f"Mostly {'thicker' if shape.usual_mm > 0.0 else 'thinner'} by {abs(shape.usual_mm):.1f} mm.")
    ends = (("thicker", shape.thicker_mm, shape.thicker_at), ("thinner", shape.thinner_mm, shape.thinner_at))
    for (words, size, place), zone in zip(ends, zone_at, strict=True):
        if place is not None and size >= _TOLD_MM:
            there = f' in "{zone}"' if zone else ""
            said.append(f"At most {size:.1f} mm {words}, at {placed(place)} mm{there}.")
    if max(shape.thicker_mm, shape.thinner_mm) < _TOLD_MM:
        said.append("Thickness: as before, away from the rim.")
    for words, area in (("gained", shape.gained_cm2), ("lost", shape.lost_cm2)):
        if area >= _TOLD_CM2:
            said.append(f"Outline: {figure(area)} cm2 {words}.")
    return tuple(said)


_TOLD_MM = 0.1
"""A change of thickness below half a layer is none: what a print shows no more."""
_TOLD_CM2 = 0.5
"""A change of the outline below this is its pixels'."""


def side_by_side_section(found: SideBySide, pictures: str) -> Section:
    """Return the chapter of a report; `pictures` is the HTML of the change of thickness, "" for none."""
    before, now = f"Revision {found.before}", f"Revision {found.now}"
    body = paragraph(f"What changed from revision {found.before} (in {found.folder}) to revision {found.now}.", "lead")
    body += bullets(found.notes)
    body += heading("What was asked")
    if found.keys:
        body += table(("Key", before, now), [(row.what, _dash(row.before), _dash(row.now)) for row in found.keys])
    else:
        body += paragraph("No key of the job changed.")
    body += heading("Shape") + bullets(found.shape_words) + pictures
    body += heading("Settings")
    if found.settings:
        rows = [(row.where, row.what, _dash(row.before), _dash(row.now)) for row in found.settings]
        body += table(("Region", "Setting", before, now), rows, _ABOUT_FILLS)
    else:
        body += paragraph(f"All settings of all regions are as before. {_ABOUT_FILLS}")
    body += heading("Predicted")
    body += table(
        ("Where", "What", before, now, "Change"),
        [
            (row.where or _WHOLE, row.what, _dash(row.before), _dash(row.now), row.change or "as before")
            for row in (*found.whole, *found.zones)
            if row.change or "" in (row.before, row.now) or row.what == STIFFNESS
        ],
    )
    if found.felt:
        body += heading("Felt")
        rows = [(row.where or _WHOLE, row.what, _dash(row.before), _dash(row.now)) for row in found.felt]
        body += table(("Where", "What", before, now), rows)
    if found.printed:
        body += heading(f"How revision {found.before} was printed")
        body += table(("What", "By a scan of the print"), found.printed)
        if found.corrected:
            asked = [(row.what, row.before, _dash(row.now)) for row in found.corrected]
            body += table(("Key", "To correct it", now), asked)
        else:
            body += paragraph("Nothing was to be corrected.")
    if len(found.chain) > 2:
        body += heading("All revisions")
        head = ("Revision", "Made", "Weighs, g", "Prints, h", "Gives, mm", "Stiffness, kPa", "Felt")
        body += table(
            head,
            [(r.revision, r.created, r.mass_g, r.hours, r.gives_mm, r.stiffness, r.felt) for r in found.chain],
            f"{counted(len(found.chain), 'revision')}, oldest first",
        )
    return Section("revisions", f"Against revision {found.before}", body)


_WHOLE = "whole part"
_ABOUT_FILLS = "A fill that changed by less than half a percent of itself counts as before."


def _dash(text: str) -> str:
    return text or "-"
