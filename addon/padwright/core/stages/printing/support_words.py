"""What a way up asks for in supports, in the words of who prints it."""

from __future__ import annotations

from ...base.text import figure
from .orientation import BASE_SIDE_DOWN, SPOT_CM2, Orientation

_WORTH_CM2 = 1.0
"""Supported area from which it is worth a sentence: about that of a thumb (our own choice)."""


def support_words(way: Orientation) -> tuple[str, ...]:
    """Return what hangs free above the bed, how high, and what of it the body feels; nothing where little does."""
    on_body = way.body_support_cm2
    if way.support_cm2 <= _WORTH_CM2 and on_body <= SPOT_CM2:
        return ()
    side = "base side" if way.name == BASE_SIDE_DOWN else "underside"
    felt = "the body side none"
    if on_body > SPOT_CM2:
        felt = f"{on_body:.1f} cm2 of it on the body side, where supports leave marks that the body feels"
    return (
        f"The {side} is not flat: {figure(way.support_cm2)} of {figure(way.under_cm2)} cm2 need support, up to "
        f"{figure(way.support_most_mm)} mm high, {felt}.",
    )
