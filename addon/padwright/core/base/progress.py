"""Long work as a generator of steps, so that it can be shown and cancelled without threads."""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import TypeVar

Result = TypeVar("Result")


@dataclass(frozen=True)
class Progress:
    """How far the work has come."""

    fraction: float  # share of the work done, 0 to 1
    text: str  # what is being done now, in the person's words


Steps = Generator[Progress, None, Result]


def drain(steps: Steps[Result], on_step: Callable[[Progress], None] | None = None) -> Result:
    """Run the steps to their end and return their result; `on_step` is called with each: to cancel, raise from it."""
    while True:
        try:
            step = next(steps)
        except StopIteration as end:
            return end.value
        if on_step is not None:
            on_step(step)


def nested(steps: Steps[Result], start: float, end: float) -> Steps[Result]:
    """Run `steps` as the part of a longer work between the fractions `start` and `end`."""
    while True:
        try:
            step = next(steps)
        except StopIteration as stop:
            return stop.value
        yield Progress(start + (end - start) * step.fraction, step.text)
