"""All notes of a run in one list, from whichever stage they come."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from ..base.notes import Weight, as_heavy, heaviest_first, weight_of
from ..stages.body.pressed import PressedBody

if TYPE_CHECKING:
    from .packing import Packed
    from .parts import MadePart


def acting_notes(part: MadePart, packed: Packed) -> list[str]:
    """Return all that must be acted on before printing, also what load check, tuning and print plan say of it."""
    said: list[str] = [*packed.plan.notes]
    firmness = part.firmness
    if firmness is not None:
        said += firmness.felt
        said += [*firmness.tuning.unmet, *firmness.tuning.beyond] if firmness.tuning else []
    return [each for each in heaviest_first([*said, *notes_of(part)]) if weight_of(each) is Weight.ACT]


def notes_of(part: MadePart) -> list[str]:
    """Return the notes of all stages; those of one weight are in the order in which they matter to a reader."""
    scans = [scan for scan in (part.base, part.impression) if scan is not None]
    # What the check lengths have to say comes first: every other number rests on the size.
    found: list[str] = [note for scan in scans if scan.fit and scan.fit.names for note in scan.fit.notes]
    found += part.notes
    for stage in (part.mat, part.pad, part.regions, part.zones, part.folded):
        found += stage.notes if stage is not None else ()
    found += _of_firmness(part)
    for known in (part.alignment, part.find(PressedBody), part.reading, *scans):
        found += known.notes if known is not None else ()
    return found


def _of_firmness(part: MadePart) -> Iterable[str]:
    firmness = part.firmness
    if firmness is None:
        return
    yield from firmness.notes
    told: set[str] = set()
    for number, (case, result) in enumerate(firmness.loads):
        for note in result.notes:
            if note not in told:
                yield as_heavy(f'Under "{case.posture}": {note}', note) if number else note
            told.add(note)
    if firmness.tuning is not None:
        yield from firmness.tuning.notes
