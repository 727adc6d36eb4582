"""The next revision of a part: proposed from its trials, its load check and its history, and written as a job."""

from __future__ import annotations

import datetime
import textwrap
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..base.errors import InputError, SolidError, SolveError
from ..base.estimate import Estimate
from ..base.progress import Progress, Steps, nested
from ..base.text import counted
from ..job.cards import load_family
from ..job.edit_text import with_keys
from ..job.keys import keys_of
from ..job.material_cards import material_of
from ..job.schema import Job, Zone
from ..job.toml_lines import Path as KeyPath
from ..job.toml_values import toml_value
from ..stages.trials.disagreeing import disagreements
from ..stages.trials.learning import Learned, WornPrint, early_note, learned
from ..stages.trials.pain import Pain, pain_of
from ..stages.trials.proposing import (
    Reach,
    asked_changes,
    halved,
    held,
    held_for_pain,
    next_name,
    pressing,
    total_answers,
    within_print,
)
from ..stages.trials.records import Proposal, TrialBook
from ..stages.trials.words import headline
from .history import earlier_prints, from_folder, printed_folder, revisions_beside, run_record, worn_print
from .laid_out import laid_out
from .memory import StageMemory
from .places import PartPlaces
from .stages import STAGES
from .trial_notes import TrialNotes, noted, places_name

_LEAST_TIMES, _MOST_TIMES = 0.1, 10.0
"""As `zones.stiffness_times` takes."""

_ROUNDS = 4
"""How often the changed part is made at most: filament, load or pain may take changes back."""


@dataclass(frozen=True, eq=False)
class _Made:
    """A part as it would be printed."""

    print: WornPrint
    binding: Mapping[str, str | None]
    hours: Estimate
    mass_g: Estimate


def propose(
    job: Job, folder: Path, today: datetime.date, *, printed: Path | None = None, memory: StageMemory | None = None
) -> Steps[Proposal]:
    """Return what the trials noted beside a job ask of its next revision; nothing is written.

    Parameters
    ----------
    folder : path
        The job's.
    printed : path, optional
        Where the files of this revision lie, if not where a run puts them.
    memory : StageMemory, optional
        Of stages that are worked out already.

    Raises PadwrightError when the notes have faults, there are none, or the changed part cannot be made.
    """
    memory = memory or StageMemory()
    yield Progress(0.0, "reading the trials")
    notes = noted(job, folder, today)
    if not notes.book.trials:
        raise InputError(
            f'No trial is noted in "{notes.path.name}" beside the job.',
            hint="Write a form to fill in with: python -m padwright trial JOB",
        )
    record = run_record(printed or printed_folder(job, folder), job.part.number)
    if record is not None and str(record["part"].get("revision")) != job.part.revision:
        record = None
    places = yield from nested(_pain_places(notes, job, folder, memory), 0.0, 0.2)
    if record is not None:
        now, hours, mass = worn_print(record, "the folder of this revision"), *_costs(record)
    else:
        made = yield from nested(_made(job, folder, memory), 0.2, 0.55)
        now, hours, mass = made.print, made.hours, made.mass_g
    prints = (*earlier_prints(job, folder), now)
    asked = [zone.name for zone in job.zones if zone.name in now.kpa]
    zones = learned(notes.book, prints, asked)
    known, taken = tuple(each.revision for each in prints), revisions_beside(job, folder)
    following = next_name(job.part.revision, known)
    pain = pain_of(notes.book, job.part.revision, places)
    proposal = Proposal(
        revision=job.part.revision,
        next_revision=next_name(job.part.revision, (*known, *taken)),
        changes=asked_changes(zones, now, pain, _reaches(job)),
        stop=(*pain.first_words(), *_cautions(job, pain)),
        disagreements=disagreements(zones, prints, is_material_measured=_is_measured(job, folder)),
        notes=(
            *_notes(notes.book, job, prints, zones),
            *((taken_words(following),) if following in taken else ()),
            *_changed_since(job, now),
        ),
        answers_used=total_answers(zones),
        hours_now=hours,
        mass_now_g=mass,
    )
    proposal = yield from nested(_tried(proposal, job, folder, memory, now, pain), 0.55, 1.0)
    yield Progress(1.0, "done")
    return proposal


def _tried(
    proposal: Proposal, job: Job, folder: Path, memory: StageMemory, now: WornPrint, pain: Pain
) -> Steps[Proposal]:
    """Make the changed part, and take back what it cannot be or what would put load where it hurts."""
    changes = proposal.changes
    for number in range(_ROUNDS):
        if not any(each.is_changed for each in changes):
            return replace(proposal, changes=changes)
        asked = {each.zone: each.times for each in changes}
        steps = _made(changed_job(job, replace(proposal, changes=changes)), folder, memory)
        try:
            made = yield from nested(steps, number / _ROUNDS, (number + 1) / _ROUNDS)
        except (SolidError, SolveError) as error:
            changes = halved(changes, error.message)
            continue
        changes = within_print(changes, made.print.kpa, made.binding)
        told, notes, hurt = pressing(changes, now.pressure_kpa, made.print.pressure_kpa, pain)
        if hurt and any(each.times < 1.0 and each.zone not in hurt for each in changes):
            changes = held_for_pain(changes, hurt)
        if {each.zone for each in changes if each.is_changed} == {
            zone for zone, times in asked.items() if times != 1.0
        }:
            return replace(
                proposal, changes=told, notes=(*proposal.notes, *notes), hours_next=made.hours, mass_next_g=made.mass_g
            )
    return replace(proposal, changes=tuple(held(each, "no pad was found that can be made") for each in changes))


def _made(job: Job, folder: Path, memory: StageMemory) -> Steps[_Made]:
    """Make a part up to its plan of the print, without packing it."""
    part = yield from memory.reach(job, folder, STAGES[-1].name)
    part, laid = laid_out(part)
    firmness = part.firmness
    assert firmness is not None
    load = firmness.loads[0][1].zones if firmness.loads else ()
    bearing = [zone for zone in load if zone.share.high > 0.0]
    chosen = {each.name: each for each in firmness.chosen.values()}
    return _Made(
        WornPrint(
            job.part.revision,
            {name: each.reached_kpa for name, each in chosen.items()},
            {zone.name: zone.mean_pressure_kpa.value for zone in bearing},
            margin={zone.name: zone.bottoming_margin.value for zone in bearing},
        ),
        {name: each.binding for name, each in chosen.items()},
        laid.plan.time_h,
        laid.plan.mass_g,
    )


def _pain_places(notes: TrialNotes, job: Job, folder: Path, memory: StageMemory) -> Steps[dict[int, str | None]]:
    """Return the zone of each trial's pain, by its number; None where it lies on no part of the pad.

    Raises InputError when a trial of the job's revision names a cell without a part of the pad in it.
    """
    book = notes.book
    names = {zone.name for zone in job.zones}
    said = {number: each for number, each in enumerate(book.trials) if each.pain_at or each.pain_point is not None}
    if all(each.pain_at in names for each in said.values()):
        return {number: each.pain_at for number, each in said.items()}
    part = yield from memory.reach(job, folder, "zones")
    places = PartPlaces(part)
    found, grid = {number: places.pain_zone(each) for number, each in said.items()}, places.grid
    for number, each in said.items():
        if grid is not None and found[number] is None and each.pain_at and each.revision == job.part.revision:
            raise InputError(
                f"{notes.path.name}, the trial at line {book.lines[number]}: nothing of the part lies at pain_at = "
                f'"{each.pain_at}".',
                hint=f"The cells of {places_name(job.part.number)} run from A1 to {grid.last_cell}; name one on it.",
            )
    return found


def _costs(record: Mapping[str, Any]) -> tuple[Estimate | None, Estimate | None]:
    """Return hours and mass of a run; None where its evidence does not tell."""
    try:
        hours, mass = (
            Estimate(each["value"], each["low"], each["high"], each["basis"])
            for each in (record["print"]["time_h"], record["print"]["mass_g"])
        )
        return hours, mass
    except (KeyError, TypeError):
        return None, None


def _reaches(job: Job) -> dict[str, Reach]:
    return {
        zone.name: Reach(_LEAST_TIMES * level_kpa(job, zone), _MOST_TIMES * level_kpa(job, zone)) for zone in job.zones
    }


def level_kpa(job: Job, zone: Zone) -> float:
    """Return the modulus of a zone's level in the job's kind of fill, kPa."""
    return load_family(job.part.family).with_fill(job.fill.kind, job.fill.voids).target_modulus_kpa(zone.level)


def _cautions(job: Job, pain: Pain) -> tuple[str, ...]:
    """Return the family's own words on when to stop, where anything hurts."""
    if pain.worst == 0.0:
        return ()
    return tuple(f"Caution: {each.brief}" for each in load_family(job.part.family).cautions)


def _is_measured(job: Job, folder: Path) -> bool:
    return material_of(job.material, folder).pressed(job.fill.kind) is not None


def _notes(book: TrialBook, job: Job, prints: Sequence[WornPrint], zones: Sequence[Learned]) -> tuple[str, ...]:
    notes = list(early_note(zones))
    ours = {each.revision for each in prints}
    others = dict.fromkeys(each.revision for each in book.trials if each.revision not in ours)
    for revision in others:
        notes.append(
            f"{counted(len(book.of(revision)), 'trial')} of revision {revision} "
            f"{'does' if len(book.of(revision)) == 1 else 'do'} not count here: it does not come before revision "
            f"{job.part.revision}. Revise its own job for that."
        )
    if not book.of(job.part.revision):
        notes.append(f"Nothing is noted of revision {job.part.revision} itself: what is told rests on those before.")
    if job.target.goal != "levels":
        notes.append("The zones of this revision were tuned to the load; the next keeps them and tunes no more.")
    slips = [each for each in book.of(job.part.revision) if each.slipped]
    if slips:
        notes.append(f'It slipped: "{slips[-1].slipped}". Hold it first; a part that wanders is felt nowhere twice.')
    return tuple(notes)


def taken_words(revision: str) -> str:
    """Return why the next revision is not called as one would expect."""
    return f"Another job beside is revision {revision} already."


def _changed_since(job: Job, now: WornPrint) -> tuple[str, ...]:
    """Return what to say of zones whose wish in the job is another than the one they were printed for."""
    if job.target.goal != "levels":
        return ()
    wished = {zone.name: level_kpa(job, zone) * zone.stiffness_times for zone in job.zones}
    other = [name for name, kpa in now.asked_kpa.items() if name in wished and abs(kpa / wished[name] - 1.0) > 0.01]
    told = ", ".join(f'"{name}" {now.asked_kpa[name]:.0f} kPa, now {wished[name]:.0f}' for name in other)
    if not other:
        return ()
    return (
        f"The job was changed since it was printed: {told}. What stays is as the job says now; what changes goes from "
        "what was printed.",
    )


def changed_keys_of(job: Job, proposal: Proposal) -> dict[KeyPath, Any]:
    """Return the keys of the job that make it the proposed revision, each by its path, but for `part.previous`."""
    values: dict[KeyPath, Any] = {("part", "revision"): proposal.next_revision}
    is_tuned = job.target.goal != "levels"
    if is_tuned:
        values["target", "goal"] = "levels"
    by_name = {each.zone: each for each in proposal.changes}
    for index, zone in enumerate(job.zones):
        change = by_name.get(zone.name)
        if change is not None and (change.is_changed or is_tuned):
            times = change.next_kpa / level_kpa(job, zone)
            values["zones", index, "stiffness_times"] = round(min(max(times, _LEAST_TIMES), _MOST_TIMES), 3)
    return values


def changed_job(job: Job, proposal: Proposal) -> Job:
    """Return the job of the proposed revision."""
    keys = changed_keys_of(job, proposal)
    zones = tuple(
        replace(zone, stiffness_times=keys.get(("zones", index, "stiffness_times"), zone.stiffness_times))
        for index, zone in enumerate(job.zones)
    )
    goal = keys.get(("target", "goal"), job.target.goal)
    part = replace(job.part, revision=proposal.next_revision)
    return replace(job, part=part, zones=zones, target=replace(job.target, goal=goal))


def revised_text(text: str, job: Job, proposal: Proposal, printed: Path, folder: Path, from_file: str) -> str:
    """Return the job file of the proposed revision: the text of this one's with its keys set, all else as it stands.

    Parameters
    ----------
    text, from_file : str
        This revision's file, and its name.
    printed, folder : path
        Where the files of this revision lie, and where the new job will.

    Raises InputError when a key cannot be set in the text.
    """
    keys = changed_keys_of(job, proposal)
    keys["part", "previous"] = from_folder(printed, folder)
    if not _has_zones(text):  # they were the family's; now the trials speak of them
        text = f"{text.rstrip()}\n{_zone_tables(job)}"
    made = with_keys(text, keys).replace("\r\n", "\n")
    head = _reasons(proposal, from_file)
    first, _, rest = made.partition("\n")
    made = f"{first}\n{head}{rest}" if first.startswith("#:schema") else head + made
    return made.replace("\n", "\r\n") if "\r\n" in text else made


def _reasons(proposal: Proposal, from_file: str) -> str:
    """Return as comments what changes and why, for whoever opens the file a month later."""
    lines = [f"# Revision {proposal.next_revision}, made from {from_file} by its trials."]
    for change in proposal.changes:
        if change.is_changed:
            told = f"{headline(change)} {change.why} Watch: {change.watch}"
            lines += textwrap.wrap(told, 120, initial_indent="# ", subsequent_indent="#   ", break_on_hyphens=False)
    return "\n".join(lines) + "\n"


def _has_zones(text: str) -> bool:
    return bool(tomllib.loads(text).get("zones"))


def _zone_tables(job: Job) -> str:
    lines: list[str] = []
    for zone in job.zones:
        lines += ["", "[[zones]]"]
        for name, (field_name, _, default) in keys_of(Zone).items():
            value = getattr(zone, field_name)
            if value is not None and value != default:
                lines.append(f"{name} = {toml_value(value)}")
    return "\n".join(lines) + "\n"
