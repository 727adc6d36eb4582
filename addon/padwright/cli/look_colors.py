"""What `look` says of a scan's colors: those a zone can ask for, with their share of the surface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..core.base.errors import ScanError
from ..core.base.notes import to_look_at
from ..core.base.units import MM_PER_UNIT

if TYPE_CHECKING:  # the command line starts faster without what it takes to read a scan
    from ..core.stages.scans.dark_scale import DarkScale
    from ..core.stages.scans.formats.draft import Draft
    from ..core.stages.scans.found_colors import FoundColor

_SAMPLES = 400_000
"""Of the whole surface: a seat with its table is sampled every 0.7 mm."""
_LIKELY_MM = (40.0, 1500.0)
"""Between these sizes lies what is scanned for a pad: tells which unit a file may be in."""


@dataclass(frozen=True)
class LookedColors:
    """What the surface says beside its colors."""

    area: float  # of the colored surface, in the file's own numbers
    notes: tuple[str, ...]
    scale: DarkScale | None = None  # where it goes from light to dark without a break


def surface_colors(path: Path, data: bytes, draft: Draft | None) -> tuple[LookedColors, tuple[FoundColor, ...]]:
    """Return what is to be said of a scan's colors, and the colors, that of most of it first.

    `draft` is what was read of the same bytes.
    """
    import numpy as np

    from ..core.base.mesh import TriMesh
    from ..core.stages.scans.dark_scale import dark_scale
    from ..core.stages.scans.found_colors import find_colors
    from ..core.stages.scans.painted_read import folder_beside, read_painted
    from ..core.stages.scans.surface_colors import SurfaceColors

    try:
        painted = read_painted(data, path.name, folder_beside(path.parent, path.name), draft)
        surface = SurfaceColors(painted.points, painted)
        if not painted.is_colored:
            return LookedColors(0.0, ()), ()
        usable = TriMesh(np.nan_to_num(painted.points), painted.faces).face_areas[
            surface.is_colored & surface.is_finite
        ]
        samples = surface.samples(float(np.sqrt(2.0 * usable.sum() / _SAMPLES)) or 1.0)
    except ScanError as error:
        return LookedColors(0.0, (to_look_at(f"Its colors cannot be read. {error}"),)), ()
    looked = LookedColors(float(samples.areas.sum()), painted.notes, dark_scale(samples))
    return looked, find_colors(samples)


def color_lines(
    found: Sequence[FoundColor], looked: LookedColors, extents: Sequence[float], unit: str | None
) -> list[str]:
    """Return the colors as lines, with their areas in each unit that the file may be in, and what zones may ask for."""
    if not found:
        return []
    longest = max(extents)
    likely = [each for each, mm in MM_PER_UNIT.items() if _LIKELY_MM[0] <= longest * mm <= _LIKELY_MM[1]]
    units = [unit] if unit is not None else likely
    lines = ['colors, for zones with source = "color_marks":']
    for number, each in enumerate(found):
        sizes = [_size(each.share * looked.area * MM_PER_UNIT[one] ** 2 / 100.0) for one in units]
        told = [size if one == unit else f"{size} if in {one}" for one, size in zip(units, sizes, strict=True)]
        words = f"  {each.hex}  {each.name:8} {100.0 * each.share:6.2f} %  {', '.join(told)}".rstrip()
        lines.append(words + ("  (most of it: the clay)" if number == 0 else ""))
    if len(found) == 1:
        lines.append("  no other color stands out")
    if looked.scale is not None:
        lines.append(
            f"lightness from {looked.scale.light:.0f} down to {looked.scale.dark:.0f} of 100 without a break: if foil "
            'or paper lies on it that darkens where it is pressed, for zones with source = "pressed_foil"'
        )
    return lines


def _size(cm2: float) -> str:
    return f"{cm2:.0f} cm2" if cm2 >= 100.0 else f"{cm2:.2g} cm2" if cm2 < 10.0 else f"{cm2:.1f} cm2"
