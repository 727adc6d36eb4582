"""The folder that a run's files go into: one part a folder, whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from ..base.errors import InputError
from ..base.files import MOST_TABLE_BYTES, read_named
from ..stages.packing.bundle import Bundle, check_folder, mend_folder, run_document, write_bundle
from ..stages.packing.ids import commit_name

if TYPE_CHECKING:  # who only asks whose folder it is need not wait for what calculates
    from .pipeline import RunResult


def ready_folder(folder: Path, number: str) -> tuple[str, ...]:
    """Make sure before any work that a part's files will find their place; returns what was mended, for the person.

    Raises InputError when the path cannot be a folder, or holds another part; ExportError when nothing may be written
    there. It need not be there yet; nothing is made.
    """
    check_folder(folder)
    refuse_other_part(folder, number)
    return mend_folder(folder) if folder.exists() else ()


def put_result(folder: Path, number: str, result: RunResult, *, is_selection: bool = False) -> Bundle:
    """Put the files of a run and its document into a folder, all or none.

    Raises ExportError as `write_bundle` does; the folder then holds what it held before.
    """
    commit = commit_name(number, is_selection=is_selection)
    files = {**result.files, commit: run_document(result.evidence, result.files)}
    return write_bundle(folder, files, commit_name=commit)


def refuse_other_part(folder: Path, number: str) -> None:
    """Refuse a folder that holds the files of another part: one folder, one part.

    Raises InputError with the number of that part.
    """
    for path in sorted(folder.glob("*.run.json")) if folder.is_dir() else ():
        other = _number_in(path)
        if other and other != number:
            raise InputError(
                f'"{folder}" holds part {other}; this job makes part {number}, and a folder holds one part.',
                hint=f"Give another folder, e.g. --out {folder.with_name(f'{folder.name}-{number}')}",
            )


def _number_in(path: Path) -> str:
    """Return the number of the part whose run document this is; none for blocks to press and files of others."""
    try:
        document = json.loads(read_named(path, "The run document", most_bytes=MOST_TABLE_BYTES))
    except (InputError, ValueError, RecursionError):
        return ""
    part = document.get("part") if isinstance(document, dict) else None
    number = part.get("number") if isinstance(part, dict) else None
    return number if isinstance(number, str) and path.name == f"{number}.run.json" else ""
