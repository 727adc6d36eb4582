"""Whether a scan has a size that its part can have, and in which unit it would: a wrong unit is caught early."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..base.errors import InputError
from ..base.mesh import Float, TriMesh
from ..base.notes import to_act_on
from ..base.text import with_article
from ..base.units import MM_PER_UNIT
from .cards import Family


def check_plausible_size(bounds_mm: Float, family: Family, *, unit: str, what: str = "base scan") -> tuple[str, ...]:
    """Return notes on a scan's size against what its part family can be; none when it is plausible.

    The bounds, (2, 3) mm, are those with the unit that was believed, before or after the scale correction.

    Raises InputError when the size is not plausible and would be in another unit.
    """
    extents = np.sort(np.diff(np.asarray(bounds_mm, dtype=np.float64), axis=0)[0])[::-1]
    if _fits(extents, family):
        return ()
    shown = " x ".join(f"{extent:.3g}" for extent in extents)
    in_file = extents[0] / MM_PER_UNIT[unit]
    fitting = [other for other in MM_PER_UNIT if _fits(extents * _times(unit, other), family)]
    longest = family.sizes[0]
    said = (
        f"The {what} is {in_file:.4g} long in its file; read in {unit} that makes {shown} mm, and "
        f"{with_article(family.name.lower())} base is {longest.low_mm:g} to {longest.high_mm:g} mm long."
    )
    if fitting:
        middle = np.sqrt(longest.low_mm * longest.high_mm)
        likely = _nearest_unit({each: extents[0] * _times(unit, each) / middle for each in fitting})
        raise InputError(said, hint=f'The unit is likely "{likely}": set unit = "{likely}" for this scan.')
    return (to_act_on(f"{said} Check its unit and what else was scanned."),)


def fitting_units(bounds: Float, family: Family) -> tuple[str, ...]:
    """Return the units in which a scan of these bounds, (2, 3) in its file's numbers, can be a base of the family."""
    extents = np.sort(np.diff(np.asarray(bounds, dtype=np.float64), axis=0)[0])[::-1]
    return tuple(unit for unit, mm in MM_PER_UNIT.items() if _fits(extents * mm, family))


def _times(believed: str, other: str) -> float:
    """Return how many times as long a scan is when its file's unit is another than was believed."""
    return MM_PER_UNIT[other] / MM_PER_UNIT[believed]


def _nearest_unit(ratios: Mapping[str, float]) -> str:
    """Return the unit whose ratio of sizes is nearest to 1, as many times above it as below."""
    return min(ratios, key=lambda unit: abs(float(np.log(ratios[unit]))))


def check_like_size(impression: TriMesh, base: TriMesh, unit: str) -> tuple[str, ...]:
    """Hold the impression scan's size against the base's: an impression shows the base and the clay on it.

    Both are mm as their units were believed, `unit` that of the impression's file. Returned is a note where the sizes,
    as roots of the surfaces, are more than twice apart and no other unit is sure.

    Raises InputError when they differ by more than three and another unit would bring them together; of all units the
    one that brings them nearest is named.
    """
    ratio = float(np.sqrt(impression.area / max(base.area, 1e-12)))
    if 0.5 < ratio < 2.0:
        return ()
    said = f"The impression scan is {ratio:.2g} times the size of the base scan, read in {unit}."
    ratios = {other: ratio * _times(unit, other) for other in MM_PER_UNIT}
    likely = _nearest_unit(ratios)
    if likely != unit and not 1.0 / 3.0 < ratio < 3.0 and 1.0 / 3.0 < ratios[likely] < 3.0:
        raise InputError(said, hint=f'Its unit is likely "{likely}".')
    doubt = f' In "{likely}" it would be {ratios[likely]:.2g} times.' if likely != unit else ""
    return (to_act_on(f"{said}{doubt} Check its unit and what else was scanned."),)


def _fits(extents: Float, family: Family) -> bool:
    """Say if the sides, longest first, mm, lie in the family's ranges; only the upper limit holds for the shorter two.

    A scan may show a shallow part of its base only, so a thin box says nothing against a unit.
    """
    longest, *others = family.sizes
    is_long = longest.low_mm <= extents[0] <= longest.high_mm
    return bool(is_long and all(extent <= size.high_mm for extent, size in zip(extents[1:], others, strict=True)))
