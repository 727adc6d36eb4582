"""What `look` says of a scan: what the file holds, what is wrong with it, how large it is in each possible unit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..core.base.files import MOST_SCAN_BYTES, read_named
from ..core.base.plain import plain
from ..core.base.units import MM_PER_UNIT
from .look_colors import color_lines, surface_colors


def look_at(path: Path, *, is_whole: bool = True) -> tuple[dict[str, Any], list[str]]:
    """Return the facts of a scan file for JSON, and the same as lines for a person.

    With `is_whole` False the facts lack what was measured: a scan in shreds has hundreds of thousands of borders.

    Raises InputError when the file can't be read; ScanError when it is no scan.
    """
    from ..core.stages.scans.read import read_scan
    from ..core.stages.scans.scan_facts import scan_facts

    data = read_named(path, "The file", most_bytes=MOST_SCAN_BYTES, hint="Check its name and folder.")
    scan = read_scan(data, path.name)
    measured = scan_facts(scan.mesh)
    facts = {
        "file": str(path),
        "format": scan.file_format,
        "unit": scan.file_unit,
        "has_colors": scan.mesh.colors is not None,
        **(plain(measured) if is_whole else {}),
        "notes": [*scan.notes, *getattr(measured, "notes", ())],
    }
    painted, found = surface_colors(path, data, scan.draft)
    facts["colors"] = [{**plain(each), "hex": each.hex, "area": each.share * painted.area} for each in found]
    facts["dark_scale"] = plain(painted.scale)
    facts["notes"] += painted.notes
    lines = [
        f"{path}: {scan.file_format}{', with vertex colors' if scan.mesh.colors is not None else ''}",
        *(f"  {line}" for line in _size_lines(measured.size, scan.file_unit)),
        *(f"  {line}" for line in measured.lines(scan.file_unit or "units")),
        *(f"  {line}" for line in color_lines(found, painted, measured.size, scan.file_unit)),
        *(f"  note: {note}" for note in facts["notes"]),
    ]
    return facts, lines


def _size_lines(extents: Sequence[float], unit: str | None) -> list[str]:
    """Return the size in the file's unit, or in every unit it could be."""
    if unit is not None:
        shown = " x ".join(f"{extent * MM_PER_UNIT[unit]:.1f}" for extent in extents)
        return [f"size {shown} mm (the file states {unit})"]
    shown = " x ".join(f"{extent:.4g}" for extent in extents)
    lines = [f"size {shown} in the file's numbers, which state no unit:"]
    for name, mm in MM_PER_UNIT.items():
        lines.append(f"  in {name:2} that is " + " x ".join(f"{extent * mm:.4g}" for extent in extents) + " mm")
    return lines
