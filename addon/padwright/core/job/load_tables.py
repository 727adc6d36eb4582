"""The job's tables of the load and of what tuning aims for."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .keys import key

_Point = tuple[float, float, float]

LOADS = ("first", "worst", "mean")

STEEPEST_DEG = 45.0
"""A force further off the press direction would need a friction above 1 to hold: our limit."""


@dataclass(frozen=True)
class Case:
    """One more load case."""

    name: str = key("text", "posture", count=(1, 1), example="leaning forward")
    share: float | None = key("number", "share of body weight", low=0, high=10, default=None)
    force_n: float | None = key("number", "force instead", low=0, high=50_000, default=None)
    point: _Point | None = key("point", "where it acts, on the base scan", default=None)
    direction: _Point | None = key(
        "direction", "which way the force pushes, base file's axes; left out: the press direction", default=None
    )
    weight: float = key(
        "number", "how much it counts in the mean of the loads; the first counts 1", low=0, above=True, high=100,
        default=1.0,
    )  # fmt: skip


@dataclass(frozen=True)
class Load:
    """How hard the body bears."""

    body_mass_kg: float | None = key(
        "number",
        "mass of the body; without a load nothing is said of the feel",
        low=1,
        high=400,
        default=None,
    )
    share: float = key("number", "share of the body's weight on the part", low=0, high=10, card=True)
    posture: str = key("text", "name of the posture", count=(1, 1), card=True)
    force_n: float | None = key("number", "instead of mass and share", low=0, high=50_000, default=None)
    point: _Point | None = key("point", "where it acts, on the base scan", default=None)
    grip_pressure_kpa: float = key("number", "mean pressure, wrap-around parts", low=0, high=1000, card=True)
    squeeze_n: float | None = key("number", "total squeeze instead", low=0, high=50_000, default=None)
    cases: tuple[Case, ...] = key("tables", "more postures", default=(), table=Case)


@dataclass(frozen=True)
class Cap:
    """The most pressure that a zone may bear."""

    zone: str = key("text", "name of a zone", count=(1, 1), example="rest")
    most_pressure_kpa: float = key(
        "number", "its peak pressure is no more, even with the worst of what is not known", low=0, above=True,
        high=100_000, example=20.0,
    )  # fmt: skip


@dataclass(frozen=True)
class Target:
    """What tuning aims for."""

    goal: str = key("choice", "what zones' settings are chosen for", choices=("levels", "even", "relieve"), card=True)
    loads: str = key(
        "choice", "which of several loads it serves: the first alone, the worst, or their mean by weight",
        choices=LOADS, default="worst",
    )  # fmt: skip
    relieve: tuple[str, ...] = key("texts", "zones to relieve", default=())
    relief_share: float = key(
        "number", "share of an even pad's load that a relieved zone may carry", low=0, above=True, high=1, card=True
    )
    caps: tuple[Cap, ...] = key("tables", "most pressure under single zones", default=(), table=Cap, count=(0, 100))
    peak_for_mass_pct: float = key(
        # Our choice: small, so that mass decides between pads that are nearly as even.
        "number", "how much higher the peak may get for 10 % less mass", low=0, high=100, default=0.5,
    )  # fmt: skip
    peak_for_time_pct: float = key(
        "number", "how much higher the peak may get for 10 % less print time", low=0, high=100, default=0.5
    )
    sinkage_limit_mm: float = key("number", "the body sinks in no further", low=0, above=True, high=200, card=True)
    least_bottoming_margin: float = key("number", "at least", low=0, high=1, card=True)
    level_step_limit: float = key("number", "between neighbors", low=0.1, high=3, card=True)
    greatest_modulus_ratio: float = key("number", "between neighbors", low=1, above=True, high=100, card=True)


def degrees_between(first: _Point, second: _Point) -> float:
    """Return the angle between two directions."""
    along = math.fsum(a * b for a, b in zip(first, second, strict=True)) / math.hypot(*first) / math.hypot(*second)
    return math.degrees(math.acos(max(-1.0, min(1.0, along))))


def wrong_direction(direction: _Point, press: _Point | str) -> str:
    """Return what is wrong with the direction of a load on a part that is pressed so; "" where nothing is known to be.

    Parameters
    ----------
    direction, press : (3,) float or str
        In the same axes; a press direction in words is "inward", or not known yet.
    """
    if press == "inward":
        return "a part that is gripped all around is pressed from all sides; leave it out."
    if isinstance(press, str):
        return ""
    off = degrees_between(direction, press)
    if off <= STEEPEST_DEG:
        return ""
    turned = " Turn all three signs around: the force points into the pad." if off >= 180.0 - STEEPEST_DEG else ""
    return (
        f"it lies {off:.0f} degrees off the press direction; {STEEPEST_DEG:g} are the most, as beyond that a body "
        f"slides rather than presses.{turned}"
    )
