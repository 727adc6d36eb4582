"""The color of a zone, the same in every picture of a part."""

from __future__ import annotations

from ..stages.packing.thumbnail import firmness_color
from .parts import MadePart


def zone_color(part: MadePart, number: int) -> str:
    """Return the color, "#RRGGBB", of a zone of the plan by its number: of the level that it has in print.

    Folded walls change by and by from zone to zone, and where they must stand upright a zone's mean says little of it:
    there it is the level that is asked.
    """
    assert part.zones is not None
    zone, family = part.zones.zones[number], part.family
    level = family.level_of_modulus(zone.target_kpa(family))
    chosen = None if part.firmness is None or part.folded is not None else part.firmness.chosen.get(number)
    if chosen is not None:
        level = family.printed_level(level, chosen.reached_kpa)
    return firmness_color(level, [each.display_color for each in family.levels])
