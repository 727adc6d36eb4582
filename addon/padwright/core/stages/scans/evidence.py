"""What the evidence tells of the scans and their scale, and in a few lines the person: how sure a scan's size is."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...base.plain import picked
from ..stage import Results
from .captured import CapturedScans, Scan
from .scale import ScaleFit
from .scan_facts import ScanFacts


def scans_evidence(results: Results) -> dict[str, Any]:
    """Return the entries `scans` and `scale`."""
    found = results.of(CapturedScans)
    scans = {"base": found.base} | ({"impression": found.impression} if found.impression is not None else {})
    return {
        "scans": {name: _scan(scan) for name, scan in scans.items()},
        "scale": {name: _scale(scan) for name, scan in scans.items()},
    }


def _scan(scan: Scan) -> dict[str, Any]:
    return {
        **picked(scan.record, "file", "sha256"),
        "format": scan.file_format,
        "unit": scan.unit,
        "before": _facts(scan.before),
        "after": _facts(scan.after),
        "working_copy": None
        if scan.copy is None
        else picked(scan.copy, "triangles", "spacing_mm", "within_mm", "outside_mm"),
        "notes": list(scan.notes),
    }


def _facts(facts: ScanFacts) -> dict[str, Any]:
    counts = {"size_mm": facts.size, "pieces": facts.pieces, "holes": len(facts.holes)}
    return {"triangles": facts.triangles, **counts, **picked(facts, "open_edges", "closed")}


def _scale(scan: Scan) -> dict[str, Any]:
    if scan.fit is None:
        return {"factor": scan.factor, "standard_error": None, "basis": "taken over"}
    return {**scan.fit.evidence(), "factor": scan.factor, "basis": "check lengths" if scan.fit.names else "file"}


def scale_facts(fit: ScaleFit | None, factor: float, scan: str) -> tuple[str, ...]:
    """Return what the size of a scan ("base", "impression") rests on, a sentence each; no fit: it is taken over."""
    title = scan.capitalize()
    if fit is None:
        return (f"{title}: scaled by {factor:.5f}, taken over.",)
    if fit.standard_error is None:
        return (f"{title}: its size is not checked.",)
    count = len(fit.names)
    by = f"{count} check length" if count == 1 else f"{count} check lengths"
    lines = [f"{title}: scaled by {factor:.5f}, standard error {fit.standard_error:.5f}, from {by}."]
    if count > 1:
        worst = int(np.argmax(np.abs(fit.residuals_mm)))
        lines.append(f"At most {abs(fit.residuals_mm[worst]):.2f} mm are left over, at {fit.names[worst]}.")
    if fit.outlier is not None:
        lines.append(f"{fit.names[fit.outlier]} does not fit the others: measure it again.")
    return tuple(lines)
