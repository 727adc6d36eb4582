"""The steps of the tour for trials: a note in the wearer's words with a sore place, and the next print from it."""

from __future__ import annotations

from mathutils import Vector

from window_hands import Hands, Waits
from window_scene import look_from, part, pixel, places, said, seat_axes, work


def note(hands: Hands) -> Waits:
    """Fill in a note, zone by zone."""
    yield from hands.open_panel("Trials")
    yield from hands.picture("trials")
    yield from hands.press("padwright.begin_trial", wait=0.6)
    yield from hands.fill("hours_worn", "5")
    yield from hands.fill("activity", "an hour of rowing")
    yield from hands.press("feels")
    part().trials.answers[0].feels = "too firm"  # which of the four buttons was hit hangs on the sidebar's width
    part().trials.answers[1].feels = "right"
    yield from hands.picture("trials-note")


def sore_place(hands: Hands) -> Waits:
    """Click where it hurts on the pad."""
    yield from hands.press("padwright.pick_sore", wait=0.6)
    yield from look_from(hands, right=0.0, rear=-0.2, up=1.0)
    right, _, up = seat_axes()
    place = Vector(places(part().pad).mean(axis=0)) + 0.05 * right + 0.05 * up
    yield from hands.move(*pixel(hands, place))
    yield 0.4
    yield from hands.picture("trials-sore-picking", most_looks=2)
    yield from hands.tap("LEFTMOUSE", wait=0.6)
    assert part().trials.has_pain_point
    yield from hands.fill("pain", "3")
    yield from hands.picture("trials-sore")
    yield from hands.press("padwright.save_trial", wait=0.8)
    assert not part().trials.is_open, said()[-3:]
    assert "too firm" in part().trials.noted[0].said.lower()


def next_print(hands: Hands) -> Waits:
    """Have the next print proposed."""
    yield from work(hands, "padwright.propose_revision")
    assert len(part().trials.changes) == len(part().zones)
    yield from hands.picture("trials-proposal")


STEPS = (
    ("note of a trial", note),
    ("sore place", sore_place),
    ("next print", next_print),
)
