"""The notes of the part's trials: where their file lies, what it holds, and a new one behind the others."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import bpy

from ...core.base.errors import InputError
from ...core.base.text import counted
from ...core.stages.trials.reading import trials_name
from ...core.stages.trials.records import Trial, TrialBook, ZoneAnswer
from .. import bridge, reporting, scene
from .properties_trials import OPEN

if TYPE_CHECKING:
    from ...core.job.schema import Job


def path_of(part: Any) -> Path:
    """Return where the notes of the part lie, or will. Raises InputError when there is no folder for them."""
    chosen = part.trials.folder.strip()
    if not chosen and bpy.data.filepath:
        chosen = "//"
    if not chosen:
        raise InputError("There is no folder for the notes.", hint='Choose one at "Notes In", or save the scene first.')
    return scene.target_folder(chosen) / trials_name(part.number)


def read(context: bpy.types.Context) -> TrialBook:
    """Return the notes; none where there is no file yet. Raises InputError when something in it is wrong."""
    from ...core.run.trial_notes import noted

    path = path_of(context.scene.padwright)
    return noted(_job(context), path.parent, datetime.date.today()).book


def add(context: bpy.types.Context, trial: Trial) -> Path:
    """Write a note behind the others, and return their file. Raises InputError when something in it is wrong."""
    from ...core.run.trial_notes import add_trial

    path = path_of(context.scene.padwright)
    path.parent.mkdir(parents=True, exist_ok=True)
    return add_trial(_job(context), path.parent, trial, datetime.date.today()).path


def worn_before(context: bpy.types.Context) -> str:
    """Return the revision that was printed before the part's own, or nothing."""
    from ...core.run.history import earlier_prints

    earlier = earlier_prints(_job(context), path_of(context.scene.padwright).parent)
    return earlier[-1].revision if earlier else ""


def _job(context: bpy.types.Context) -> Job:
    """Return a job with what notes are held against: the part's names, the print before it, its zones."""
    from ...core.job.read import job_from_tables

    part = context.scene.padwright
    tables = scene.scene_tables(part)
    tables["zones"] = [{"name": zone.name, "level": 1.0, "source": "load_centers"} for zone in part.zones]
    tables["target"] = {}
    tables.get("blend", {}).pop("between", None)
    return job_from_tables(tables, name="scene")


def bring(part: Any, folder: Path) -> None:
    """Copy the notes, if there are any, beside the scene's scans: there a run of the scene's job looks for them."""
    beside = folder / trials_name(part.number)
    beside.unlink(missing_ok=True)
    there = reporting.or_none(path_of, part)
    if there is not None and there.is_file():
        beside.write_bytes(there.read_bytes())


def form_of(part: Any) -> Trial:
    """Return the note that is being filled in. Raises InputError where its day is none."""
    form = part.trials
    try:
        datetime.date.fromisoformat(form.date.strip())
    except ValueError:
        today = datetime.date.today().isoformat()
        raise InputError(f'"{form.date}" is no day.', hint=f'Write "Day" as {today}.') from None
    answers = tuple(
        ZoneAnswer(zone=each.name, feels=_said(each.feels), than_last=_said(each.than_last))
        for each in form.answers
        if _said(each.feels) or _said(each.than_last)
    )
    point = tuple(bridge.as_typed(form.pain_point)) if form.pain > 0 and form.has_pain_point else None
    return Trial(
        revision=form.revision.strip(),
        date=form.date.strip(),
        hours_worn=bridge.as_typed(form.hours_worn),
        activity=form.activity.strip(),
        zones=answers,
        pain=float(form.pain),
        pain_point=point,
        slipped=form.slipped.strip(),
        wore=form.wore.strip(),
        photos=tuple(each.strip() for each in form.photos.split(",") if each.strip()),
        note=form.note.strip(),
    )


def _said(answer: str) -> str | None:
    return None if answer == OPEN else answer


def show(part: Any, book: TrialBook) -> None:
    """List the notes, the last one first."""
    rows = part.trials.noted
    rows.clear()
    for trial in reversed(book.trials):
        row = rows.add()
        row.name, row.revision, row.said = trial.date, trial.revision, in_words(trial)
    part.trials.noted_index = 0
    tell_compared(part)


def tell_compared(part: Any) -> None:
    """Write beside the notes of each print how it came out, where its scan was compared with the part."""
    told: dict[str, str] = {}
    for row in part.trials.noted:
        if row.revision not in told:
            told[row.revision] = _compared(part, row.revision)
        row.compared = told[row.revision]


def _compared(part: Any, revision: str) -> str:
    """Return how a print came out: as it was compared here, else by the comparison beside its files; "" without one."""
    from ...core.run.printed_before import read_printed

    here = part.compare
    if here.of == revision and here.said:
        return " ".join([here.said, *here.corrections.split("\n")]).strip()
    folder = reporting.or_none(scene.target_folder, part.folder)
    if revision != part.revision:
        previous = json.loads(part.kept).get("part", {}).get("previous") if part.kept else None
        folder = Path(previous) if previous and revision == part.trials.begun_from else None
    found = None if folder is None else reporting.or_none(read_printed, folder, part.number, revision)
    if found is None or found.note:
        return "" if found is None else found.note
    return " ".join(how for what, how in found.told if what in ("off by", "scan"))


def in_words(trial: Trial) -> str:
    """Return what a note says, in a few sentences."""
    said = [f"{trial.hours_worn:g} h{f', {trial.activity}' if trial.activity else ''}"]
    for answer in trial.zones:
        words = [each for each in (answer.feels, f"{answer.than_last} than before" if answer.than_last else "") if each]
        said.append(f"{answer.zone}: {', '.join(words)}".replace("same than before", "the same as before"))
    if trial.pain > 0:
        place = trial.pain_at or ("at the place picked" if trial.pain_point else "")
        said.append(f"pain {trial.pain:g} of 10{f', {place}' if place else ''}")
    said += [f"slipped: {trial.slipped}"] if trial.slipped else []
    said += [f"wore off: {trial.wore}"] if trial.wore else []
    said += [counted(len(trial.photos), "photo")] if trial.photos else []
    said += [trial.note] if trial.note else []
    return ". ".join(each[:1].upper() + each[1:] for each in said) + "."
