"""What a scan of the body needs before it is pressed; only reads, as panels ask at every redraw."""

from __future__ import annotations

from typing import Any


def for_body(part: Any, stage: str) -> str:
    """Return in words what a stage that lays the second scan lacks, as that shows the body or clay, or nothing."""
    if stage == "alignment" and part.shows_body:
        return 'The body is laid on the base as it is pressed: panel "Body"'
    if stage != "body":
        return ""
    if not part.shows_body:
        return 'Clay was scanned. Without any, tick "Scan of the Body" in the panel Scans'
    if part.impression is None:
        return "Choose or import the scan of the body first"
    return "Give the thickness of the virtual clay first" if part.clay_thickness_mm == 0.0 else ""
