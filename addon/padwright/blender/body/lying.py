"""Where a body without landmarks lies in the scene; only reads, as panels ask at every redraw."""

from __future__ import annotations

from typing import Any

_ROUNDED = 4  # digits of a share of the base's size, and of a cosine: 0.03 mm on a seat


def settings(part: Any) -> list[float]:
    """Return numbers that change when the body is moved or turned against the base; none where landmarks lay it."""
    complete = sum(pair.has_base and pair.has_impression for pair in part.pairs)
    if not part.shows_body or complete >= 3 or part.impression is None or part.base is None:
        return []
    base, body = part.base.matrix_world, part.impression.matrix_world
    size = max(max(part.base.dimensions), 1e-12)  # in the scene's units, as places are
    place = (base.to_quaternion().inverted() @ (body.translation - base.translation)) / size
    turn = base.to_quaternion().inverted().to_matrix() @ body.to_quaternion().to_matrix()
    return [round(each, _ROUNDED) + 0.0 for row in (place, *turn) for each in row]
