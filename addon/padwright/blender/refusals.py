"""Why a stage was refused last, and what to do: kept until what it rests on changes, or it succeeds.

Kept for the session, not in the file: a stage that was refused changes nothing in the scene, and so nothing to undo.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from ..core.base.errors import PadwrightError
from . import reporting, state
from .stage_memory import memory


class RivalPoses(NamedTuple):
    """The poses between which the scans cannot tell."""

    candidates: tuple[Any, ...]
    to_part: Any  # (4, 4), from the base scan's frame to the part frame, mm


class Refusal(NamedTuple):
    """What was said, the inputs it was said of, and where poses were the reason, which."""

    message: str
    hint: str
    inputs: str
    poses: RivalPoses | None = None


_kept: dict[tuple[int, str], Refusal] = {}


def note(part: Any, stage: str, error: PadwrightError, at_fault: str = "") -> None:
    """Keep why a stage was refused; with `at_fault` it is an earlier one that was, and both panels say it."""
    if at_fault in state.STAGES and at_fault != stage:
        _keep(part, at_fault, error.message, error.hint, _poses(part, error))
        _keep(part, stage, f"{state.TITLES[at_fault].capitalize()} first. {error.message}", error.hint)
    else:
        _keep(part, stage, error.message, error.hint, _poses(part, error) if stage == "alignment" else None)


def _keep(part: Any, stage: str, message: str, hint: str, poses: RivalPoses | None = None) -> None:
    message, hint = reporting.in_window(message), reporting.in_window(hint)
    _kept[part.id_data.session_uid, stage] = Refusal(message, hint, _inputs(part, stage), poses)


def _poses(part: Any, error: PadwrightError) -> RivalPoses | None:
    """Return the poses that an error offers, else those offered before: one that was taken may be refused as well."""
    candidates, reached = getattr(error, "candidates", ()), memory().reached
    if candidates and reached is not None:
        return RivalPoses(candidates, reached.to_part)
    before = of(part, "alignment")
    return before.poses if before is not None else None


def poses(part: Any) -> RivalPoses | None:
    """Return the poses to choose between, as long as the scans are those they are of."""
    found = of(part, "alignment")
    return found.poses if found is not None else None


def of(part: Any, stage: str) -> Refusal | None:
    """Return why a stage was refused when it was last tried, if its inputs are still those."""
    found = _kept.get((part.id_data.session_uid, stage))
    return found if found is not None and found.inputs == _inputs(part, stage) else None


def drop(part: Any, stage: str) -> None:
    """Forget why a stage that has succeeded, and those after it, were refused."""
    names = (*state.STAGES, "export")
    for name in names[names.index(stage) :]:
        _kept.pop((part.id_data.session_uid, name), None)


def forget() -> None:
    """Forget all: another file was opened."""
    _kept.clear()


def _inputs(part: Any, stage: str) -> str:
    last = stage if stage in state.STAGES else state.STAGES[-1]
    more = (part.number, part.part_name, part.revision, part.kept, part.folder if stage == "export" else "")
    return state.all_settings(part, last)[last] + repr(more)
