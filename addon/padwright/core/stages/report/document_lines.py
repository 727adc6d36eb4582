"""A settings document read again, and what it says in the person's words, for the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from ...base.errors import InputError
from ...base.files import MOST_TABLE_BYTES, read_named
from .setting_lines import RegionLines, body_is_up, setting_lines, shared_lines
from .words_map import WordsMap


def read_document(path: Path) -> dict[str, Any]:
    """Return a settings document (`<number>.settings.json`) as plain data.

    Raises InputError when the file cannot be read or is none.
    """
    data = read_named(path, "The settings document", most_bytes=MOST_TABLE_BYTES)
    try:
        document = json.loads(data)
        part, regions = document["part"], document["regions"]
        is_ours = isinstance(part["part_number"], str) and all(
            isinstance(each["settings"], dict) and isinstance(each["name"], str) for each in regions
        )
    except (ValueError, KeyError, TypeError, RecursionError):
        is_ours = False
    if not is_ours:
        raise InputError(
            f'"{path.name}" does not say how regions are printed.',
            hint="Name the .settings.json that a run wrote.",
        )
    found: dict[str, Any] = document
    return found


def lines_of(document: dict[str, Any], words: WordsMap) -> tuple[RegionLines, ...]:
    """Return what is typed in for each region of a settings document.

    Raises InputError when the document lacks what says how the part lies.
    """
    try:
        frame = document["coordinate_frame"]
        press = frame["press_direction"]
        turn = np.array(frame["to_bed"], dtype=np.float64).reshape(4, 4)[:3, :3]
        is_up = body_is_up(None if press is None else np.array(press, dtype=np.float64).reshape(3), turn)
        materials = {each["id"]: each["name"] for each in document["materials"]}
    except (ValueError, KeyError, TypeError):
        raise InputError(
            "The settings document does not say how the part lies on the bed.", hint="Make it again with a run."
        ) from None
    return tuple(
        RegionLines(
            str(region.get("id", region["name"])),
            region["name"],
            setting_lines(
                region["settings"],
                words,
                is_body_up=is_up,
                material=str(materials.get(region["settings"].get("material_id"), "")),
            ),
        )
        for region in document["regions"]
    )


def told_lines(document: dict[str, Any], words: WordsMap) -> list[str]:
    """Return a settings document as lines to type from: what all regions share, then region by region."""
    regions = lines_of(document, words)
    same, _ = shared_lines(regions)
    part = document["part"]
    way = document.get("print", {}).get("orientation", "")
    head = f"{part['part_number']}, revision {part.get('revision', '1')}{f', printed {way}' if way else ''}"
    own = [(line.name, line.value, "") for line in words.always]
    blocks = [
        ("For the whole part:", [*((line.name, line.told, line.where) for line in same), *own]),
        *(
            (
                f"{region.name}:",
                [(line.name, line.told, line.where) for line in region.lines if line.key not in {s.key for s in same}],
            )
            for region in regions
        ),
    ]
    wide = max((len(name) for _, rows in blocks for name, _, _ in rows), default=0)
    broad = max((len(value) for _, rows in blocks for _, value, _ in rows), default=0)
    lines = [head]
    for title, rows in blocks:
        if rows:
            lines += [
                "",
                title,
                *(f"  {name:{wide}}  {value:{broad}}  {where}".rstrip() for name, value, where in rows),
            ]
    return lines
