"""From no idea at all to a short list of poses: the search's schedule, coarse to fine."""

from __future__ import annotations

from functools import partial

import numpy as np

from ...base.mesh import Float
from ...base.progress import Progress, Steps
from ...base.text import counted
from ...base.together import together
from ...geometry.frames import rigid
from .cloud import make_grid
from .prepared_scans import Scans
from .search import SearchPair, SearchPoses, descend, distinct, even_rotations, joined, score

STARTS = 1500
"""Start rotations: about 22 degrees apart; the fit finds home from farther (own measurement, docs/models/align.md)."""

ROUNDS = 5
SHORT_LIST = 12
HOPELESS = 0.6
"""A pose below this share of the best one's score is dropped (own measurement, docs/models/align.md)."""


def likely_poses(scans: Scans) -> Steps[list[Float]]:
    """Return distinct likely poses of the centered clouds, best first, each (4, 4).

    Notes
    -----
    Widths follow the part: 0.18 of its root-mean-square radius is 25 mm on a seat.
    """
    yield Progress(0.0, "Getting the scans ready to compare")
    both = scans.both.first(3000)
    size, margin = both.size, 0.25 * both.size
    base, impression = together(
        [partial(make_grid, each.cloud, 500_000, margin) for each in (both.base, both.impression)]
    )
    pair = SearchPair(base, impression, both.base_at, both.impression_at, size)
    points = both.impression_at.points[:100]
    turns = even_rotations(STARTS)
    ran: list[SearchPoses] = []
    for part in range(ROUNDS):
        yield Progress(0.1 + 0.7 * part / ROUNDS, "Trying poses from everywhere")
        some = turns[part::ROUNDS]
        start = SearchPoses(some, np.zeros((len(some), 3), np.float32))
        ran.append(descend(pair, start, 120, 120, 12, 0.18 * size, 0.03 * size))
    found = _ranked(pair, joined(ran), 400, 0.022 * size)
    found = found.taken(distinct(found.taken(slice(0, 500)), points, 0.04 * size, 80))

    yield Progress(0.8, f"Looking closer at {counted(len(found), 'pose')}")
    fine = 4.0 * both.noise_mm + 0.002 * size
    found = descend(pair, found, 500, 500, 10, 0.06 * size, 0.02 * size)
    found = _ranked(pair, found, 1000, 0.015 * size)
    found = found.taken(distinct(found, points, 0.03 * size, 24))
    yield Progress(0.9, f"Looking closer at {counted(len(found), 'pose')}")
    found = descend(pair, found, 2000, 2000, 12, 0.02 * size, fine, is_close=True)
    values = score(pair, found, 3000, 3000, fine)
    order = np.argsort(-values, kind="stable")
    order = order[values[order] >= HOPELESS * values[order[0]]]
    found = found.taken(order)
    kept = distinct(found, points, 0.01 * size, SHORT_LIST)
    return [
        rigid(found.rotation[index].astype(np.float64), found.translation[index].astype(np.float64)) for index in kept
    ]


def _ranked(pair: SearchPair, poses: SearchPoses, count: int, tolerance: float) -> SearchPoses:
    return poses.taken(np.argsort(-score(pair, poses, count, count, tolerance), kind="stable"))
