"""Check lengths end on the scan, or they are lengths of something else."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.errors import InputError
from ...base.mesh import TriMesh
from ...base.notes import to_act_on
from ...geometry.query import nearest_of_few
from ...job.schema import CheckLength

_OFF_SHARE = 0.02
"""Of the scan's length: so far an end may lie beside the surface, e.g. in the middle of a screw hole (6 mm on 300 mm).
The distance is said all the same. A choice of ours, no source."""


def check_ends(
    lengths: Sequence[CheckLength],
    mesh: TriMesh,
    mm_per_unit: float,
    *,
    pick_error_mm: float,
    edge_mm: float,
    length_mm: float,
    table: str,
) -> tuple[str, ...]:
    """Return notes on ends of check lengths that lie beside the scan.

    Raises InputError when an end lies farther off than two edges, thrice the picking error and 2 % of the scan's
    length; it names the end, the distance and the nearest place, and blames its key.

    Parameters
    ----------
    mesh : TriMesh, mm
        As read, with all that cleaning drops: a mark may be on what the part stood on. It may have any fault.
    mm_per_unit : float
        Of the file's numbers.
    pick_error_mm, edge_mm : float, mm
        How well ends are picked, and the scan's typical edge: nearer than thrice the one or once the other is on it.
    length_mm : float
        Of the part's longest side on the scan.
    table : str
        "base" or "impression".
    """
    if not lengths:
        return ()
    what = f"{table} scan"
    ends = np.array([[length.from_point, length.to_point] for length in lengths], dtype=np.float64).reshape(-1, 3)
    found = nearest_of_few(mesh.finite, ends * mm_per_unit)
    near = max(3.0 * pick_error_mm, edge_mm)
    far = max(2.0 * edge_mm, near, _OFF_SHARE * length_mm)
    notes = []
    for number in np.flatnonzero(found.distance > near):
        index, end = int(number) // 2, ("from", "to")[int(number) % 2]
        away = float(found.distance[number])
        at, nearest = (
            ", ".join(f"{value:.6g}" for value in place) for place in (ends[number], found.point[number] / mm_per_unit)
        )
        name = lengths[index].name or f"length {index + 1}"
        said = f'The end "{end}" of check length "{name}" at ({at}) lies {away:.3g} mm away from the {what}'
        if mm_per_unit != 1.0:
            said += f", {away / mm_per_unit:.3g} in the file's numbers"
        if away > far:
            error = InputError(
                f"{said}; more than {far:.2g} mm is no end on it.",
                hint=f"Pick it again; the nearest place of the scan is ({nearest}). Is it a point of the other scan?",
            )
            error.key = (table, "check_lengths", index, end)
            raise error
        notes.append(to_act_on(f"{said}. Is that meant, e.g. the middle of a hole?"))
    return tuple(notes)
