"""A proposal in words, for the command line, the window and the report."""

from __future__ import annotations

from collections.abc import Iterator

from ...base.estimate import Estimate
from ...base.text import counted
from .records import Proposal, ZoneChange


def proposal_lines(proposal: Proposal) -> list[str]:
    """Return what is proposed, line by line: first what to stop, then the zones, what is suspected, and costs."""
    lines = list(proposal.stop)
    used = counted(proposal.answers_used, "answer")
    lines.append(
        f"Revision {proposal.revision} -> {proposal.next_revision}, from {used} after a day of wear:"
        if proposal.is_change
        else f"No change of revision {proposal.revision} is proposed, from {used} after a day of wear:"
    )
    for change in proposal.changes:
        lines += zone_lines(change)
    for each in proposal.disagreements:
        lines += [f"Suspected, the {each.kind}: {each.why}", f"  {each.what_to_do}"]
    lines += [f"note: {note}" for note in proposal.notes]
    lines += cost_lines(proposal)
    return lines


def zone_lines(change: ZoneChange) -> Iterator[str]:
    """Yield what is proposed for one zone, why, and what to watch."""
    yield f"{headline(change)} {change.why}"
    if change.pressure_now_kpa is not None and change.pressure_next_kpa is not None and change.is_changed:
        yield f"  bears {change.pressure_now_kpa:.1f} -> {change.pressure_next_kpa:.1f} kPa by the load check"
    if change.watch:
        yield f"  watch: {change.watch}"
    for note in change.notes:
        yield f"  note: {note}"


def headline(change: ZoneChange) -> str:
    """Return the change of a zone in a few words."""
    if not change.is_changed:
        return f'"{change.zone}" stays at {change.now_kpa:.0f} kPa.'
    share = 100.0 * abs(change.times - 1.0)
    way = "softer" if change.times < 1.0 else "firmer"
    return f'"{change.zone}" {share:.0f} % {way}, {change.now_kpa:.0f} -> {change.next_kpa:.0f} kPa.'


def cost_lines(proposal: Proposal) -> Iterator[str]:
    """Yield what the next print takes, beside this one."""
    if proposal.hours_next is None or proposal.mass_next_g is None:
        return
    now, then = proposal.hours_now, proposal.mass_now_g
    yield (
        f"Print: {_range(proposal.hours_next)} h{f' instead of {_range(now)}' if now else ''}, "
        f"{proposal.mass_next_g.value:.0f} g{f' instead of {then.value:.0f}' if then else ''}."
    )


def _range(hours: Estimate) -> str:
    return f"{hours.low:.0f} to {hours.high:.0f}"
