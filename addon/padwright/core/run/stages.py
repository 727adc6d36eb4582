"""The list of stages: what a run goes through from end to end. It loads nothing of what the work needs."""

from __future__ import annotations

from collections.abc import Collection
from graphlib import TopologicalSorter
from importlib import import_module
from pkgutil import iter_modules

from .. import stages as rooms
from ..stages.stage import Stage


def _in_order() -> tuple[Stage, ...]:
    """Return the records of all rooms that have one, each behind those whose results it takes."""
    there = [import_module(f"{rooms.__name__}.{each.name}") for each in iter_modules(rooms.__path__) if each.ispkg]
    found: dict[str, Stage] = {room.STAGE.name: room.STAGE for room in there if hasattr(room, "STAGE")}
    order = TopologicalSorter({name: stage.after for name, stage in found.items()}).static_order()
    return tuple(found[name] for name in order)


STAGES = _in_order()
"""In the order in which each needs the ones before it."""


def stage_of(place: str, resting: Collection[str] = ()) -> str | None:
    """Return the first stage that reads a place of a job, with dots, or None where only packing does.

    Stages that have nothing to do for the job at hand, `resting` by name, are passed over.
    """
    return next((stage.name for stage in STAGES if stage.name not in resting and stage.holds(place)), None)
