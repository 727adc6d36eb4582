"""What runs left in their folders, to be compared byte by byte."""

from __future__ import annotations

from pathlib import Path


def files_without_times(folder: Path) -> dict[str, bytes]:
    """Return what a run left in a folder: of the run document the evidence alone, byte by byte, without its times."""
    found = {path.name: path.read_bytes() for path in sorted(folder.iterdir())}
    return {name: evidence_bytes(data) if name.endswith(".run.json") else data for name, data in found.items()}


def evidence_bytes(document: bytes) -> bytes:
    """Return the evidence of a run document: what stands before the line of its hash, as any program would cut it."""
    before, line, _ = document.partition(b'\n "evidence_sha256": "')
    assert line
    return before
