"""What the table of a batch tells of a part: its numbers, what must be looked at first, a small picture."""

from __future__ import annotations

import base64
import io
import zipfile
import zlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..core.base.notes import Weight, weight_of
from ..core.geometry.raster import png_bytes
from ..core.run.summary_notes import notes_of
from ..core.stages.packing.threemf import THUMBNAIL_PART

if TYPE_CHECKING:
    from ..core.run.pipeline import RunResult

_SHRINK = 3
"""Pixels of the 3MF's picture that become one: of 384 a side 128 are left."""


def part_facts(result: RunResult) -> dict[str, Any]:
    """Return what the table tells of a part, from the evidence of its run; plain data, None where it does not say."""
    found = result.evidence
    notes = [weight_of(each) for each in notes_of(result.part)]
    load = found.get("load") or {}
    alignment = found.get("alignment") or {}
    return {
        "number": found["part"]["number"],
        "name": found["part"]["name"],
        "revision": found["part"]["revision"],
        "family": result.part.family.name,
        "regions": len(found["regions"]),
        "volume_cm3": round(found["pad"]["volume_cm3"], 2),
        "mass_g": _value(found["print"], "mass_g"),
        "print_hours": _value(found["print"], "time_h"),
        "largest_pressure_kPa": _value(load, "largest_pressure_kPa"),
        "sinkage_mm": _value(load, "sinkage_mm"),
        "bottoming_margin": _value(load, "bottoming_margin"),
        "alignment_rms_mm": _rounded(alignment.get("rms_mm")),
        "before_printing": [str(each) for each in found["before_printing"]],
        "changes": [
            str(note) for note, weight in zip(notes_of(result.part), notes, strict=True) if weight is Weight.CHANGED
        ],
        "to_look_at": notes.count(Weight.LOOK),
    }


def small_picture(files: Mapping[str, bytes]) -> str:
    """Return the picture of a part from its 3MF, smaller, as a PNG in base64; "" where it has none."""
    model = next((data for name, data in files.items() if name.endswith(".3mf")), None)
    if model is None:
        return ""
    with zipfile.ZipFile(io.BytesIO(model)) as package:
        if THUMBNAIL_PART not in package.namelist():
            return ""
        pixels = _own_pixels(package.read(THUMBNAIL_PART))
    if pixels is None:
        return ""
    height, width = (side - side % _SHRINK for side in pixels.shape[:2])
    blocks = pixels[:height, :width].reshape(height // _SHRINK, _SHRINK, width // _SHRINK, _SHRINK, 3)
    small = np.round(blocks.mean(axis=(1, 3))).astype(np.uint8)
    return base64.b64encode(png_bytes(small)).decode("ascii")


def _own_pixels(png: bytes) -> NDArray[np.uint8] | None:
    """Return the (h, w, 3) pixels of a PNG as `png_bytes` writes it; None for any other."""
    chunks: dict[bytes, bytes] = {}
    at = 8
    while at < len(png):
        length = int.from_bytes(png[at : at + 4], "big")
        chunks[png[at + 4 : at + 8]] = png[at + 8 : at + 8 + length]
        at += length + 12
    head = chunks.get(b"IHDR", b"")
    if head[8:] != bytes([8, 2, 0, 0, 0]):
        return None
    width, height = int.from_bytes(head[:4], "big"), int.from_bytes(head[4:8], "big")
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), dtype=np.uint8).reshape(height, 1 + 3 * width)
    if (rows[:, 0] != 1).any():
        return None
    steps = rows[:, 1:].reshape(height, width, 3)
    return np.cumsum(steps, axis=1, dtype=np.uint8)


def _value(table: Mapping[str, Any], name: str) -> float | None:
    found = table.get(name)
    return _rounded(found.get("value") if isinstance(found, dict) else found)


def _rounded(value: object) -> float | None:
    return float(f"{value:.4g}") if isinstance(value, int | float) else None
