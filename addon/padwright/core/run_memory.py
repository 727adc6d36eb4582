"""A part made stage by stage with memory: only what depends on a change is worked out again."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from .families import load_family, material_of
from .job_schema import Job
from .pipeline import (
    align,
    capture_base,
    capture_impression,
    check_load,
    choose_firmness,
    cut,
    lay_on_datum,
    plan,
    read_body_side,
    shape_pad,
    tune,
)
from .progress import Progress, Steps, nested
from .run_firmness import check_wishes
from .run_parts import Part

STAGES = ("scans", "alignment", "reading", "pad", "zones", "regions", "load")
"""In the order in which each needs the ones before it."""

_MOST_KEPT = 21  # three whole parts; the stages of one share their arrays


class StageMemory:
    """Remembers the part after each stage, by everything that the stage and those before it depend on."""

    def __init__(self) -> None:
        self._parts: OrderedDict[str, Part] = OrderedDict()
        self.worked_out: list[str] = []

    def key(self, job: Job, folder: Path, stage: str) -> str:
        """Return a text that changes when, and only when, something the stage depends on changes.

        Parameters
        ----------
        job : Job
        folder : Path
            Where the job's file names start from; the files' contents count, not their names' dates.
        stage : str
            One of `STAGES`.
        """
        digest = hashlib.sha256()
        for name in STAGES[: STAGES.index(stage) + 1]:
            for part in _depends_on(job, folder, name):
                digest.update(part if isinstance(part, bytes) else repr(part).encode())
                digest.update(b"\0")
        return digest.hexdigest()

    def known(self, job: Job, folder: Path, stage: str) -> Part | None:
        """Return the part after a stage when it is remembered, with this job's own words in it."""
        key = self.key(job, folder, stage)
        found = self._parts.get(key)
        if found is None:
            return None
        self._parts.move_to_end(key)
        return replace(found, job=job, family=load_family(job.part.family), material=material_of(job.material, folder))

    def reach(self, job: Job, folder: Path, stage: str) -> Steps[Part]:
        """Bring the part to a stage by the same functions as a whole run; what is remembered is not done again.

        Parameters
        ----------
        job : Job
        folder : Path
        stage : str
            One of `STAGES`.

        Raises
        ------
        PadwrightError
            As the stages do; what was reached before it stays remembered.
        """
        check_wishes(job)
        self.worked_out = []
        wanted = STAGES[: STAGES.index(stage) + 1]
        part: Part | None = None
        for number, name in enumerate(wanted):
            found = self.known(job, folder, name)
            if found is None:
                steps = _WORK[name](part, job, folder)
                found = yield from nested(steps, number / len(wanted), (number + 1) / len(wanted))
                self._keep(self.key(job, folder, name), found)
                self.worked_out.append(name)
            part = found
        assert part is not None
        yield Progress(1.0, "done")
        return part

    def _keep(self, key: str, part: Part) -> None:
        self._parts[key] = part
        while len(self._parts) > _MOST_KEPT:
            self._parts.popitem(last=False)


def _depends_on(job: Job, folder: Path, stage: str) -> list[object]:
    """Return what a stage takes beside the stage before it."""
    if stage == "scans":
        given = job.impression
        scale = (given.unit, given.scale, given.check_lengths, given.pick_error_mm) if given else None
        scans = [job.base.scan, *([given.scan] if given else [])]
        base = (job.base.unit, job.base.check_lengths, job.base.pick_error_mm)
        return [job.part.family, base, scale, job.datum, *(_content(folder, scan) for scan in scans)]
    if stage == "alignment":
        return [job.alignment, job.seed]
    if stage == "reading":
        given = job.impression
        return [job.body, replace(given, scan="", check_lengths=()) if given else None]
    if stage == "pad":
        return [job.pad, *([_content(folder, job.pad.envelope)] if job.pad.envelope else [])]
    if stage == "zones":
        return [job.zones, job.blend, *(_content(folder, zone.file) for zone in job.zones if zone.file)]
    if stage == "regions":
        return [job.regions, job.printer.bead_width_mm]
    return [job.material, job.printer, job.limits, job.load, job.target, _content(folder, job.material.card)]


def _content(folder: Path, name: str) -> bytes:
    """Return the digest of a file, or of nothing when it cannot be read: the stage itself tells that."""
    try:
        return hashlib.sha256((folder / name).read_bytes()).digest()
    except OSError:
        return b"unreadable"


def _scans(part: Part | None, job: Job, folder: Path) -> Steps[Part]:
    family = load_family(job.part.family)
    base = yield from nested(capture_base(job, family, folder), 0.0, 0.5)
    impression = None
    if job.impression is not None:
        impression = yield from nested(capture_impression(job, base, folder), 0.5, 1.0)
    base, to_part = lay_on_datum(job, base)
    return Part(
        job=job, family=family, material=material_of(job.material, folder), base=base, impression=impression,
        to_part=to_part,
    )  # fmt: skip


def _stage(work: Callable[[Part, Path], Steps[Part]]) -> Callable[[Part | None, Job, Path], Steps[Part]]:
    def steps(part: Part | None, job: Job, folder: Path) -> Steps[Part]:
        assert part is not None
        return (yield from work(part, folder))

    return steps


def _reading(part: Part, folder: Path) -> Steps[Part]:
    yield Progress(0.0, "reading the impression")
    return read_body_side(part)


def _zones(part: Part, folder: Path) -> Steps[Part]:
    yield Progress(0.0, "planning the zones")
    return plan(part, folder)


def _load(part: Part, folder: Path) -> Steps[Part]:
    yield Progress(0.0, "choosing the settings")
    part = choose_firmness(part)
    if part.job.target.goal != "levels":
        yield Progress(0.2, "tuning the zones to the load")
        part = tune(part)
    yield Progress(0.8, "checking the load")
    return check_load(part)


_WORK: dict[str, Callable[[Part | None, Job, Path], Steps[Part]]] = {
    "scans": _scans,
    "alignment": _stage(lambda part, folder: align(part)),
    "reading": _stage(_reading),
    "pad": _stage(shape_pad),
    "zones": _stage(_zones),
    "regions": _stage(lambda part, folder: cut(part)),
    "load": _stage(_load),
}
