"""Postures of a part family: which share of the body's weight the part carries in each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .keys import key


@dataclass(frozen=True)
class Posture:
    """A posture and the shares of the body's weight that go with it."""

    name: str = key("text", "in your words", count=(1, 1))
    low_share: float = key("number", "", low=0, high=10)
    high_share: float = key("number", "", low=0, above=True, high=10)
    source: str = key("text", "where the values come from", count=(1, 1))

    def holds(self, share: float) -> bool:
        """Return whether a share goes with it; half a percent is rounding."""
        return self.low_share - 0.005 <= share <= self.high_share + 0.005


def posture_for(postures: Sequence[Posture], name: str, share: float) -> str:
    """Return the posture to speak of: the one named, unless its share is another's.

    Parameters
    ----------
    postures : sequence of Posture
        Those that the family's card knows.
    name : str
        The job's or the card's; what the card does not know is the person's own word and stays.
    share : float
        Of the body's weight.
    """
    if all(each.name != name or each.holds(share) for each in postures):
        return name
    fitting = next((each.name for each in postures if each.holds(share)), None)
    return fitting or f"bearing {100.0 * share:.0f} % of the body's weight"
