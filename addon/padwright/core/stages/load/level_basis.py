"""What a zone's modulus holds for: how large the zone is, and how far the load squeezes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..material.fill import RegionGeometry


@dataclass(frozen=True, eq=False)
class ZoneSizes:
    """Sizes of zones and regions."""

    zones: Mapping[int, RegionGeometry] = field(default_factory=dict)  # by zone number; the pieces of a zone together
    regions: Mapping[str, RegionGeometry] = field(default_factory=dict)  # by region id
    # By zone number, the length of its borders inside the part that stand under the body.
    borders_mm: Mapping[int, float] = field(default_factory=dict)
    # Zones that lie wholly inside the part: no air touches their sides, so they need no contour.
    inside: frozenset[int] = frozenset()


@dataclass(frozen=True, eq=False)
class LevelStrains:
    """At which strain each zone's modulus is met."""

    strains: Mapping[int, float] = field(default_factory=dict)  # by zone number
    bearing: frozenset[int] = frozenset()  # zones that bear any load; the others take the mean strain of what bears
    rounds: int = 0  # how often settings were chosen and pressed; 0 without a load
    # Whether the last round found the strains that it was chosen with. False too where the pad could not carry
    # the load.
    is_settled: bool = True


@dataclass(frozen=True, eq=False)
class LevelBasis:
    """What the zones' moduli hold for."""

    sizes: ZoneSizes = field(default_factory=ZoneSizes)
    strains: LevelStrains = field(default_factory=LevelStrains)
    notes: tuple[str, ...] = ()  # what to say of contact and strains, whatever the settings

    def strain(self, zone: int) -> float:
        """Return the strain at which a zone's modulus is met."""
        return self.strains.strains[zone]
