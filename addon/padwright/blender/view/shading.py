"""A viewport's own shading: changed for something that is shown, and put back afterwards."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

_before: dict[str, dict[str, Any]] = {}  # what is shown -> settings; no part of the scene, so undo leaves them


def change(shown: str, shading: Any, wanted: Mapping[str, Any]) -> None:
    """Set the shading as it is wanted, and keep what it was under the name of what is shown.

    A wanted `type` is set first and put back last: what the other settings are depends on it.
    """
    last = {name: getattr(shading, name) for name in wanted if name == "type"}
    assign(shading, {name: wanted[name] for name in last})
    _before[shown] = {**{name: getattr(shading, name) for name in wanted if name not in last}, **last}
    assign(shading, wanted)


def put_back(shown: str, shadings: Iterable[Any], plain: Mapping[str, Any] | None = None) -> None:
    """Set the shadings as they were before; as `plain` has it where that is not known any more."""
    before = _before.pop(shown, plain or {})
    for shading in shadings:
        assign(shading, before)


def assign(shading: Any, wanted: Mapping[str, Any]) -> None:
    """Set each of the wanted settings, in their order."""
    for name, value in wanted.items():
        setattr(shading, name, value)


def forget() -> None:
    """Forget what there was: another file has viewports of its own."""
    _before.clear()
