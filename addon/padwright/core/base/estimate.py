"""A number with its bounds and what it rests on; no prediction leaves the core without them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any

BASES = ("measured", "model", "literature", "user", "assumed")
"""From the best to the least: measured on the person's own parts, computed, published, stated, guessed."""


@dataclass(frozen=True)
class Estimate:
    """A value between bounds."""

    # value, low, high: 5th and 95th percentile of the stated spread of what it rests on, unless a note says otherwise.
    # The bounds hold the value: where they were worked out apart from it and miss it, be it in the last digit, they are
    # widened.
    value: float
    low: float
    high: float
    basis: str  # one of `BASES`
    note: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "low", min(self.low, self.value))
        object.__setattr__(self, "high", max(self.high, self.value))

    def as_json(self) -> dict[str, Any]:
        """Return it as a document holds it; an empty note is left out."""
        document = asdict(self)
        if not self.note:
            del document["note"]
        return document

    def scaled(self, factor: float) -> Estimate:
        """Return the estimate times a positive factor, as for another unit."""
        return Estimate(self.value * factor, self.low * factor, self.high * factor, self.basis, self.note)


def largest(whole: Estimate, parts: Iterable[Estimate]) -> Estimate:
    """Return an estimate that is the largest of its parts, with bounds that are no lower than any of theirs."""
    every = [whole, *parts]
    return replace(whole, low=max(each.low for each in every), high=max(each.high for each in every))


def least(whole: Estimate, parts: Iterable[Estimate]) -> Estimate:
    """Return an estimate that is the least of its parts, with bounds that are no higher than any of theirs."""
    every = [whole, *parts]
    return replace(whole, low=min(each.low for each in every), high=min(each.high for each in every))


def told(value: float) -> float:
    """Return a number as documents tell it, to nine digits.

    The last of a float's sixteen hang on the order in which sums were added up, and so on the number of threads. What
    is left of a sum that comes out as nothing, below 1e-12, is nothing.
    """
    return float(f"{value:.9g}") if abs(value) >= 1e-12 else 0.0


def weaker(first: str, second: str) -> str:
    """Return the lesser of two bases: what rests on both rests on that."""
    return max(first, second, key=BASES.index)
