"""Work that does not depend on each other, done at the same time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import copy_context
from typing import TypeVar

Result = TypeVar("Result")
Other = TypeVar("Other")

_AT_ONCE = 2
"""Threads: arrays are worked on outside the interpreter's lock, the rest is not, so more would wait for each other."""


def together(works: list[Callable[[], Result]]) -> list[Result]:
    """Return what each work gives, in their order; the first error in this order is raised, when all have ended.

    What holds for who asks holds in each (context variables, e.g. that files read are noted).
    """
    if len(works) < 2:
        return [work() for work in works]
    with ThreadPoolExecutor(_AT_ONCE) as pool:
        return [each.result() for each in [pool.submit(copy_context().run, work) for work in works]]


def both(one: Callable[[], Result], other: Callable[[], Other]) -> tuple[Result, Other]:
    """Return what two works give, as `together` does."""
    with at_the_side(other) as others:
        mine = one()
        return mine, others()


@contextmanager
def at_the_side(work: Callable[[], Result]) -> Iterator[Callable[[], Result]]:
    """Begin work beside what is done within; what is handed out waits for its end and returns what it gives."""
    with ThreadPoolExecutor(1) as pool:
        yield pool.submit(copy_context().run, work).result
