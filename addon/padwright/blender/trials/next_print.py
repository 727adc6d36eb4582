"""The next print as a revision of its own: its name, the folder of the one before, and where its own files go."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def can_follow(part: Any, of: str) -> bool:
    """Say if what was found of a print can go into the next: the part is that print, or the next one begun from it."""
    return bool(of) and of in (part.revision, part.trials.begun_from)


def next_free(part: Any) -> str:
    """Return what the next revision is called: one whose files do not lie beside this print's already.

    Raises InputError when there is no folder of this print's files.
    """
    from ...core.stages.trials.proposing import next_name
    from .. import scene

    before = scene.target_folder(part.folder)
    tried = [part.revision]
    while len(tried) == 1 or _folder(before, part.revision, tried[-1]).exists():
        tried.append(next_name(part.revision, tried))
    return tried[-1]


def _folder(before: Path, of: str, revision: str) -> Path:
    """Return where the files of the next revision go: beside the folder of the one before."""
    return before.with_name(f"{before.name.removesuffix(f'-{of}')}-{revision}")


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
    part.folder = str(_folder(before, part.revision, revision))
    part.trials.begun_from, part.revision = part.revision, revision
