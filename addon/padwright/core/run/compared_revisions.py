"""Two revisions side by side: what changed in the job, the shape, the settings, what is predicted and what was felt."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ..base.mesh import Float
from ..base.text import figure
from ..geometry.frames import inverse_rigid, moved
from ..stages.packing.sidecar import threemf_name
from ..stages.report.shape_change import ShapeChange, shape_change
from ..stages.report.side_by_side import ChangedRow, SideBySide, shape_words
from ..stages.report.words_map import WordsMap
from ..stages.trials.records import FEELS, THAN_LAST, Trial, TrialBook
from .beside import Beside
from .evidence import run_evidence
from .packing import Packed
from .parts import MadePart
from .printed_before import PrintedBefore
from .revision_rows import (
    chain_row,
    corrected_rows,
    file_rows,
    history_row,
    key_rows,
    setting_rows,
    whole_rows,
    zone_rows,
)
from .revisions import Revision


def side_by_side(
    before: Revision,
    now: Revision,
    *,
    words: WordsMap | None = None,
    trials: TrialBook | None = None,
    zone_at: Callable[[Float], str] = lambda _: "",
) -> SideBySide:
    """Return what changed from one revision of a part to another.

    Parameters
    ----------
    words : WordsMap, optional
        The person's words for settings.
    trials : TrialBook, optional
        What the wearer noted of both.
    zone_at : callable
        Place (3,) mm in the part frame -> the zone there, "" for none known.
    """
    first, second = before.run, now.run
    notes = []
    keys: tuple[ChangedRow, ...] = ()
    if "job" in first and "job" in second:
        keys = key_rows(first["job"], second["job"])
    else:
        notes.append(f"The run of revision {before.name} does not state its job, so keys are not compared.")
    if first["tool"]["version"] != second["tool"]["version"]:
        versions = f"{first['tool']['version']} and {second['tool']['version']}"
        notes.append(f"They were made with Padwright {versions}: part of what differs may come from that.")
    printed = before.printed or PrintedBefore()
    notes += [printed.note] if printed.note else []
    shape = _shape(before, now)
    places = [shape.thicker_at, shape.thinner_at]
    zones = [zone_at(each) if each is not None else "" for each in places]
    chain = [*now_history(before), history_row(now)]
    book = trials or TrialBook()
    return SideBySide(
        before.name,
        now.name,
        before.folder,
        (*keys, *file_rows(before.settings, now.settings)),
        shape,
        shape_words(shape, zones),
        setting_rows(before.settings, now.settings, words or WordsMap()),
        zone_rows(first, second),
        whole_rows(first, second),
        felt_rows(book, before.name, now.name),
        tuple(chain_row(each, felt_words(book.of(str(each["revision"])))) for each in chain),
        tuple(notes),
        printed.told,
        corrected_rows(printed.corrections, second.get("job", {})),
    )


def compared_with_previous(
    part: MadePart, packed: Packed, files: Mapping[str, bytes], beside: Beside
) -> SideBySide | None:
    """Return a part as it was packed beside the revision before; None where the job names none, and for a selection."""
    if beside.previous is None or packed.selection is not None or part.pad is None or part.zones is None:
        return None
    number, pad, zones = part.job.part.number, part.pad.mesh, part.zones
    settings = json.loads(files[f"{number}.settings.json"])
    now = Revision(run_evidence(part, packed), settings, files[threemf_name(number)], "")

    def zone_at(place: Float) -> str:
        nearest = int(np.linalg.norm(pad.vertices - place, axis=1).argmin())
        return zones.zones[int(zones.label[nearest])].name

    return side_by_side(beside.previous, now, words=beside.words, trials=beside.trials, zone_at=zone_at)


def now_history(before: Revision | None) -> list[dict[str, Any]]:
    """Return what the run document of a revision keeps of those before it, oldest first."""
    return [] if before is None else [*(dict(each) for each in before.history), history_row(before)]


def _shape(before: Revision, now: Revision) -> ShapeChange:
    """Lay the two shapes over each other in the part frame of the one now."""
    meshes = before.mesh, now.mesh
    press = now.settings["coordinate_frame"]["press_direction"]
    scans = [_digest(each, "base_scan") for each in (before, now)]
    why = ""
    if scans[0] != scans[1]:
        why = "the base scan is another file, and has axes of its own"
    elif press is None:
        why = "a part that wraps around its base has no one direction to be thick along"
    if why:
        first, second = (float(each.volume) / 1000.0 for each in meshes)
        return ShapeChange(first, second, not_compared=why)
    to_now = now.to_part @ inverse_rigid(before.to_part)
    laid = replace(meshes[0], vertices=moved(to_now, meshes[0].vertices))
    return shape_change(laid, meshes[1], np.array(press, dtype=np.float64))


def _digest(revision: Revision, role: str) -> str:
    return next((each["sha256"] for each in revision.settings["provenance"]["inputs"] if each["role"] == role), "")


def felt_rows(book: TrialBook, before: str, now: str) -> tuple[ChangedRow, ...]:
    """Return what the wearer noted of two revisions, zone by zone, then pain and hours; none without any notes."""
    both = [book.of(before), book.of(now)]
    if not any(both):
        return ()
    silent = ["" if trials else "not worn yet" for trials in both]
    zones = dict.fromkeys(answer.zone for trials in both for trial in trials for answer in trial.zones)
    rows = []
    for zone in zones:
        for what, words in (("feels", FEELS), ("than_last", THAN_LAST)):
            told = [_counted(trials, zone, what, words) for trials in both]
            if any(told):
                told = [each or said for each, said in zip(told, silent, strict=True)]
                rows.append(ChangedRow(zone, "feels" if what == "feels" else "against the last", *told))
    for what, words_of in (("worst pain, 0 to 10", _pain), ("worn, h", _hours)):
        rows.append(ChangedRow("", what, *(words_of(each) or said for each, said in zip(both, silent, strict=True))))
    return tuple(rows)


def felt_words(trials: Sequence[Trial]) -> str:
    """Return what the wearer noted of one revision in a few words; "" where there are no notes."""
    if not trials:
        return ""
    pain = _pain(trials)
    return f"worn {_hours(trials)} h{f', pain up to {pain}' if pain else ''}"


def _counted(trials: Sequence[Trial], zone: str, what: str, words: Sequence[str]) -> str:
    found = Counter(getattr(answer, what) for trial in trials for answer in trial.zones if answer.zone == zone)
    told = [f"{each}{f' ({found[each]} times)' if found[each] > 1 else ''}" for each in words if found[each]]
    return ", ".join(told)


def _pain(trials: Sequence[Trial]) -> str:
    worst = max(trials, key=lambda each: each.pain, default=None)
    if worst is None:
        return ""
    place = f" at {worst.pain_at}" if worst.pain_at and worst.pain > 0.0 else ""
    return f"{worst.pain:g}{place}"


def _hours(trials: Sequence[Trial]) -> str:
    return figure(sum(each.hours_worn for each in trials), 1) if trials else ""
