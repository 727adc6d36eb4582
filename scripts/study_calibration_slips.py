"""How often calibration names a block printed in another size, swapped or pressed too fast, and names right ones.

The table stands in docs/models/calibration.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

import studying
from padwright.core.base.errors import InputError
from padwright.core.job.material_cards import load_material
from padwright.core.stages.material.coupons.calibrate import CalibrationFit, calibrate
from padwright.core.stages.material.coupons.coupon_weights import planned_mass_g, right_weight, weighed
from padwright.core.stages.material.coupons.coupons import EDGES_MM, Coupon
from padwright.core.stages.material.coupons.reading_doubts import ask_for_slips
from padwright.core.stages.material.coupons.readings import Readings
from study_calibration import CARDS, Bench, Truth, bench_of, made_up

MOST_FALSE = 0.12
"""Share of right sets of which a block may be named."""
LEAST_NAMED = {"pressed too fast, 1.6 times": 0.5}
"""Share of the slips that must be named by their block; of the smaller ones less can be told."""
FAR_APART = 1.3
"""Times by which two blocks must differ in what they bear for their swap to matter."""


@dataclass(frozen=True)
class Slip:
    """A planted slip: what is done, to which blocks (by number), and whether the blocks were weighed."""

    truth: Truth
    blocks: tuple[int, ...] = ()
    is_weighed: bool = False


def _resized(bench: Bench, rng: np.random.Generator, *, is_weighed: bool) -> Slip:
    coupon = bench.coupons[int(rng.integers(len(bench.coupons)))]
    place = EDGES_MM.index(coupon.edge_mm)
    off = int(rng.choice([-1, 1]))
    edge = EDGES_MM[place + off if 0 <= place + off < len(EDGES_MM) else place - off]
    return Slip(Truth(edges=((coupon.number, edge),)), (coupon.number,), is_weighed)


def _hurried(bench: Bench, rng: np.random.Generator, times: float, *, is_weighed: bool) -> Slip:
    number = int(rng.choice([coupon.number for coupon in bench.coupons]))
    return Slip(Truth(times=((number, times),)), (number,), is_weighed)


def _swapped(bench: Bench, rng: np.random.Generator) -> Slip:
    tenth = {block.coupon.number: block.tenth_load_kg.value for block in bench.plan.blocks}
    pairs = [(one, two) for one in tenth for two in tenth if tenth[two] > FAR_APART * tenth[one]]
    one, two = pairs[int(rng.integers(len(pairs)))]
    return Slip(Truth(swapped=(one, two)), (one, two))


PLANTED = {
    "none": lambda bench, rng: Slip(Truth()),
    "one size off": lambda bench, rng: _resized(bench, rng, is_weighed=False),
    "one size off, weighed": lambda bench, rng: _resized(bench, rng, is_weighed=True),
    "pressed too fast, 1.2 times": lambda bench, rng: _hurried(bench, rng, 1.2, is_weighed=False),
    "pressed too fast, 1.6 times": lambda bench, rng: _hurried(bench, rng, 1.6, is_weighed=False),
    "pressed too fast, 1.6 times, weighed": lambda bench, rng: _hurried(bench, rng, 1.6, is_weighed=True),
    "two swapped that differ": _swapped,
}


@dataclass
class Told:
    """How many of the draws stopped with a question, named the blocks, named the slip too, or named others alone."""

    asked: int = 0
    blocks: int = 0
    kind: int = 0
    others: int = 0


def _kind(slip: Slip, fit: CalibrationFit) -> bool:
    kinds = {each.kind for first in fit.suspicions for each in (first, *first.instead)}
    if slip.truth.edges:
        return "size" in kinds
    return "swapped" in kinds if slip.truth.swapped[0] else bool(kinds & {"odd", "size"})


def tried(bench: Bench, planted: str, seeds: range) -> Told:
    """Plant a slip into made-up readings of each seed."""
    told = Told()
    for seed in seeds:
        rng = np.random.default_rng([seed, 1])
        slip = PLANTED[planted](bench, rng)
        _, readings = made_up(bench, rng, slip.truth)
        named, kind = _named(bench, slip, readings)
        right = set(slip.blocks) <= named if slip.blocks else False
        told.asked += kind == "asked"
        told.blocks += right
        told.kind += right and kind != "other"
        told.others += bool(named) and not right
    return told


def _named(bench: Bench, slip: Slip, readings: Readings) -> tuple[set[int], str]:
    """Return the numbers of the blocks named, and "asked", "named" or "other" kinds of slip."""
    try:
        ask_for_slips(bench.coupons, readings, bench.prior)
    except InputError as error:
        return {number for number in slip.blocks if str(number) in error.hint} or {0}, "asked"
    coupons, notes, sized = bench.coupons, (), frozenset()
    if slip.is_weighed:
        density = load_material(bench.plan.blocks[0].coupon.settings.material_id).density_g_cm3
        masses = {coupon.number: _mass_g(coupon, slip, density) for coupon in coupons}
        sized = right_weight(coupons, masses, density)
        coupons, notes = weighed(coupons, masses, density)
    fit = calibrate(coupons, readings, bench.prior, sized=sized)
    told = [each for first in fit.suspicions for each in (first, *first.instead) if each.is_of_blocks]
    named = {fit.blocks[at].coupon.number for each in told for at in each.which}
    by_weight = {coupon.number for coupon in coupons if any(n.startswith(f"Block {coupon.number} ") for n in notes)}
    is_size = any("Measure its edge" in note for note in notes)
    return named | by_weight, "named" if is_size or _kind(slip, fit) else "other"


def _mass_g(coupon: Coupon, slip: Slip, density: float) -> float:
    """Return what a kitchen scale shows of a block, to 1 g."""
    edge = dict(slip.truth.edges).get(coupon.number, coupon.edge_mm)
    return max(round(planned_mass_g(coupon, density) * (edge / coupon.edge_mm) ** 2), 1)


def study(seeds: range) -> studying.Finding:
    """Plant each slip in each card's made-up readings."""
    rows, claims = [], []
    draws = len(seeds)
    for card_name in CARDS:
        bench = bench_of(card_name)
        for planted in PLANTED:
            told = tried(bench, planted, seeds)
            shares = [f"{100 * each / draws:.0f} %" for each in (told.blocks, told.kind, told.asked, told.others)]
            rows.append((card_name, planted, *shares))
            words = f"{card_name}, {planted}: named are {shares[0]}, others {shares[3]}"
            if planted == "none":
                claims.append((words, studying.can_be(draws - told.others, draws, 1.0 - MOST_FALSE)))
            elif planted in LEAST_NAMED:
                claims.append((words, studying.can_be(told.blocks, draws, LEAST_NAMED[planted])))
    head = ("filament", "slip", "its blocks named", "and the slip", "of these stopped to ask", "other blocks named")
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=200, sample=4))
