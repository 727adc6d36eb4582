"""What the print takes, in words: mass, filament, hours, cost, and what they leave out."""

from __future__ import annotations

from ..base.estimate import Estimate
from ..base.text import figure
from ..stages.printing.print_plan import PrintPlan
from ..stages.printing.support_words import is_worth_telling


def hours_words(time: Estimate) -> str:
    """Return how long it prints as one range: from what the filament's flow allows to what travel and cooling add."""
    many, unit = (1.0, "h") if time.high >= 1.0 else (60.0, "min")
    low, high = (figure(each) for each in (many * time.low, many * time.high))
    return f"about {low} {unit}" if low == high else f"{low} to {high} {unit}"


def print_rows(plan: PrintPlan) -> tuple[tuple[str, str], ...]:
    """Return (name, words) of all that a print takes, low to high; the cost only where a price is known."""
    mass, filament = plan.mass_g, plan.filament_m
    rows = [
        ("Mass", f"{figure(mass.value)} g ({figure(mass.low)} to {figure(mass.high)})"),
        ("Filament", f"{figure(filament.value)} m ({figure(filament.low)} to {figure(filament.high)})"),
        ("Print Time", hours_words(plan.time_h)),
    ]
    if plan.cost is not None:
        rows.append(("Cost", f"{plan.cost.value:.2f} ({plan.cost.low:.2f} to {plan.cost.high:.2f})"))
    return tuple(rows)


def not_counted(plan: PrintPlan) -> str:
    """Return in a sentence what mass and hours leave out."""
    way = plan.orientation
    support = f"the supports under {figure(way.support_cm2)} cm2" if is_worth_telling(way) else "supports"
    return f"Not counted: {support}, heating up, drying the filament, prints that fail."
