"""The six places on the base scan that make the part's own axes: three the plane, two the line, one the origin."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ...core.base.errors import InputError

if TYPE_CHECKING:
    from ...core.job.schema import Job

# What each of the places is for; index in the list, label, tooltip.
PLACES = [
    ("0", "Plane 1", "First of the three points that make the plane"),
    ("1", "Plane 2", "Second of the three points that make the plane"),
    ("2", "Plane 3", "Third of the three points that make the plane"),
    ("3", "Line 1", "Where the line in the plane begins"),
    ("4", "Line 2", "Where the line in the plane leads to"),
    ("5", "Origin", "The point that the part is measured from"),
]


def count_set(part: Any) -> int:
    """Return how many of the places are set."""
    return sum(place.is_set for place in part.datum_places)


def missing(part: Any) -> str:
    """Return in words that places are not set, or nothing."""
    if part.datum != "points" or count_set(part) == len(PLACES):
        return ""
    return f"Part frame: {count_set(part)} of 6 points are set. Set the others, or choose As Scanned"


def table(part: Any) -> dict[str, Any]:
    """Return what a job says of the part's own axes."""
    from ..bridge import as_typed  # not on enabling: it needs numpy

    if part.datum != "points":
        return {"symmetric": part.datum == "symmetric"}
    if count_set(part) < len(PLACES):
        raise InputError(f"{count_set(part)} of the 6 points of the part frame are set.", hint="Set the others.")
    places = [as_typed(place.numbers) for place in part.datum_places]
    return {"plane": places[:3], "line": places[3:5], "point": places[5]}


def load(part: Any, job: Job) -> None:
    """Set the places from a job."""
    datum = job.datum
    part.datum = "symmetric" if datum.symmetric else "none" if datum.plane is None else "points"
    part.datum_places.clear()
    if datum.plane is not None and datum.line is not None and datum.point is not None:
        for index, numbers in enumerate((*datum.plane, *datum.line, datum.point)):
            set_place(part, index, numbers)


def set_place(part: Any, index: int, numbers: Any) -> None:
    """Set one of the places, in the base scan's own numbers."""
    while len(part.datum_places) < len(PLACES):
        part.datum_places.add()
    part.datum_places[index].numbers = [float(each) for each in numbers]
    part.datum_places[index].is_set = True
