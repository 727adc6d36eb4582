"""What a way up asks for in supports, in the words of who prints it."""

from __future__ import annotations

from ...base.notes import to_act_on
from ...base.text import figure
from .orientation import BASE_SIDE_DOWN, SPOT_CM2, Orientation

_WORTH_CM2 = 1.0
"""Supported area from which it is worth a sentence: about that of a thumb (our own choice)."""


def is_worth_telling(way: Orientation) -> bool:
    """Say if a way up needs supports worth a sentence."""
    return way.support_cm2 > _WORTH_CM2 or way.body_support_cm2 > SPOT_CM2


def support_words(way: Orientation) -> tuple[str, ...]:
    """Return what hangs free above the bed, how high, and what of it the body feels; nothing where little does."""
    on_body = way.body_support_cm2
    if not is_worth_telling(way):
        return ()
    side = "base side" if way.name == BASE_SIDE_DOWN else "underside"
    told = (
        f"The {side} is not flat: {figure(way.support_cm2)} of {figure(way.under_cm2)} cm2 need support, up to "
        f"{figure(way.support_most_mm)} mm high, "
    )
    if on_body <= SPOT_CM2:
        return (f"{told}the body side none.",)
    return (
        to_act_on(f"{told}{on_body:.1f} cm2 of it on the body side, where supports leave marks that the body feels."),
    )
