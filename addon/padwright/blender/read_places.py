"""Which stage reads each of the part's properties and lists, as the core lists it."""

from __future__ import annotations

import json
from functools import cache, lru_cache
from typing import Any

from ..core.run.stages import STAGES, stage_of
from . import job_places

FOLDED = ("folds", "shape")  # stages of a part of folded walls alone


def resting_stages(part: Any) -> frozenset[str]:
    """Return the stages that have nothing to do for the part: what they alone would read outdates nothing."""
    found = set() if part.fill_kind == "folds" else set(FOLDED)
    if not (part.shows_body or _keeps_body(part.kept)):
        found.add("body")
    if not part.mat_file.strip():
        found.add("mats")
    return frozenset(found)


@lru_cache(maxsize=1)
def _keeps_body(kept: str) -> bool:
    """Say if what is kept of an opened job names a scan of the body beside one of clay."""
    return bool(kept and json.loads(kept).get("body", {}).get("scan"))


@cache
def read_by_stages(
    resting: frozenset[str],
) -> tuple[dict[str, list[str]], dict[str, list[tuple[str, tuple[str, ...]]]]]:
    """Return the part's properties and lists by the stage that reads their place in a job, as the core lists it."""
    names = [stage.name for stage in STAGES]
    properties: dict[str, list[str]] = {name: [] for name in names}
    lists: dict[str, list[tuple[str, tuple[str, ...]]]] = {name: [] for name in names}
    for name, path in job_places.PLACES.items():
        stage = stage_of(".".join(path), resting)
        if stage is not None:
            properties[stage].append(name)
    for place, rows, columns in job_places.LISTS:
        stage = stage_of(".".join(place), resting)
        if stage is not None:
            lists[stage].append((rows, columns))
    return properties, lists
