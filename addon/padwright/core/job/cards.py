"""Part family cards: defaults, firmness levels, plausible sizes and cautions, each with its source."""

from __future__ import annotations

import itertools
import types
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np

from ..base.errors import InputError
from ..base.resources import shared_path
from .keys import key, walk_keys
from .renames import CARD, renewed
from .schema import FAMILIES, STRUCTURES, Job, Zone
from .toml_lines import Path, parse_toml
from .toml_tables import TableReader

_LEVEL_IS_MET = 1.1
SEVERITIES = ("note", "caution", "stop")
LONGEST_BRIEF = 100
"""With what stands before it, a line of a run's summary."""

_CHANNELS = {
    "open": (
        "Never on open skin; one part for one person; rinse its channels through; let it drain and dry.",
        "Its channels open at the rim: rinse them through with lukewarm water and mild soap, hold the openings lowest "
        "and shake until nothing drips, then stand it on its rim where air moves, a day or more. Nobody can look "
        "inside: print a new one when it smells or the water stays cloudy.",
    ),
    "sealed": (
        "Never on open skin; one part for one person; wipe it, never soak it: what gets in stays in.",
        "Its voids are sealed and cannot be rinsed: wipe the skins, keep it out of water, and print a new one when "
        "water is heard inside, since a skin has torn then.",
    ),
}
"""By `fill.voids`: the brief and the text on hygiene of a part with folded walls (common practice, no source)."""


@dataclass(frozen=True)
class Caution:
    """A text that belongs to a family, for people's health: to make aware, it judges no one. All are shown."""

    code: str = key("slug", "short name, upper case")
    severity: str = key("choice", "how loud", choices=SEVERITIES)
    brief: str = key("text", "the same in one line", count=(1, 1), high=LONGEST_BRIEF)
    text: str = key("text", "what the person should know", count=(1, 1))
    source: str = key("text", "where it comes from", count=(1, 1))


@dataclass(frozen=True)
class Level:
    """One firmness level and the print settings assumed for it until coupons say better."""

    level: int = key("integer", "1 softest", low=1, high=4)
    name: str = key("text", "in your words", count=(1, 1))
    target_modulus_kpa: float = key("number", "secant as printed, at the strain under the load", low=1, high=100_000)
    display_color: str = key("color", "on screen")
    bead_width_mm: float = key("number", "", low=0.1, high=5)
    layer_thickness_mm: float = key("number", "", low=0.02, high=2)
    fill_structure: str = key("choice", "", choices=STRUCTURES)
    solid_share_pct: float = key("number", "solid share of the space inside the contours", low=0, high=100)
    contour_count: int = key("integer", "", low=0, high=50)
    body_side_layer_count: int = key("integer", "", low=0, high=200)
    base_side_layer_count: int = key("integer", "", low=0, high=200)
    max_speed_mm_s: float = key("number", "", low=0, above=True, high=1000)
    source: str = key("text", "where the values come from", count=(1, 1))


@dataclass(frozen=True)
class Size:
    """Plausible extent of a base scan along its longest, middle or shortest side (of the box along the scan's axes)."""

    side: str = key("choice", "which", choices=("longest", "middle", "shortest"))
    low_mm: float = key("number", "", low=0, high=10_000)
    high_mm: float = key("number", "", low=0, above=True, high=10_000)
    source: str = key("text", "where the values come from", count=(1, 1))


@dataclass(frozen=True)
class FleshCard:
    """The flesh between bone and part, as one layer.

    Attributes
    ----------
    place : str
    thickness_mm : (low, value, high)
        Unloaded; low and high are the 5th and 95th percentile over people and places.
    modulus_kpa : (low, value, high)
        At small strain, as it is squeezed in place between bone and a wide part.
    stiffening : float
        b of stress = (E/b) (exp(b strain) - 1).
    source : str
    """

    place: str = key("text", "where on the body", count=(1, 1))
    thickness_mm: tuple[float, ...] = key("numbers", "[low, value, high], unloaded", low=0.5, high=300, count=(3, 3))
    modulus_kpa: tuple[float, ...] = key(
        "numbers", "[low, value, high], at small strain", low=0.1, high=10_000, count=(3, 3)
    )
    stiffening: float = key("number", "b of (E/b) (exp(b strain) - 1)", low=0, above=True, high=30)
    source: str = key("text", "where the values come from", count=(1, 1))


@dataclass(frozen=True)
class FoldsCard:
    """What the firmness levels are where folded walls make the part soft."""

    # Level 1 to 4, rising.
    level_moduli_kpa: tuple[float, ...] = key(
        "numbers", "secant of the core, at the strain under the load", low=0.5, high=100_000, count=(4, 4)
    )
    source: str = key("text", "where the values come from", count=(1, 1))


@dataclass(frozen=True)
class Sourced:
    """A default and where it comes from."""

    value: Any
    source: str


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


@dataclass(frozen=True)
class Family:
    """A part family card."""

    schema: int = key("integer", "", low=1, high=1)
    id: str = key("choice", "", choices=FAMILIES)
    place: int = key("integer", "in lists of families; saved scenes hold it, so it never changes", low=1, high=999)
    name: str = key("text", "", count=(1, 1))
    about: str = key("text", "", count=(1, 1))
    wraps: bool = key("flag", "wraps around its base: pressed inward, loaded without a net force")
    is_left_right: bool = key(
        "flag", "the body on it is alike on the left and on the right, so that comparing both tells"
    )
    asks_certified_gear: bool = key("flag", "touches protective gear: the job must say part.certified_gear = false")
    sizes: tuple[Size, ...] = key("tables", "longest, middle, shortest", table=Size, count=(3, 3))
    levels: tuple[Level, ...] = key("tables", "", table=Level, count=(4, 4))
    flesh: FleshCard = key("table", "flesh between bone and part", table=FleshCard)  # noqa: RUF009
    folds: FoldsCard = key("table", "levels of folded walls", table=FoldsCard)  # noqa: RUF009
    zones: tuple[Any, ...] = key("tables", "of a job that has none; kept in TOML form", table=Zone, count=(1, 20))
    cautions: tuple[Caution, ...] = key("tables", "", table=Caution, count=(1, 40))
    # Those whose share of the weight is known; none where a pressure is used.
    postures: tuple[Posture, ...] = key("tables", "", table=Posture, default=())
    # By key path, for every key of a job whose default comes from the card, in TOML form.
    defaults: Mapping[Path, Sourced] = field(default_factory=dict, kw_only=True)
    renamed: tuple[str, ...] = field(default=(), kw_only=True)  # notes of the old names in the card

    def with_fill(self, kind: str, voids: str = "open") -> Family:
        """Return the card with the moduli that its levels have in a kind of fill (`fill.kind`, `fill.voids`).

        Folded walls leave channels inside: the caution on hygiene then says how these are kept clean.
        """
        if kind != "folds":
            return self
        pairs = zip(self.levels, self.folds.level_moduli_kpa, strict=True)
        brief, care = _CHANNELS[voids]
        cautions = (
            replace(each, brief=brief, text=f"{each.text} {care}") if each.code == "HYGIENE" else each
            for each in self.cautions
        )
        levels = tuple(replace(level, target_modulus_kpa=kpa) for level, kpa in pairs)
        return replace(self, levels=levels, cautions=tuple(cautions))

    def level_name(self, level: float) -> str:
        """Return the name of a level; a fraction names both neighbors ("soft to medium")."""
        below = self.levels[int(np.floor(level)) - 1]
        above = self.levels[int(np.ceil(level)) - 1]
        return below.name if below is above else f"{below.name} to {above.name}"

    def posture_for(self, name: str, share: float) -> str:
        """Return the posture to speak of at a share of the body's weight: the one named, unless the share is another's.

        A name that the card does not know is the person's own word and stays.
        """
        if all(each.name != name or each.holds(share) for each in self.postures):
            return name
        fitting = next((each.name for each in self.postures if each.holds(share)), None)
        return fitting or f"bearing {100.0 * share:.0f} % of the body's weight"

    def target_modulus_kpa(self, level: float) -> float:
        """Return the target of a level, kPa; between two levels along the logarithm, so that steps feel even.

        Notes
        -----
        Equal ratios feel like equal steps: Weber's law (common practice, no source for pads).
        """
        moduli = np.log([each.target_modulus_kpa for each in self.levels])
        return float(np.exp(np.interp(level, [each.level for each in self.levels], moduli)))

    def level_of_modulus(self, modulus_kpa: float) -> float:
        """Return the level whose target a modulus is, two decimals; beyond the card's ends the level of that end."""
        moduli = np.log([each.target_modulus_kpa for each in self.levels])
        return round(float(np.interp(np.log(modulus_kpa), moduli, [each.level for each in self.levels])), 2)

    def printed_level(self, wished: float, modulus_kpa: float) -> float:
        """Return the level of a zone as it is printed: the one wished for where its modulus is met, else the modulus's.

        Notes
        -----
        Met is within 10 %: less than half of the 23 % by which hands tell two stiffnesses apart (Jones & Hunter 1990,
        doi 10.1007/BF00228884).
        """
        is_met = abs(np.log(modulus_kpa / self.target_modulus_kpa(wished))) <= np.log(_LEVEL_IS_MET)
        return round(wished, 4) if is_met else self.level_of_modulus(modulus_kpa)


@lru_cache(maxsize=len(FAMILIES))
def load_family(family: str) -> Family:
    """Return the card of a family.

    Raises InputError when there is no such family, or its card is damaged (file, line and key are told).
    """
    if family not in FAMILIES:
        raise InputError(f'Part family "{family}" is not known.', hint="Use one of " + ", ".join(FAMILIES) + ".")
    file = shared_path("families", f"{family}.toml")
    data, lines = parse_toml(file.read_bytes(), file.name)
    return read_family(data, lines, file.name)


def read_family(data: dict[str, Any], lines: Mapping[Path, int], name: str) -> Family:
    """Return a family from the tables of its card.

    Raises InputError when a key is unknown, missing or wrong; all are told, each with its line.
    """
    now = renewed(data, lines, CARD)
    data = now.tables
    given = data.pop("defaults", {})
    wanted = {path: described for path, described, _ in walk_keys(Job) if described.card and path != ("zones",)}
    reader = TableReader(name, now.lines, Family)
    reader.once = now.once
    for path, text in now.doubles:
        reader.fault(path, text)
    found: dict[Path, Sourced] = {}
    _read_defaults(reader, given, (), wanted, found)
    for path in wanted:
        if path not in found:
            reader.fault(("defaults", *path), "this default is missing.")
    read: Family | None = reader.read(Family, data)
    if read is not None:
        _check_order(reader, read)
    return replace(
        reader.finish(read),
        zones=tuple(types.MappingProxyType(zone) for zone in data["zones"]),
        defaults=types.MappingProxyType(found),
        renamed=tuple(f"Card {name}: {note}" for note in now.notes),
    )


def _read_defaults(
    reader: TableReader, data: Any, path: Path, known: dict[Path, Any], found: dict[Path, Sourced]
) -> None:
    """Take every `{ value, source }` of the card's defaults whose path is a key of the job."""
    for name, item in data.items() if isinstance(data, dict) else ():
        here = (*path, name)
        if here in known:
            if not isinstance(item, dict) or set(item) != {"value", "source"}:
                reader.fault(("defaults", *here), 'expected { value = ..., source = "..." }.')
            elif not isinstance(item["source"], str) or not item["source"].strip():
                reader.fault(("defaults", *here), "its source is missing.")
            elif reader.check(known[here], item["value"], ("defaults", *here)):
                found[here] = Sourced(item["value"], item["source"])
        elif isinstance(item, dict) and any(key_path[: len(here)] == here for key_path in known):
            _read_defaults(reader, item, here, known, found)
        else:
            reader.fault(("defaults", *here), "no key of a job takes its default from here.")


def _check_order(reader: TableReader, card: Family) -> None:
    if [size.side for size in card.sizes] != ["longest", "middle", "shortest"]:
        reader.fault(("sizes",), "expected longest, middle, shortest, in this order.")
    for index, size in enumerate(card.sizes):
        if size.low_mm >= size.high_mm:
            reader.fault(("sizes", index), "low_mm must be below high_mm.")
    for name, ends in (("thickness_mm", card.flesh.thickness_mm), ("modulus_kpa", card.flesh.modulus_kpa)):
        if not ends[0] <= ends[1] <= ends[2]:
            reader.fault(("flesh", name), "expected low, value, high, in this order.")
    for index, posture in enumerate(card.postures):
        if posture.low_share > posture.high_share:
            reader.fault(("postures", index), "low_share must not be above high_share.")
    if [level.level for level in card.levels] != [1, 2, 3, 4]:
        reader.fault(("levels",), "expected levels 1, 2, 3, 4, in this order.")
    moduli = [level.target_modulus_kpa for level in card.levels]
    for index, caution in enumerate(card.cautions):
        if not caution.code.replace("_", "").isalnum() or not caution.code.isupper():
            reader.fault(("cautions", index, "code"), "expected upper case letters, digits and _.")
    if any(above <= below for below, above in itertools.pairwise(moduli)):
        reader.fault(("levels",), "target_modulus_kpa must rise with the level.")
    if any(above <= below for below, above in itertools.pairwise(card.folds.level_moduli_kpa)):
        reader.fault(("folds", "level_moduli_kpa"), "the four moduli must rise.")
