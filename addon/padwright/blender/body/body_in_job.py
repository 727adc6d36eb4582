"""The scan of the body between scene and job: its file, its landmarks, and where it lies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from mathutils import Vector

from ...core.job.schema import Job
from ...core.stages.body import AS_IT_LIES
from .. import bridge


def add_scan(part: Any, tables: dict[str, Any], name: str) -> None:
    """Let a job's tables name the scan of the body, and no scan of clay."""
    impression = tables.setdefault("impression", {})
    for gone in ("scan", "unit", "scale", "check_lengths", "pick_error_mm"):
        impression.pop(gone, None)
    tables.setdefault("body", {}).update(scan=name, scan_unit=part.impression_unit)


def pairs(part: Any, picked: Sequence[Any]) -> list[dict[str, Any]]:
    """Return the landmarks as a job has them; without three, those that hold the body where its object lies."""
    if len(picked) >= 3:
        return [
            {"name": f"Pair {number}", "body": bridge.as_typed(pair.impression), "base": bridge.as_typed(pair.base)}
            for number, pair in enumerate(picked, 1)
        ]
    both = (("body", part.impression, "impression"), ("base", part.base, "base"))
    middles = [obj.matrix_world @ (sum((Vector(each) for each in obj.bound_box), Vector()) / 8.0) for _, obj, _ in both]
    reach = 0.25 * min(max(obj.dimensions) for _, obj, _ in both)
    found = []
    for turned in ((0.0, 0.0, 0.0), (reach, 0.0, 0.0), (0.0, reach, 0.0), (0.0, 0.0, reach)):
        world = 0.5 * (middles[0] + middles[1]) + Vector(turned)  # between both, so far from neither
        places = {
            name: bridge.point_in_scan(obj, world, part.id_data, bridge.unit_mm(part, scan)).tolist()
            for name, obj, scan in both
        }
        found.append({"name": AS_IT_LIES, **{name: bridge.as_typed(at) for name, at in places.items()}})
    return found


def scan_of(job: Job) -> tuple[str, str] | None:
    """Return file and unit of the scan of the body that a job presses into virtual clay, or None."""
    if job.impression is None or job.impression.scan is not None or job.body.scan is None:
        return None
    return job.body.scan, job.body.scan_unit


def load(part: Any, job: Job, tables: dict[str, Any]) -> None:
    """Set what the part says of a scan of the body from a job, and take it out of what is kept of the job."""
    part.shows_body = scan_of(job) is not None
    if not part.shows_body:
        return
    part.impression_unit = job.body.scan_unit
    for gone in ("scan", "scan_unit", "pairs", "check_lengths"):
        tables.get("body", {}).pop(gone, None)
    for given in job.body.pairs:
        pair = part.pairs.add()
        pair.base, pair.impression = given.base, given.body
        pair.has_base = pair.has_impression = True
