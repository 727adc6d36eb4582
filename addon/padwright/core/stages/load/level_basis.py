"""What a zone's modulus holds for: how large the zone is, and how far the load squeezes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..material.fill import RegionGeometry


@dataclass(frozen=True, eq=False)
class ZoneSizes:
    """Sizes of zones and regions.

    Attributes
    ----------
    zones : mapping of zone number to RegionGeometry
        The pieces of a zone together.
    regions : mapping of region id to RegionGeometry
    borders_mm : mapping of zone number to float
        Length of its borders inside the part that stand under the body.
    inside : frozenset of int
        Zones that lie wholly inside the part: no air touches their sides, so they need no contour.
    """

    zones: Mapping[int, RegionGeometry] = field(default_factory=dict)
    regions: Mapping[str, RegionGeometry] = field(default_factory=dict)
    borders_mm: Mapping[int, float] = field(default_factory=dict)
    inside: frozenset[int] = frozenset()


@dataclass(frozen=True, eq=False)
class LevelStrains:
    """At which strain each zone's modulus is met.

    Attributes
    ----------
    strains : mapping of zone number to float
    bearing : frozenset of int
        Zones that bear any of the load; the others take the mean strain of what bears.
    rounds : int
        How often settings were chosen and pressed; 0 without a load.
    is_settled : bool
        Whether the last round found the strains that it was chosen with. False too where the pad could not carry the
        load.
    """

    strains: Mapping[int, float] = field(default_factory=dict)
    bearing: frozenset[int] = frozenset()
    rounds: int = 0
    is_settled: bool = True


@dataclass(frozen=True, eq=False)
class LevelBasis:
    """What the zones' moduli hold for.

    Attributes
    ----------
    sizes : ZoneSizes
    strains : LevelStrains
    notes : tuple of str
        What to say of contact and strains, whatever the settings.
    """

    sizes: ZoneSizes = field(default_factory=ZoneSizes)
    strains: LevelStrains = field(default_factory=LevelStrains)
    notes: tuple[str, ...] = ()

    def strain(self, zone: int) -> float:
        """Return the strain at which a zone's modulus is met."""
        return self.strains.strains[zone]
