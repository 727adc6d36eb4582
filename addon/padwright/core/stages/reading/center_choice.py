"""Which load centres are used: as many as such a part has, and what the person says of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...base.mesh import Float
from ...base.notes import on_change, to_act_on
from ...base.text import placed
from .load_centers import LoadCentre

OFF = "switched off"
BEYOND = "beyond the number expected"


@dataclass(frozen=True, eq=False)
class CentreMark:
    """What the person says of one load centre.

    Attributes
    ----------
    near : (3,) float, mm
        Part frame: the load centre nearest to it is meant; how deep it lies does not matter.
    within_mm : float
        No farther than this from it, across the press direction.
    use : bool
        False: nothing rests on this load centre.
    name : str
        In the person's words; "" for none.
    """

    near: Float
    within_mm: float = 15.0
    use: bool = True
    name: str = ""


@dataclass(frozen=True)
class CentreChoice:
    """The load centres that are used and the others, each group with the most prominent first.

    Attributes
    ----------
    used, others : tuple of LoadCentre
        The others say why in `unused_because`.
    notes : tuple of str
    """

    used: tuple[LoadCentre, ...]
    others: tuple[LoadCentre, ...]
    notes: tuple[str, ...]


def choose_centres(
    found: Sequence[LoadCentre],
    marks: Sequence[CentreMark],
    expected: tuple[int, int] | None,
    direction: Float | None,
    as_typed: Callable[[Float], Float] | None = None,
) -> CentreChoice:
    """Say which load centres are used.

    Parameters
    ----------
    found : sequence of LoadCentre
        Most prominent first.
    marks : sequence of CentreMark
    expected : (least, most) or None
        How many such a part has; None for any number.
    direction : (3,) unit vector or None
        Press direction; None for wrap-around parts, where distances are straight.
    as_typed : callable (position) -> three numbers, optional
        What a person types in a job for a place of the part frame; without it notes give the place itself.

    Notes
    -----
    By themselves the strongest are used, up to the most expected; a mark overrules that for the one it means. Switching
    one off brings no other in: whoever switches off what is none would have to go on until the list ends. Marks are
    given to load centres by distance, the closest pair first, one each.
    """
    most = len(found) if expected is None else expected[1]
    chosen = [
        replace(centre, number=number, unused_because="" if number <= most else BEYOND)
        for number, centre in enumerate(found, 1)
    ]
    notes = []
    owner = _matched(found, marks, direction)
    for index, mark in enumerate(marks):
        if index in owner:
            at = owner[index]
            chosen[at] = replace(chosen[at], name=mark.name, unused_because="" if mark.use else OFF)
        else:
            notes.append(_unmatched(mark, found, direction))
    used = tuple(centre for centre in chosen if not centre.unused_because)
    others = tuple(centre for centre in chosen if centre.unused_because)
    beyond = [centre for centre in others if centre.unused_because == BEYOND]
    if expected is not None and beyond:
        places = "; ".join(_place(centre, as_typed) for centre in beyond)
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
    return CentreChoice(used, others, tuple(notes))


def _matched(found: Sequence[LoadCentre], marks: Sequence[CentreMark], direction: Float | None) -> dict[int, int]:
    """Return for each mark that has one the number of its load centre."""
    pairs = []
    for index, mark in enumerate(marks):
        for at, centre in enumerate(found):
            away = _distance(mark, centre, direction)
            if away <= mark.within_mm:
                pairs.append((away, index, at))
    owner: dict[int, int] = {}
    for _, index, at in sorted(pairs):
        if index not in owner and at not in owner.values():
            owner[index] = at
    return owner


def _distance(mark: CentreMark, centre: LoadCentre, direction: Float | None) -> float:
    between = centre.position_mm - mark.near
    if direction is not None:
        between = between - (between @ direction) * direction
    return float(np.linalg.norm(between))


def _unmatched(mark: CentreMark, found: Sequence[LoadCentre], direction: Float | None) -> str:
    what = f'"{mark.name}"' if mark.name else f"{placed(mark.near)} mm"
    nearest = min((_distance(mark, centre, direction) for centre in found), default=None)
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


def _place(centre: LoadCentre, as_typed: Callable[[Float], Float] | None) -> str:
    number = f"number {centre.number}, {centre.depth_mm:.1f} mm deep"
    if as_typed is None:
        return f"{number}, at {placed(centre.position_mm)} mm"
    return f"{number}, near = [{', '.join(f'{value:.5g}' for value in as_typed(centre.position_mm))}]"


def _range(expected: tuple[int, int]) -> str:
    least, most = expected
    if least == most:
        return f"{least}"
    return f"up to {most}" if least == 0 else f"{least} to {most}"


def _is(count: int) -> str:
    return "is" if count == 1 else "are"
