"""Whole jobs with one key at an end of what the schema allows: each ends with files or one clear error, never a bug.

The table stands in docs/job.md.
"""

from __future__ import annotations

import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import studying
from padwright.core.base.errors import PadwrightError
from padwright.core.base.progress import drain
from padwright.core.job.keys import Key, walk_keys
from padwright.core.job.read import job_from_tables
from padwright.core.job.schema import Job
from padwright.core.job.toml_lines import parse_toml, show_path
from padwright.core.run.pipeline import run_job
from support.cases import make_case
from support.writers import write_job

LONGEST_S = 240.0
"""Processor time of a whole job on coarse scans; usual is 5 s, the finest settings take a minute."""
_FILES, _BUG = "files", "BUG"
_SKIPPED = {"schema", "alignment.pose"}


def ends() -> list[tuple[str, Any]]:
    """Return every key with a number, and each end of its limits."""
    found: list[tuple[str, Any]] = []
    for path, described, _ in walk_keys(Job):
        name = show_path(path)
        if name in _SKIPPED or any(isinstance(each, Key) and each.kind == "tables" for each in _above(path)):
            continue
        if described.kind in ("number", "integer"):
            found += [(name, value) for value in _two_ends(described)]
        elif described.kind == "numbers" and described.low is not None:
            found += [(name, [value] * described.count[0]) for value in _two_ends(described)]
        elif described.kind in ("flag", "choice"):
            found += [(name, value) for value in (described.choices or (True, False))]
    return found


def _above(path: tuple[str | int, ...]) -> Iterator[Key]:
    kinds = {where: described for where, described, _ in walk_keys(Job)}
    yield from (kinds[path[:depth]] for depth in range(1, len(path)) if path[:depth] in kinds)


def _two_ends(described: Key) -> tuple[float, ...]:
    low = described.low if described.low is not None else -1e6
    low = low + 1e-9 if described.above else low
    high = described.high if described.high is not None else 1e6
    return (int(low), int(high)) if described.kind == "integer" else (low, high)


def study(seeds: range) -> studying.Finding:
    """Run one job a seed: the seed is the number of the key and of its end."""
    warnings.simplefilter("error")
    ended: list[tuple[str, str, float]] = []
    every = ends()
    with tempfile.TemporaryDirectory() as folder:
        path = write_job(make_case("seat", triangles=6_000, noise_mm=0.1), Path(folder))
        tables, _ = parse_toml(path.read_bytes(), path.name)
        # Spread over the schema, so that a sample is not the first table alone.
        order = sorted(range(len(every)), key=lambda number: (number * 37) % len(every))
        for seed in seeds:
            if seed < len(every):
                name, value = every[order[seed]]
                ended.append((f"{name} = {value}", *_run(tables, name, value, Path(folder))))
    kinds: dict[str, list[float]] = {"files": [], "refused in words": [], "a bug": []}
    for _, said, spent in ended:
        kind = "files" if said == _FILES else "a bug" if said.startswith(_BUG) else "refused in words"
        kinds[kind].append(spent)
    rows = [(name, str(len(found)), f"{max(found, default=0.0):.0f} s") for name, found in kinds.items()]
    broken = [f"{key}: {said}" for key, said, spent in ended if said.startswith(_BUG) or spent > LONGEST_S]
    claim = "; ".join(broken) or "every job ends well"
    return studying.Finding(("ends with", "jobs", "slowest, processor time"), tuple(rows), ((claim, not broken),))


def _run(tables: dict[str, Any], name: str, value: Any, folder: Path) -> tuple[str, float]:
    changed = {key: dict(each) if isinstance(each, dict) else each for key, each in tables.items()}
    *above, last = name.split(".")
    place = changed
    for key in above:
        place = place.setdefault(key, {})
    place[last] = value
    began = time.process_time()
    try:
        drain(run_job(job_from_tables(changed, folder=folder), folder))
        ended = _FILES
    except PadwrightError as error:
        ended = str(error).splitlines()[0][:160]
    except Exception as error:  # noqa: BLE001  a study of what must not come out
        told = traceback.extract_tb(error.__traceback__)[-1]
        ended = f"{_BUG} {type(error).__name__} at {Path(told.filename).name}:{told.lineno}: {error}"[:200]
    return ended, time.process_time() - began


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=120, sample=2))
