"""Every change that a run makes on the disk, told before it is made: the place to stop the program at."""

from __future__ import annotations

import builtins
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHANGES = ("mkdir", "rename", "replace", "rmdir", "unlink")


@contextmanager
def told_of_changes(on_step: Callable[[str], None]) -> Iterator[None]:
    """Call `on_step` before each change: "rename new/a.stl", "write new/a.stl", "unlink old/a.stl".

    The lock and the staging folder themselves are left out: what holds the lock is what can be stopped.
    """

    def telling(what: str, change: Callable[..., Any]) -> Callable[..., Any]:
        def tell(place: Any, *more: Any, **named: Any) -> Any:
            path = Path(place)
            is_change = os.path.lexists(path) != (what == "mkdir")
            if is_change and path.name != "lock" and not path.name.endswith(".padwright-stage"):
                on_step(f"{what} {path.parent.name}/{path.name}")
            return change(place, *more, **named)

        return tell

    plain_open = builtins.open

    def open_and_tell(place: Any, mode: str = "r", *more: Any, **named: Any) -> Any:
        if mode == "xb":
            on_step(f"write {Path(place).parent.name}/{Path(place).name}")
        return plain_open(place, mode, *more, **named)

    with pytest.MonkeyPatch.context() as patch:
        for name in CHANGES:
            patch.setattr(os, name, telling(name, getattr(os, name)))
        patch.setattr(builtins, "open", open_and_tell)
        yield
