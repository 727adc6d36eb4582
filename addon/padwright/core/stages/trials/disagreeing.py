"""Where what is felt and what is predicted disagree steadily: filament, fit or flesh, by rules that are told.

A zone is stuck when its stiffness was changed the way the wearer asked by two noticeable steps or more, over two prints
or more, and more than half of the settled answers on the last of them ask for the same again. Firmness is then not what
is felt there, or it was not printed as computed.

- All zones that were answered for, two or more, are stuck the same way: one cause for all. Without pressed blocks the
  filament, whose modulus is then known from its hardness alone, to a factor of three and more; with them the flesh.
- Only some are, or some one way and some the other: the fit. What differs from place to place is how the print lies and
  how thick it came out.
- Of zones that are answered for, the one predicted to bear least is felt too firm, and the one that bears most, by a
  noticeable step, is not: the flesh, which is taken as equally thick all over.

The rules are our own choice; they suspect, and what is to be done tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import expm1

from .ideal import NOTICED_SHARE, STEP, Answer
from .learning import Learned, WornPrint
from .records import Disagreement

_LEAST_STEPS = 2.0
_LEAST_ANSWERS = 2
"""Settled answers on the last print that it takes to call a verdict steady."""

_BLOCKS = (
    "Print and press blocks: python -m padwright coupons; one block, pressed on a bathroom scale, tells the filament."
)
_SCAN = (
    "Scan the printed part on its base and compare: python -m padwright compare JOB --printed scan.ply. Look "
    "whether it lies down all around, and whether it slips."
)
_FLESH = (
    "Feel or measure how thick the flesh is over the bone there (body.flesh_thickness_mm), and change the shape rather "
    "than the firmness: a relief, or thicker clay at that place."
)


def disagreements(
    zones: Sequence[Learned], prints: Sequence[WornPrint], *, is_material_measured: bool
) -> tuple[Disagreement, ...]:
    """Return what is suspected; empty where felt and predicted go together or too little is known."""
    answered = [each for each in zones if each.settled]
    stuck = [each for each in answered if _is_stuck(each)]
    found = []
    is_one_way = len({_asked(_last_of(each)) for each in stuck}) == 1
    if is_one_way and len(stuck) == len(answered) and len(stuck) > 1:
        found.append(_of_all(stuck, is_material_measured=is_material_measured))
    elif stuck:
        found.append(_of_some(stuck, is_one_way=is_one_way))
    order = _wrong_order(answered, prints[-1])
    if order is not None and not found:
        found.append(order)
    return tuple(found)


def _is_stuck(zone: Learned) -> bool:
    settled = zone.settled
    way = _asked(_last_of(zone))
    stiffnesses = list(dict.fromkeys(each.worn for each in settled))
    before = [each for each in settled if each.worn != settled[-1].worn]
    if way == 0 or len(stiffnesses) < 2 or _asked(before) != way:
        return False
    return way * (stiffnesses[-1] - stiffnesses[0]) >= _LEAST_STEPS * STEP - 1e-9


def _asked(answers: Sequence[Answer]) -> int:
    """Return -1 where more than half of the answers, two or more, ask for softer, 1 for firmer, 0 where neither."""
    feels = [each.feels for each in answers if each.feels is not None]
    if len(feels) < _LEAST_ANSWERS:
        return 0
    return next((way for word, way in (("too firm", -1), ("too soft", 1)) if 2 * feels.count(word) > len(feels)), 0)


def _moved(zone: Learned) -> str:
    worn = [each.worn for each in zone.settled]
    share = 100.0 * expm1(worn[-1] - worn[0])
    way, word = ("softer", "too firm") if share < 0.0 else ("firmer", "too soft")
    return f'"{zone.zone}" was made {abs(share):.0f} % {way} and is still {word}'


def _of_all(stuck: Sequence[Learned], *, is_material_measured: bool) -> Disagreement:
    told, names = "; ".join(_moved(each) for each in stuck), tuple(each.zone for each in stuck)
    if is_material_measured:
        return Disagreement(
            "flesh",
            names,
            f"{told}. All zones alike, and the filament was measured on blocks: it is the flesh, then.",
            _FLESH,
        )
    return Disagreement(
        "material",
        names,
        f"{told}. All zones alike: most likely the filament, or its print, is another than its hardness says.",
        _BLOCKS,
    )


def _of_some(stuck: Sequence[Learned], *, is_one_way: bool) -> Disagreement:
    others = "while other zones are not" if is_one_way else "which no filament can be both"
    told = "; ".join(_moved(each) for each in stuck)
    return Disagreement(
        "fit",
        tuple(each.zone for each in stuck),
        f"{told}, {others}: there the print lies or came out otherwise than computed.",
        _SCAN,
    )


def _wrong_order(answered: Sequence[Learned], now: WornPrint) -> Disagreement | None:
    """Return the flesh where the zone that bears least is felt too firm, and the one that bears most is not."""
    known = [each for each in answered if each.zone in now.pressure_kpa]
    steady = {each.zone: _on_last(each) for each in known}
    steady = {zone: feels for zone, feels in steady.items() if len(feels) >= _LEAST_ANSWERS}
    if len(steady) < 2:
        return None
    ranked = sorted(steady, key=lambda zone: now.pressure_kpa[zone])
    least, most = ranked[0], ranked[-1]
    low, high = now.pressure_kpa[least], now.pressure_kpa[most]
    if high < (1.0 + NOTICED_SHARE) * low:
        return None
    firm = 2 * steady[least].count("too firm") > len(steady[least])
    if not firm or "too firm" in steady[most]:
        return None
    return Disagreement(
        "flesh",
        (least, most),
        f'"{least}" is felt as too firm though it bears least by the load check, {low:.0f} kPa, and "{most}", which '
        f"bears most, {high:.0f} kPa, is not: over a bone there is less flesh than the load check takes.",
        _FLESH,
    )


def _last_of(zone: Learned) -> list[Answer]:
    """Return the settled answers on the last print."""
    return [each for each in zone.settled if each.worn == zone.settled[-1].worn]


def _on_last(zone: Learned) -> list[str]:
    return [each.feels for each in _last_of(zone) if each.feels is not None]
