"""From pressed blocks of folded walls to how this printer prints them: a robust fit, and what it doubts."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ....base.errors import InputError
from ....base.estimate import Estimate
from ....base.mesh import Bool, Float
from ..folds.band import fold_band
from ..folds.fold_print import folds_before
from ..material_model import NINETY, FoldsAsPrinted, MaterialModel
from .calibrate import BlockFit, Strange, block_secant
from .coupons import Coupon
from .fold_coupons import FoldCoupon, planned_fold_mass_g
from .fold_posterior import COUNT, OWN_AT, FoldPosterior, FoldReadings
from .posterior import PRINT_SPREAD
from .readings import Readings
from .robust import prints_differ, without_strange

_SHUT_SHARE = 0.85
"""Readings past this share of the strain at which neighbors touch tell of contact, not of walls, and are left out."""

_LEAST_READINGS = 4
_ASIDE = 1.0
"""How far a block's own factor may go that is left aside: standard deviation of the logarithm."""

_ODD, _SWAPPED = 16.0, 20.0
"""By how much a doubt must make minus twice the logarithm of the posterior smaller: of one block, of two numbers. By
chance a block is four standard deviations off all others once in 16,000. Own choice."""

_LOOKED_AT = 1.5
"""How many standard deviations of its own factor a block is off before a doubt about it is tried."""

_MOST_ODD = 2
_MOST_WEIGHT = 2.0
"""Times off the planned weight, beyond which it is a slip of the pen or of the unit: walls half or twice as wide."""


@dataclass(frozen=True, eq=False)
class FoldFit:
    """What the blocks show of folded walls on this printer."""

    folds: FoldsAsPrinted
    # solid, kPa, and the walls' width over the one asked for, before and after.
    solid_before: Estimate
    solid_after: Estimate
    width_before: Estimate
    width_after: Estimate
    blocks: tuple[BlockFit, ...]
    misfit: float  # root mean square of the residuals of the readings used, in units of their error
    used: int  # readings in the fit
    residuals: Float  # (n,); per reading, in units of its error; NaN where neighbors touched
    strange: tuple[Strange, ...]
    print_spread: float  # standard deviation of the logarithm by which prints differ, as the blocks show it
    odd: tuple[int, ...]  # numbers of the blocks left aside
    notes: tuple[str, ...]  # the doubts first


def calibrate_folds(
    coupons: Sequence[Coupon],
    readings: Readings,
    prior: MaterialModel,
    density_g_cm3: float,
    *,
    is_trusted: bool = False,
) -> FoldFit:
    """Fit folds as printed to the readings and weights of their blocks; a solid block beside them tells the modulus.

    Modulus and width are told apart by slopes (bending goes as the modulus and the width cubed, shortening as both
    once), by the solid block and by weights; what they leave open stands in the covariance. The largest posterior is
    sought (Gaussian priors, soft-l1 loss). Readings far off all others, and blocks that bear otherwise than the others
    say, are named and left aside; `is_trusted` blocks are not.

    Raises InputError when fewer than 4 readings of folds with load are left, when loads look like grams or newtons, or
    two blocks like swapped; SolveError when the fit does not end.
    """
    read = set(readings.block.tolist())
    coupons = [coupon for coupon in coupons if coupon.number in read]
    kept, notes = _kept(coupons, readings, prior)
    numbers = np.array([each.number for each in coupons])
    order = np.searchsorted(numbers, readings.block[kept])
    places = {int(number): place for place, number in enumerate(numbers)}
    masses = {places[number]: mass for number, mass in readings.mass_g.items() if number in places}
    _refuse_weights(coupons, masses, density_g_cm3)
    given = FoldReadings(order, readings.load_kg[kept], readings.height_mm[kept], readings.height_sd_mm[kept], masses)
    whole = FoldPosterior(coupons, given, prior, density_g_cm3, np.full(len(coupons), PRINT_SPREAD))
    if not is_trusted:
        _ask_for_units(whole, readings)
    used, fit, point, odd = _fitted(whole, readings.source, is_trusted=is_trusted)
    scale = fit.noise_scale(point)
    if scale > 1.0:
        fit = _again(fit, read=given.only(used, scale))
        point = fit.solve(point)
    own_sd, fit, point = _prints_differ(fit, point, odd)
    covariance = fit.inverse(point)[:COUNT, :COUNT]
    covariance = 0.5 * (covariance + covariance.T)
    covariance[3, 3] += own_sd**2  # a new print differs as these blocks do from each other
    folds = FoldsAsPrinted(point[:COUNT], covariance, *_pressed(coupons, given, odd))
    residuals, expected = _again(whole, own_sd=fit.own_sd).residuals(point)
    strange = tuple(
        Strange(int(kept[at]), readings.place(kept[at]), float(residuals[at]), float(expected[at]))
        for at in np.flatnonzero(~used)
    )
    own = np.exp(point[OWN_AT : OWN_AT + len(coupons)])
    calibrated = replace(prior, folds=folds)
    blocks = tuple(
        BlockFit(each, _secant(each, prior), _secant(each, calibrated), float(own[at]), int((order == at).sum()))
        for at, each in enumerate(coupons)
    )
    full = np.full(len(readings.block), np.nan)
    full[kept] = residuals
    doubts = _odd_notes(coupons, point, fit, odd)
    notes = [*doubts, *_spread_notes(scale, own_sd), *_width_notes(folds), *readings.notes, *notes]
    notes += [
        f"{each.place}: block {readings.block[each.index]} under {readings.load_kg[each.index]:g} kg does not fit: "
        f"{each.expected_kg:.2f} kg were expected at {readings.height_mm[each.index]:g} mm. It is left out."
        for each in strange
    ]
    return FoldFit(
        folds, *_told(prior, folds), blocks, float(np.sqrt(np.mean(residuals[used] ** 2))), int(used.sum()), full,
        strange, own_sd, tuple(coupons[at].number for at in odd), tuple(notes),
    )  # fmt: skip


def _kept(coupons: Sequence[Coupon], readings: Readings, prior: MaterialModel) -> tuple[np.ndarray, list[str]]:
    shut = {
        each.number: fold_band(each.walls, prior).value.densification
        for each in coupons
        if isinstance(each, FoldCoupon)
    }
    pressed = {each.number: (each.geometry.thickness_mm, each.pressed_mm) for each in coupons}
    tall, core = np.array([pressed[number] for number in readings.block.tolist()]).T
    strain = (tall - readings.height_mm) / core
    is_shut = strain > _SHUT_SHARE * np.array([shut.get(number, 1.0) for number in readings.block.tolist()])
    notes = [
        f"{readings.place(index)}: block {readings.block[index]} is pressed by {100 * strain[index]:.0f} % of its "
        "walls' height, neighbors touch; the reading is left out."
        for index in np.flatnonzero(is_shut)
    ]
    kept = np.flatnonzero(~is_shut)
    folded = np.isin(readings.block[kept], list(shut))
    loaded = int((folded & (readings.load_kg[kept] > 0.0)).sum())
    if loaded < _LEAST_READINGS:
        raise InputError(
            f"{readings.source} has {loaded} readings with load on blocks of folds; {_LEAST_READINGS} are the least.",
            hint="Press every block at three loads or more, to less than half of its height.",
        )
    return kept, notes


def _refuse_weights(coupons: Sequence[Coupon], masses: Mapping[int, float], density_g_cm3: float) -> None:
    for at, mass in masses.items():
        coupon = coupons[at]
        if not isinstance(coupon, FoldCoupon):
            continue
        planned = planned_fold_mass_g(coupon, density_g_cm3)
        if not planned / _MOST_WEIGHT <= mass <= planned * _MOST_WEIGHT:
            raise InputError(
                f"Block {coupon.number} cannot weigh {mass:g} g: by its size it has {planned:.1f} g.",
                hint="Write mass_g in grams, of one block alone, beside its own number.",
            )


def _ask_for_units(whole: FoldPosterior, readings: Readings) -> None:
    """Stop where all loads look like grams or newtons."""
    load, _, _ = whole.expected(whole.start)
    use = ~whole.is_bare & (load > 0.0)
    if not use.any():
        return
    times = float(np.median(whole.read.load_kg[use] / load[use]))
    for low, high, unit, factor in ((100.0, np.inf, "grams", 1000.0), (5.5, 100.0, "newtons", 9.80665)):
        if low < times <= high:
            raise InputError(
                f"{readings.source}: the blocks bear {times:.0f} times what their filament should. Are the loads in "
                f"{unit}? These are {factor:g} times the kg.",
                hint=f"Divide load_kg by {factor:.4g}. If the loads are in kg and it is that filament, add --as-read.",
            )


def _again(fit: FoldPosterior, *, read: FoldReadings | None = None, own_sd: Float | None = None) -> FoldPosterior:
    return FoldPosterior(
        fit.coupons,
        fit.read if read is None else read,
        fit.prior,
        fit.density,
        fit.own_sd if own_sd is None else own_sd,
    )


def _fitted(
    whole: FoldPosterior, source: str, *, is_trusted: bool
) -> tuple[np.ndarray, FoldPosterior, Float, tuple[int, ...]]:
    """Return which readings are used, the fit of these, its point, and the blocks left aside."""
    used, fit, point = _without_strange(whole, whole.solve())
    odd: list[int] = []
    while not is_trusted and len(odd) < _MOST_ODD and len(whole.coupons) - len(odd) > 2:
        cost = fit.cost(point)
        off = np.abs(point[OWN_AT : OWN_AT + len(whole.coupons)]) / PRINT_SPREAD
        off[odd] = 0.0
        if off.max() < _LOOKED_AT:
            break
        if not odd:
            _ask_for_swap(fit, cost, source)
        gains = {}
        for index in range(len(whole.coupons)):
            own_sd = fit.own_sd.copy()
            own_sd[index] = _ASIDE
            if off[index] >= _LOOKED_AT:
                other = _again(fit, own_sd=own_sd)
                gains[index] = cost - other.cost(other.solve(point))
        worst = max(gains, key=lambda index: gains[index])
        if gains[worst] < _ODD:
            break
        odd.append(worst)
        own_sd = whole.own_sd.copy()
        own_sd[odd] = _ASIDE
        whole = _again(whole, own_sd=own_sd)
        used, fit, point = _without_strange(whole, whole.solve(point))
    return used, fit, point, tuple(odd)


def _ask_for_swap(fit: FoldPosterior, cost: float, source: str) -> None:
    """Stop where two blocks of folds fit far better under each other's number."""
    for one, two in itertools.combinations(fit.folded, 2):
        order = fit.read.order.copy()
        order[fit.read.order == one], order[fit.read.order == two] = two, one
        masses = {{one: two, two: one}.get(index, index): mass for index, mass in fit.read.mass_g.items()}
        other = _again(fit, read=replace(fit.read, order=order, mass_g=masses))
        gain = cost - other.cost(other.solve())
        if gain > _SWAPPED:
            numbers = fit.coupons[one].number, fit.coupons[two].number
            raise InputError(
                f"{source}: blocks {numbers[0]} and {numbers[1]} bear each what the other one should. Are their "
                "numbers swapped?",
                hint=f"Count the teeth of blocks {numbers[0]} and {numbers[1]} and write the numbers anew. If they are "
                "right, add --as-read.",
            )


def _without_strange(whole: FoldPosterior, point: Float) -> tuple[Bool, FoldPosterior, Float]:
    def refit(used: Bool, point: Float) -> tuple[FoldPosterior, Float]:
        fit = _again(whole, read=whole.read.only(used))
        return fit, fit.solve(point)

    return without_strange(whole, point, refit)


def _prints_differ(fit: FoldPosterior, point: Float, odd: Sequence[int]) -> tuple[float, FoldPosterior, Float]:
    """Return how far prints differ by what the blocks say, those left aside apart, and the fit with that."""

    def refit(fit: FoldPosterior, own_sd: float, point: Float) -> tuple[FoldPosterior, Float]:
        fit = _again(fit, own_sd=np.maximum(fit.own_sd, own_sd))
        return fit, fit.solve(point)

    return prints_differ(fit, point, OWN_AT + np.setdiff1d(np.arange(len(fit.coupons)), odd), refit)


def _pressed(
    coupons: Sequence[Coupon], read: FoldReadings, odd: Sequence[int]
) -> tuple[tuple[float, float], tuple[float, float], float]:
    """Return the slopes and widths of the blocks that count, and the strain up to which all of these were pressed."""
    good = [(at, each) for at, each in enumerate(coupons) if isinstance(each, FoldCoupon) and at not in odd]
    deepest = [
        float((each.geometry.thickness_mm - read.height_mm[read.order == at]).max()) / each.pressed_mm
        for at, each in good
    ]
    slopes, widths = ([getattr(each.shape, name) for _, each in good] for name in ("slope_deg", "wall_mm"))
    return (min(slopes), max(slopes)), (min(widths), max(widths)), float(np.clip(min(deepest), 0.0, 1.0))


def _told(prior: MaterialModel, folds: FoldsAsPrinted) -> tuple[Estimate, Estimate, Estimate, Estimate]:
    """Return solid before and after, kPa, and width before and after, times what was asked for."""

    def told(unknowns: Float, covariance: Float, at: int, unit: float, basis: str) -> Estimate:
        value, far = float(unknowns[at]), NINETY * float(np.sqrt(covariance[at, at]))
        middle, low, high = (unit * float(np.exp(value + times * far)) for times in (0.0, -1.0, 1.0))
        return Estimate(middle, low, high, basis)

    before = folds_before(prior)
    after = folds.unknowns, folds.covariance
    return (
        prior.solid, told(*after, 0, prior.modulus_kpa, "measured"),
        told(*before, 1, 1.0, "assumed"), told(*after, 1, 1.0, "measured"),
    )  # fmt: skip


def _secant(coupon: Coupon, model: MaterialModel) -> Estimate:
    """Return a block's secant modulus at 10 % strain, kPa; of a solid one by the modulus that folds told, if any."""
    if isinstance(coupon, FoldCoupon):
        return fold_band(coupon.walls, model).modulus_kpa
    usual = block_secant(coupon, model)
    if model.folds is None:
        return usual
    value = usual.value * float(np.exp(model.folds.unknowns[0] - model.unknowns[0]))
    far = float(np.exp(NINETY * np.sqrt(model.folds.covariance[0, 0])))
    return Estimate(value, value / far, value * far, "measured")


def _odd_notes(coupons: Sequence[Coupon], point: Float, fit: FoldPosterior, odd: Sequence[int]) -> list[str]:
    notes = []
    for index in odd:
        value = float(point[OWN_AT + index])
        far = NINETY * float(np.sqrt(fit.inverse(point)[OWN_AT + index, OWN_AT + index]))
        bears = " to ".join(f"{100 * np.expm1(value + times * far):+.0f}" for times in (-1.0, 1.0))
        look = (
            "Was it pressed faster, or read before half a minute was over? Do walls touch, or strings hold them?"
            if value > 0.0
            else "Did a wall come loose from a skin, or has it gaps?"
        )
        notes.append(
            f"Block {coupons[index].number} ({coupons[index].words}) bears {100 * np.expm1(value):+.0f} % ({bears}) "
            f"against what the others say and is left aside. {look} Weigh it and press it again."
        )
    return notes


def _spread_notes(scale: float, own_sd: float) -> list[str]:
    notes = []
    if scale > 1.0:
        notes.append(
            f"The readings scatter {scale:.1f} times as much as their heights and loads should: their error is taken "
            "larger by that."
        )
    if own_sd > 1.2 * PRINT_SPREAD:
        notes.append(
            f"The blocks differ by {100 * own_sd:.0f} % from one law, where prints differ by {100 * PRINT_SPREAD:.0f} "
            "%: the spread is taken wider by that."
        )
    return notes


_WIDTH_OFF = 0.1


def _width_notes(folds: FoldsAsPrinted) -> list[str]:
    width, sd = float(folds.unknowns[1]), float(np.sqrt(folds.covariance[1, 1]))
    if abs(width) < _WIDTH_OFF or abs(width) < NINETY * sd:
        return []
    return [
        f"Walls come out {100 * np.expm1(width):+.0f} % wide ({100 * np.expm1(width - NINETY * sd):+.0f} to "
        f"{100 * np.expm1(width + NINETY * sd):+.0f}): look at the flow in your print program. The card "
        "holds the walls as you print them; calibrate anew when you change it."
    ]
