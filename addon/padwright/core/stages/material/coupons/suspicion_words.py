"""What calibration suspects, in a person's words with its numbers."""

from __future__ import annotations

import numpy as np

from ..material_model import NINETY
from .coupons import READ_KG, Coupon
from .fitting import Fitted
from .posterior import COUNT, PRINT_SPREAD
from .suspicions import Suspicion, told_alone

_MISFIT = "Misfit: "
_WIDER = "The spread is taken wider; blocks of the percentages you will print would narrow it."
_LAWS = (
    "with its percentage the fill of this filament gets stiffer otherwise than the law says, by an exponent of",
    "with its percentage the squeeze changes at which the fill gives way, which the law does not have, by an exponent "
    "of",
)
_UNKNOWNS = (
    "",
    "the fill of this filament is as stiff as the law says times",
    "the fill gives way at the squeeze that the law says times",
    "contours wrinkle at the squeeze that the law says times",
)
_DIFFER = 1.2
"""Times `PRINT_SPREAD` from which on it is told that prints differ more."""


def suspicion_notes(found: Fitted) -> list[str]:
    """Return a sentence or two for each suspicion."""
    return [
        (_of_blocks(each, found) if each.is_of_blocks else _of_filament(each, found)) + _instead(each, found)
        for each in found.suspicions
    ]


def misfit_notes(found: Fitted) -> list[str]:
    """Return what is told of scatter beyond reading errors, and of prints that differ more than they should."""
    notes = []
    if found.scale > 1.0:
        notes.append(
            f"The readings scatter {found.scale:.1f} times as much as their heights and {READ_KG:g} kg should: their "
            "error is taken larger by that."
        )
    if found.own_sd > _DIFFER * PRINT_SPREAD:
        notes.append(
            f"The blocks differ by {100 * found.own_sd:.0f} % from one law, where prints differ by "
            f"{100 * PRINT_SPREAD:.0f} %: the spread is taken wider by that."
        )
    return notes


def _instead(each: Suspicion, found: Fitted) -> str:
    """Return what else it may be, so that nobody looks in one place only."""
    coupons, said = found.posterior.coupons, []
    for other in each.instead:
        numbers = [coupons[index].number for index in other.which] if other.is_of_blocks else []
        if other.kind == "swapped":
            said.append(f"blocks {numbers[0]} and {numbers[1]} under each other's number")
        elif other.kind == "size":
            said.append(f"block {numbers[0]} printed {other.edge_mm:g} mm wide")
        elif other.kind == "odd":
            said.append(f"block {numbers[0]} unlike the others, as when pressed too fast or printed with another fill")
        else:
            said.append("a fill that departs from the law")
    return f" It may also be {' or '.join(dict.fromkeys(said))}." if said else ""


def _of_filament(each: Suspicion, found: Fitted) -> str:
    place = each.which[0] + (COUNT if each.kind == "law" else 0)
    value = float(found.point[place])
    far = NINETY * float(np.sqrt(found.posterior.inverse(found.point)[place, place]))
    if each.kind == "law":
        is_backward = each.which[0] == 0 and value < 0.0
        swapped = (
            " Or are blocks of two percentages under each other's number? Count the notches." if is_backward else ""
        )
        told = f"{value:+.2f} ({value - far:+.2f} to {value + far:+.2f})"
        return f"{_MISFIT}{_LAWS[each.which[0]]} {told}. {_WIDER}{swapped}"
    low, middle, high = (float(np.exp(value + times * far)) for times in (-1.0, 0.0, 1.0))
    return f"{_MISFIT}{_UNKNOWNS[each.which[0]]} {middle:.2f} ({low:.2f} to {high:.2f}). {_WIDER}"


def _of_blocks(each: Suspicion, found: Fitted) -> str:
    coupons = [found.posterior.coupons[index] for index in each.which]
    if each.kind == "swapped":
        one, two = (coupon.number for coupon in coupons)
        return (
            f"Blocks {one} and {two} bear each what the other should: are their numbers swapped? Count the notches of "
            "both. Until then both are left aside."
        )
    coupon, index = coupons[0], each.which[0]
    values, sds = told_alone(found.posterior, found.point)
    value, far = float(values[index]), NINETY * float(np.hypot(sds[index], PRINT_SPREAD))
    bears = " to ".join(f"{100 * np.expm1(value + times * far):+.0f}" for times in (-1.0, 1.0))
    return (
        f"Block {coupon.number} ({coupon.words}) bears {100 * np.expm1(value):+.0f} % ({bears}) against what the "
        f"others say and is left aside. {_look(each, coupon, value)}"
    )


def _look(each: Suspicion, coupon: Coupon, value: float) -> str:
    more = (
        "was it pressed faster, its height read before half a minute was over, or printed fuller?"
        if value > 0.0
        else "does it lack walls, or has it gaps?"
    )
    again = "Weigh it and press it again; if it stays so, its fill departs from the law."
    if each.kind == "size":
        said = 100 * np.expm1(2.0 * np.log(each.edge_mm / coupon.edge_mm))
        return (
            f"Measure its edge: one of {each.edge_mm:g} mm instead of {coupon.edge_mm:g} mm would bear {said:+.0f} %. "
            f"Or {more} {again}"
        )
    return f"{more[0].upper()}{more[1:]} {again}"
