"""The files that a job names: found by the schema, made whole paths, or gathered beside the job."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ..base.files import MOST_SCAN_BYTES, read_named
from .keys import keys_of
from .material_cards import is_shared_material
from .schema import Job


def named_files(
    tables: Mapping[str, Any], table: type = Job, kind: str = "file"
) -> Iterator[tuple[dict[str, Any], str]]:
    """Yield the table and the key of every name of a file, or of a "folder", in a job's tables.

    Cards that ship are no files.
    """
    for name, (_, described, _) in keys_of(table).items():
        value = tables.get(name)
        if described.kind == kind and isinstance(value, str):
            if not (name == "card" and is_shared_material(value)):
                assert isinstance(tables, dict)
                yield tables, name
        elif described.table is not None and value:
            for each in value if isinstance(value, list) else [value]:
                yield from named_files(each, described.table, kind)


def with_whole_paths(tables: dict[str, Any], folder: Path) -> None:
    """Make every name of a file or folder in a job's tables a whole path, in place; they start from `folder`."""
    for table, key in [*named_files(tables), *named_files(tables, kind="folder")]:
        table[key] = str((folder / table[key]).resolve())


def gather_files(tables: dict[str, Any], there: Mapping[str, bytes]) -> dict[str, bytes]:
    """Read every file that a job's tables name by a whole path, and name it in place as one beside the job.

    Returned are the files read, by name. Each keeps its own; of two with one name, or with one of `there`, the files
    that lie beside the job already, the second gets a number.

    Raises InputError when a file cannot be read.
    """
    found: dict[str, bytes] = {}
    names: dict[Path, str] = {}
    for table, key in named_files(tables):
        path = Path(table[key])
        if not path.is_absolute():
            continue
        if path not in names:
            put_back = "Put it back, or load a job without it."
            data = read_named(path, "The file", most_bytes=MOST_SCAN_BYTES, hint=put_back)
            names[path] = _free_name(path.name, {*there, *found})
            found[names[path]] = data
        table[key] = names[path]
    return found


def _free_name(name: str, taken: set[str]) -> str:
    """Return the name, or with a number before its ending where it is taken; upper and lower case count alike."""
    folded = {each.casefold() for each in taken}
    stem, dot, ending = name.rpartition(".") if "." in name[1:] else (name, "", "")
    tries = (name if number == 1 else f"{stem}-{number}{dot}{ending}" for number in range(1, 10_000))
    return next(each for each in tries if each.casefold() not in folded)
