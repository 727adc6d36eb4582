"""The next print as it is proposed: worked out by the same use case as the command line's, shown, and taken over."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import bpy

from .. import reporting, scene
from ..stage_memory import begun_memory
from . import next_print, notes

if TYPE_CHECKING:
    from ...core.base.progress import Steps
    from ...core.job.schema import Job
    from ...core.stages.trials.records import Proposal, ZoneChange


def proposed(context: bpy.types.Context, job: Job) -> Steps[Proposal]:
    """Return the work that proposes the next print of the scene's job, from its notes and the stages remembered."""
    from ...core.run.revise import propose

    part, folder = context.scene.padwright, scene.work_folder()
    notes.path_of(part)  # without a folder for notes it says so
    notes.bring(part, folder)
    printed = reporting.or_none(scene.target_folder, part.folder)
    return propose(job, folder, datetime.date.today(), printed=printed, memory=begun_memory())


def show(part: Any, job: Job, proposal: Proposal) -> None:
    """Keep a proposal for the panel, and what it would set."""
    from ...core.run.revise import changed_keys_of

    keys = changed_keys_of(job, proposal)
    kept = part.trials
    kept.changes.clear()
    for each in proposal.changes:
        row = kept.changes.add()
        row.name, row.said = each.zone, change_words(each)
        row.why, row.watch = each.why, each.watch
        row.is_changed = each.is_changed
        place = [zone.name for zone in job.zones].index(each.zone)
        row.times = keys.get(("zones", place, "stiffness_times"), job.zones[place].stiffness_times)
    kept.goal = keys.get(("target", "goal"), "")
    kept.next_revision, kept.proposed_of = proposal.next_revision, proposal.revision
    kept.stop = "\n".join(proposal.stop)
    lines = [note for each in proposal.changes for note in each.notes]
    lines += [f"{doubt.why} {doubt.what_to_do}" for doubt in proposal.disagreements]
    kept.told = "\n".join(dict.fromkeys([*lines, *proposal.notes, *_cost(proposal)]))


def change_words(change: ZoneChange) -> str:
    """Return what changes in a zone: "softer by 20 %, 62 to 50 kPa"."""
    if not change.is_changed:
        return f"stays, {change.now_kpa:.0f} kPa"
    how = "firmer" if change.times > 1.0 else "softer"
    return f"{how} by {100.0 * abs(change.times - 1.0):.0f} %, {change.now_kpa:.0f} to {change.next_kpa:.0f} kPa"


def _cost(proposal: Proposal) -> list[str]:
    """Return what the next print takes beside this one, where both are known."""
    if proposal.hours_now is None or proposal.hours_next is None:
        return []
    from ...core.run.print_words import hours_words

    said = f"It prints {hours_words(proposal.hours_next)}; this one {hours_words(proposal.hours_now)}"
    if proposal.mass_now_g is not None and proposal.mass_next_g is not None:
        said += f"; {proposal.mass_next_g.value:.0f} g against {proposal.mass_now_g.value:.0f} g"
    return [f"{said}."]


def take(part: Any) -> None:
    """Set what is proposed. Raises InputError when there is no folder of this print's files."""
    kept = part.trials
    next_print.begin(part, kept.proposed_of, kept.next_revision)
    for row in kept.changes:
        for zone in part.zones:
            if zone.name == row.name:
                zone.stiffness_times = row.times
    if kept.goal:
        part.goal = kept.goal
    kept.changes.clear()
