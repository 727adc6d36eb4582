"""What the evidence tells of the scans and their scale."""

from __future__ import annotations

from typing import Any

from ..stage import Results
from .captured import CapturedScans, Scan
from .facts import ScanFacts


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
        "file": scan.record.file,
        "sha256": scan.record.sha256,
        "format": scan.read.file_format,
        "unit": scan.unit,
        "before": _facts(scan.before),
        "after": _facts(scan.after),
        "notes": list(scan.notes),
    }


def _facts(facts: ScanFacts) -> dict[str, Any]:
    return {
        "triangles": facts.triangles,
        "size_mm": facts.size,
        "pieces": facts.pieces,
        "holes": len(facts.holes),
        "open_edges": facts.open_edges,
        "closed": facts.closed,
    }


def _scale(scan: Scan) -> dict[str, Any]:
    if scan.fit is None:
        return {"factor": scan.factor, "standard_error": None, "basis": "taken over"}
    return {**scan.fit.evidence(), "factor": scan.factor, "basis": "check lengths" if scan.fit.names else "file"}
