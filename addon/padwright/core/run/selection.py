"""Some of a part's regions packed by themselves, said to be a selection wherever a person or a program looks."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any

from ..base.errors import InputError
from ..base.notes import as_heavy
from ..job.schema import Part
from ..stages.packing.ids import selection_number
from ..stages.packing.sidecar_parts import SidecarParts
from ..stages.printing.print_plan import PrintPlan
from .parts import MadePart

_LONGEST = 200  # characters of a name in the settings document


@dataclass(frozen=True)
class Selection:
    """Which regions of which part."""

    number: str  # of the whole part
    # ids, left_out: region ids, in the order of the whole part.
    ids: tuple[str, ...]
    left_out: tuple[str, ...]
    names: tuple[str, ...]  # of the selected

    @property
    def sentence(self) -> str:
        """What the files say of themselves."""
        total = len(self.ids) + len(self.left_out)
        rest = f"; not here: {', '.join(self.left_out)}" if self.left_out else ""
        return f"A selection, {len(self.ids)} of the {total} regions of {self.number}: {', '.join(self.ids)}{rest}."

    def as_json(self) -> dict[str, Any]:
        """Return it as plain data."""
        return {"of": self.number, "regions": list(self.ids), "left_out": list(self.left_out), "text": self.sentence}

    def named(self, words: Part) -> Part:
        """Return the part's words for the selection: a number of its own, so that no file claims the part's."""
        name = f"{words.name[: _LONGEST - 12]} (selection)"
        return replace(
            words, name=name, number=selection_number(words.number), note=f"{self.sentence} {words.note}".strip()[:2000]
        )

    def planned(self, plan: PrintPlan) -> PrintPlan:
        """Return the print plan of the selected regions: the sums are theirs, what is said of the lie the part's."""
        first = "The selection lies on the bed as it does in the whole part."
        return replace(plan, notes=(first, *(as_heavy(f"Of the whole part: {note}", note) for note in plan.notes)))

    def told(self, parts: SidecarParts) -> SidecarParts:
        """Return what the settings document is made of, without what holds for the whole part alone."""
        keeps = ("mass_g", "print_time_min", "filament_m")
        return replace(
            parts,
            part=replace(parts.part, volume_cm3=None),
            contacts=[each for each in parts.contacts if {each.first, each.second} <= set(self.ids)],
            predicted_part={name: parts.predicted_part[name] for name in keeps},
            selection=self.as_json(),
            printing=parts.printing and {"of": "the whole part", **parts.printing},
        )


def selected(part: MadePart, only: Collection[str]) -> Selection:
    """Return the selection of some regions by their ids.

    Raises InputError when none is asked for, or one that there is not.
    """
    assert part.regions is not None
    there = part.regions.regions
    unknown = sorted(set(only) - {region.id for region in there})
    if unknown or not only:
        what = f'There is no region "{unknown[0]}".' if unknown else "No region was selected."
        raise InputError(what, hint=f"The part has: {', '.join(region.id for region in there)}.")
    inside = [region for region in there if region.id in only]
    left = tuple(region.id for region in there if region.id not in only)
    return Selection(part.job.part.number, tuple(each.id for each in inside), left, tuple(each.name for each in inside))
