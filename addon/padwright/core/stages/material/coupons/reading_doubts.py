"""Slips of whole readings that fit too well to be seen line by line: newtons for kg, swapped blocks, another size."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from ....base.errors import InputError
from ....base.units import N_PER_KG
from ..curves import StressCurve
from ..fill import middle_curve
from ..material_model import MaterialModel
from .coupons import EDGES_MM, Coupon, coupon_load_kg
from .readings import Readings

_LEAST_STRAIN, _MOST_STRAIN = 0.02, 0.25
"""Where a reading says how stiff a block is: less is lost in reading errors, more in how its cells shut."""

_NEWTONS = 4.0
"""Times as stiff as the card says from which on newtons are likelier than such a filament: the stiffest measured was
3.5 times its card, newtons make 9.8 times."""

_POUNDS, _NEAR_POUNDS = 2.2046, 1.25
"""Pounds for kg, and within what factor of that a solid is asked about: blocks tell it to a fifth."""

_SWAP = 1.45
"""Times off that two blocks must both be, one either way, to be taken for swapped. Own choice: structures and fill
shares alone put blocks up to 1.35 times off each other by the card (three standard deviations of the fill's law)."""

_ALIKE = 0.5, 1.3
"""From and to what share of what another edge would bear a block's difference may be for that edge to be named: the
fit takes a part of it for the material."""


def ask_for_slips(coupons: Sequence[Coupon], readings: Readings, prior: MaterialModel) -> None:
    """Stop where the readings look like newtons, or like two blocks under each other's number.

    The prior is the card's. Raises InputError when they do; it asks, and says what to do in either case.
    """
    curves = {coupon.number: middle_curve(coupon.settings, prior, coupon.geometry) for coupon in coupons}
    known = {coupon.number: coupon for coupon in coupons}
    numbers = [int(number) for number in np.unique(readings.block)]
    stiff = {(n, m): _stiffness(known[m], curves[m], readings, n) for n in numbers for m in numbers}
    read = [number for number in numbers if np.isfinite(stiff[number, number])]
    if not read:
        return
    middle = float(np.median([stiff[number, number] for number in read]))
    if middle > np.log(_NEWTONS):
        raise InputError(
            f"{readings.source}: the blocks bear {np.exp(middle):.1f} times what their filament should. Are the loads "
            f"in newtons? These are {N_PER_KG:.1f} times the kg.",
            hint="Divide load_kg by 9.81. If the loads are in kg and it is that filament, add --as-read.",
        )
    off = {number: stiff[number, number] - middle for number in read}
    for one, two in itertools.combinations(read, 2):
        soft, hard = sorted((one, two), key=lambda number: off[number])
        if not off[soft] < -np.log(_SWAP) < np.log(_SWAP) < off[hard]:
            continue
        others = [stiff[number, number] for number in read if number not in (one, two)]
        swapped = [stiff[one, two], stiff[two, one]]
        around = float(np.median(others)) if others else float(np.mean(swapped))
        if max(abs(each - around) for each in swapped) < 0.5 * min(-off[soft], off[hard]):
            raise InputError(
                f"{readings.source}: block {hard} bears {np.exp(off[hard]):.1f} times and block {soft} "
                f"{np.exp(off[soft]):.2f} times what the others say, and each what the other one should. Are their "
                "numbers swapped?",
                hint=f"Count the notches of blocks {min(one, two)} and {max(one, two)} and write the numbers anew. If "
                "they are right, add --as-read.",
            )


def _stiffness(coupon: Coupon, curve: StressCurve, readings: Readings, number: int) -> float:
    """Return the logarithm of load over what a coupon should bear, of a block's readings; NaN where none is of use."""
    own = readings.block == number
    bare = readings.height_mm[own & (readings.load_kg < 0.5)]
    tall = float(np.mean(bare)) if len(bare) else coupon.geometry.thickness_mm
    strain = 1.0 - readings.height_mm / tall
    use = np.flatnonzero(own & (readings.load_kg >= 1.0) & (strain >= _LEAST_STRAIN) & (strain <= _MOST_STRAIN))
    told = [np.log(readings.load_kg[i] / coupon_load_kg(coupon, curve, float(strain[i]))) for i in use]
    return float(np.median(told)) if told else float("nan")


def unlikely_note(solid_kpa: float, prior: MaterialModel) -> tuple[str, ...]:
    """Return a question where the fitted solid lies outside its card's band, or where pounds for kg would put it."""
    card, likely = prior.modulus_kpa, prior.solid
    times = solid_kpa / card
    if likely.low <= solid_kpa <= likely.high and not _POUNDS / _NEAR_POUNDS < times < _POUNDS * _NEAR_POUNDS:
        return ()
    return (
        f"The readings make the solid {times:.2g} times as stiff as its card says; {likely.low / card:.2g} to "
        f"{likely.high / card:.2g} times is likely. Is it that filament, and are the loads in kg, not pounds "
        f"({_POUNDS:.1f} times)?",
    )


def another_edge(coupon: Coupon, off: float, does: str) -> str:
    """Return the question after a block's edge where another size, the nearest first, explains `off` (a logarithm)."""
    sizes = [edge for edge in EDGES_MM if edge != coupon.edge_mm and (edge > coupon.edge_mm) == (off > 0.0)]
    if not sizes:
        return ""
    for edge in sorted(sizes, key=lambda each: abs(each - coupon.edge_mm)):
        more = 2.0 * np.log(edge / coupon.edge_mm)
        if _ALIKE[0] <= off / more <= _ALIKE[1]:
            return (
                f" Measure its edge too: one of {edge:g} mm instead of {coupon.edge_mm:g} mm would {does} "
                f"{100 * np.expm1(more):+.0f} %."
            )
    return ""
