"""Which load centers are used: as many as such a part has, and what the person says of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...base.mesh import Float
from ...base.notes import on_change, to_act_on
from ...base.text import placed
from .load_centers import FoundLoadCenter

OFF = "switched off"
BEYOND = "beyond the number expected"


@dataclass(frozen=True, eq=False)
class CenterMark:
    """What the person says of one load center."""

    near: Float  # (3,), mm; part frame: the load center nearest to it is meant; how deep it lies does not matter
    within_mm: float = 15.0  # no farther than this from it, across the press direction
    use: bool = True  # False: nothing rests on this load center
    name: str = ""  # in the person's words; "" for none


@dataclass(frozen=True)
class CenterChoice:
    """The load centers that are used and the others, each group with the most prominent first."""

    used: tuple[FoundLoadCenter, ...]
    others: tuple[FoundLoadCenter, ...]  # each says why in `unused_because`
    notes: tuple[str, ...]


def choose_centers(
    found: Sequence[FoundLoadCenter],
    marks: Sequence[CenterMark],
    expected: tuple[int, int] | None,
    direction: Float | None,
    as_typed: Callable[[Float], Float] | None = None,
) -> CenterChoice:
    """Say which load centers are used.

    Those found come most prominent first. Expected are the least and the most such a part has; None for any number.
    Without a press direction, a unit vector (3,), as for wrap-around parts, distances are straight. `as_typed` gives
    the three numbers a person types in a job for a place of the part frame; without it notes give the place itself.

    By themselves the strongest are used, up to the most expected; a mark overrules that for the one it means. Switching
    one off brings no other in: whoever switches off what is none would have to go on until the list ends. Marks are
    given to load centers by distance, the closest pair first, one each.
    """
    most = len(found) if expected is None else expected[1]
    chosen = [
        replace(center, number=number, unused_because="" if number <= most else BEYOND)
        for number, center in enumerate(found, 1)
    ]
    notes = []
    owner = _matched(found, marks, direction)
    for index, mark in enumerate(marks):
        if index in owner:
            at = owner[index]
            chosen[at] = replace(chosen[at], name=mark.name, unused_because="" if mark.use else OFF)
        else:
            notes.append(_unmatched(mark, found, direction))
    used = tuple(center for center in chosen if not center.unused_because)
    others = tuple(center for center in chosen if center.unused_because)
    beyond = [center for center in others if center.unused_because == BEYOND]
    if expected is not None and beyond:
        places = "; ".join(_place(center, as_typed) for center in beyond)
        notes.append(
            to_act_on(
                f"{len(found)} load centers were found and such a part has {_range(expected)}: the strongest are used. "
                f"Also found, not used: {places}. To use one, write [[impression.load_centers]] and its line below."
            )
        )
    if expected is not None and len(used) < expected[0]:
        notes.append(
            to_act_on(
                f"Such a part has {_range(expected)} load centers; {len(used)} {_is(len(used))} used. See that the "
                "scan with clay shows all of the clay: one that is cut off lacks the others, and the pad ends there."
            )
        )
    return CenterChoice(used, others, tuple(notes))


def _matched(found: Sequence[FoundLoadCenter], marks: Sequence[CenterMark], direction: Float | None) -> dict[int, int]:
    """Return for each mark that has one the number of its load center."""
    pairs = []
    for index, mark in enumerate(marks):
        for at, center in enumerate(found):
            away = _distance(mark, center, direction)
            if away <= mark.within_mm:
                pairs.append((away, index, at))
    owner: dict[int, int] = {}
    for _, index, at in sorted(pairs):
        if index not in owner and at not in owner.values():
            owner[index] = at
    return owner


def _distance(mark: CenterMark, center: FoundLoadCenter, direction: Float | None) -> float:
    between = center.position_mm - mark.near
    if direction is not None:
        between = between - (between @ direction) * direction
    return float(np.linalg.norm(between))


def _unmatched(mark: CenterMark, found: Sequence[FoundLoadCenter], direction: Float | None) -> str:
    what = f'"{mark.name}"' if mark.name else f"{placed(mark.near)} mm"
    nearest = min((_distance(mark, center, direction) for center in found), default=None)
    if nearest is None:
        return on_change(f"No load center was found, so none is {what} of [[impression.load_centers]].")
    if nearest <= mark.within_mm:
        return on_change(
            f"Two of [[impression.load_centers]] mean the same load center; {what} is the farther and is left out."
        )
    return on_change(
        f"No load center was found within {mark.within_mm:g} mm of {what} of [[impression.load_centers]]; the nearest "
        f"is {nearest:.0f} mm away."
    )


def _place(center: FoundLoadCenter, as_typed: Callable[[Float], Float] | None) -> str:
    number = f"number {center.number}, {center.depth_mm:.1f} mm deep"
    if as_typed is None:
        return f"{number}, at {placed(center.position_mm)} mm"
    return f"{number}, near = [{', '.join(f'{value:.5g}' for value in as_typed(center.position_mm))}]"


def _range(expected: tuple[int, int]) -> str:
    least, most = expected
    if least == most:
        return f"{least}"
    return f"up to {most}" if least == 0 else f"{least} to {most}"


def _is(count: int) -> str:
    return "is" if count == 1 else "are"
