"""The next print as a revision of its own: its name, the folder of the one before, and where its own files go."""

from __future__ import annotations

import json
from typing import Any


def can_follow(part: Any, of: str) -> bool:
    """Say if what was found of a print can go into the next: the part is that print, or the next one begun from it."""
    return bool(of) and of in (part.revision, part.trials.begun_from)


def begin(part: Any, of: str, revision: str) -> None:
    """Make the part the revision that follows a print, unless it is that already; the print's files stay.

    Raises InputError when there is no folder of this print's files.
    """
    from .. import scene

    if part.revision != of:
        return
    before = scene.target_folder(part.folder)
    tables = json.loads(part.kept) if part.kept else {}
    tables.setdefault("part", {})["previous"] = str(before)
    part.kept = json.dumps(tables)
    name = before.name.removesuffix(f"-{part.revision}")
    part.trials.begun_from, part.revision = part.revision, revision
    part.folder = str(before.with_name(f"{name}-{revision}"))
