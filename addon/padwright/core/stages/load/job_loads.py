"""The loads of a job: its own and its further cases, each with the key it comes from."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from ...base.errors import InputError, PadwrightError
from ...base.notes import on_change
from ...job.load_tables import wrong_direction
from ...job.read import blame_key
from ...job.schema import Job, Point
from ..alignment.placed_scans import body_points, turned
from ..body.flesh import flesh_of
from ..body.weight import SHARE_FACTOR, body_force_n, force_of
from .firmness import Ground
from .load_case import LoadCase

_GRIP_FACTOR = 1.5
"""How well a grip is known, nine times in ten: assumed."""


def load_cases(ground: Ground) -> tuple[LoadCase, ...]:
    """Return the job's load and its further cases; none where the job says nothing of the load."""
    return tuple(case for _, case in keyed_cases(ground))


def keyed_cases(ground: Ground) -> list[tuple[tuple[str | int, ...], LoadCase]]:
    """Return the load cases, each with the key of the job it comes from."""
    load = ground.job.load
    wrapped = ground.pad.press_direction is None
    flesh = flesh_of(ground.job.body, ground.family)
    first: LoadCase | None = None
    if wrapped:
        if load.squeeze_n:
            first = LoadCase(force_n=load.squeeze_n, posture=load.posture, flesh=flesh)
        elif load.grip_pressure_kpa > 0.0:
            first = LoadCase(
                mean_pressure_kpa=load.grip_pressure_kpa, posture=load.posture, load_factor=_GRIP_FACTOR, flesh=flesh
            )
    else:
        force = force_of(ground.job.load, load.force_n, load.share)
        if force:
            first = LoadCase(
                force_n=force,
                point_mm=_point(ground, load.point),
                posture=posture_of(ground),
                load_factor=1.0 if load.force_n is not None else SHARE_FACTOR,
                flesh=flesh,
            )
    found: list[tuple[tuple[str | int, ...], LoadCase]] = [(("load",), first)] if first else []
    for index, case in enumerate(load.cases):
        force = force_of(ground.job.load, case.force_n, load.share if case.share is None else case.share)
        if force:
            point = None if wrapped else _point(ground, case.point if case.point is not None else load.point)
            key = ("load", "cases", index)
            along, across = _parts_of_force(ground, case.direction, key)
            of_case = LoadCase(
                force_n=force * along,
                point_mm=point,
                posture=case.name,
                load_factor=1.0 if case.force_n is not None else SHARE_FACTOR,
                sideways_n=force * across,
                weight=case.weight,
                flesh=flesh,
            )
            found.append((key, of_case))
    return found


def is_loaded(job: Job) -> bool:
    """Say if a job has a load to check, before there is a part: whether `keyed_cases` will have any."""
    load = job.load
    if job.body.press_direction == "inward":
        first: float | None = load.squeeze_n or load.grip_pressure_kpa
    else:
        first = force_of(load, load.force_n, load.share)
    shares = [(case.force_n, load.share if case.share is None else case.share) for case in load.cases]
    return bool(first) or any(force_of(load, *each) for each in shares)


def missing_load(job: Job) -> str:
    """Return which key would give a load, to a job that has none."""
    load = job.load
    if job.body.press_direction == "inward":
        return "give load.grip_pressure_kpa"
    if load.share > 0.0:
        return "give load.body_mass_kg"
    return "give load.force_n, or a load.share above 0: it is 0, so the part carries none of the body's weight"


@contextmanager
def blaming_case(key: tuple[str | int, ...], case: LoadCase) -> Iterator[None]:
    """Let what is refused inside name the load case, and the job's key it comes from."""
    try:
        yield
    except PadwrightError as error:
        error.key = error.key or key
        if len(key) > 1:
            error.message = f'In the load case "{case.posture}": {error.message[:1].lower()}{error.message[1:]}'
            error.args = (f"{error.message} {error.hint}".rstrip(),)
        raise


def empty_cases(ground: Ground) -> tuple[str, ...]:
    """Return what to say of loads that press nothing."""
    load = ground.job.load
    empty = [
        f'"{case.name}"'
        for case in load.cases
        if not force_of(ground.job.load, case.force_n, load.share if case.share is None else case.share)
    ]
    notes = [
        on_change(f"The load case {name} was left out: it has no force. Give it force_n, or load.body_mass_kg.")
        for name in empty
    ]
    if load.force_n == 0.0:
        notes.insert(0, on_change("The load of 0 N (load.force_n) was left out: it presses nothing."))
    return tuple(notes)


def left_aside(ground: Ground) -> tuple[str, ...]:
    """Return what to say of a load that was given, but is not one for a part of this kind."""
    load = ground.job.load
    if ground.pad.press_direction is None:
        if load.force_n is None:
            return ()
        used = f"{load.squeeze_n:g} N of squeeze" if load.squeeze_n else f"{load.grip_pressure_kpa:g} kPa"
        return (
            on_change(
                f"The force of {load.force_n:g} N was not used: no one force acts on a part that is gripped all "
                f"around. It was checked under {used}; give load.squeeze_n or load.grip_pressure_kpa."
            ),
        )
    if load.squeeze_n is None:
        return ()
    return (
        on_change(
            f"The squeeze of {load.squeeze_n:g} N was not used: this part is pressed from one side. Give load.force_n."
        ),
    )


def posture_of(ground: Ground) -> str:
    """Return the posture's name that goes with the load: a share of the weight has one, whatever the card's default."""
    load = ground.job.load
    share: float | None = load.share
    if ground.pad.press_direction is None:
        share = None
    elif load.force_n is not None:
        share = None if load.body_mass_kg is None else load.force_n / body_force_n(load.body_mass_kg, 1.0)
    return load.posture if share is None else ground.family.posture_for(load.posture, share)


def _parts_of_force(ground: Ground, direction: Point | None, key: tuple[str | int, ...]) -> tuple[float, float]:
    """Return which share of a force presses and which pushes sideways, by its direction in the base file's axes."""
    press = ground.pad.press_direction
    if direction is None or press is None:
        return 1.0, 0.0
    x, y, z = (float(each) for each in turned(ground.scans.to_part, direction))
    wrong = wrong_direction((x, y, z), (float(press[0]), float(press[1]), float(press[2])))
    if wrong:
        with blame_key(*key, "direction"):
            raise InputError(f"{wrong[:1].upper()}{wrong[1:]}")
    along = min(float(np.dot((x, y, z), press)), 1.0)
    return along, float(np.sqrt(1.0 - along**2))


def _point(ground: Ground, point: Point | None) -> Any:
    return None if point is None else body_points(ground.scans, [point], "base")[0]
