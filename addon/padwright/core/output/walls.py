"""The walls inside the pad: from the borders on its surface through its thickness, each built once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from ..errors import SolidError
from ..geometry.fields import chains
from ..mesh import Float
from .ladder import ladder, ring_ladder
from .surface_cut import Index, SurfaceCut


@dataclass(frozen=True, eq=False)
class Wall:
    """One wall between two labels.

    Attributes
    ----------
    first, second : int
        Labels, first < second.
    faces : (w, 3) int64
        Vertices of the cut surface, turned outward seen from `first`; `second` has the same faces turned over.
    """

    first: int
    second: int
    faces: Index


class UnpairedBorderError(SolidError):
    """A border on one side of the pad has no counterpart on the other.

    Attributes
    ----------
    labels : tuple of int
    place : (3,) float, mm
    """

    def __init__(self, labels: tuple[int, ...], place: Float) -> None:
        self.labels = labels
        self.place = place
        where = ", ".join(f"{value:.1f}" for value in place)
        super().__init__(
            f"A border between {len(labels)} zones near ({where}) mm on one side of the pad has no counterpart on "
            "the other.",
            hint="Move the zones' borders away from that place, or make the zones larger.",
        )


def build_walls(cut: SurfaceCut, facing: Float, press_direction: Float | None) -> list[Wall]:
    """Return the walls that close every label's share of the surface.

    Parameters
    ----------
    cut : SurfaceCut
    facing : (n,) float
        For every vertex of the cut: above 0 on the body side, below 0 on the base side, about 0 on the rim.
    press_direction : (3,) float or None
        The walls run along it; without one they run the shortest way.

    Raises
    ------
    UnpairedBorderError
        When borders of the two sides do not match.
    """
    measure = _Measure(press_direction)
    partner = _paired_junctions(cut, measure)
    walls: list[Wall] = []
    pairs = np.unique(np.stack([cut.left, cut.right], axis=1), axis=0) if len(cut.left) else np.zeros((0, 2), int)
    for first, second in pairs.tolist():
        chosen = (cut.left == first) & (cut.right == second)
        start, end = cut.start[chosen], cut.end[chosen]
        loops = _loops(start, end, partner)
        body_only, base_only = [], []
        for loop in loops:
            # the region's surface runs along the border one way, so its wall must run the other way
            nodes = np.array(loop[::-1], dtype=np.int64)
            split = _split(nodes, facing, partner)
            if split is not None:
                walls.append(Wall(first, second, ladder(*split, cut.vertices)))
            elif facing[nodes].mean() > 0:
                body_only.append(nodes)
            else:
                base_only.append(nodes)
        walls += _rings(first, second, body_only, base_only, cut.vertices, measure)
    return walls


class _Measure:
    """Squared distances that count little along the press direction, so that walls run along it."""

    _ALONG = 1e-3  # share by which the way along the press direction counts: only to decide between equals

    def __init__(self, press_direction: Float | None) -> None:
        self._scale = np.eye(3)
        if press_direction is not None:
            press = np.asarray(press_direction, dtype=np.float64)
            self._scale = np.eye(3) - (1.0 - np.sqrt(self._ALONG)) * np.outer(press, press)

    def squared(self, one: Float, others: Float) -> Float:
        """Return the squared distances from one place, (3,), to others, (q, 3)."""
        offset = (others - one) @ self._scale
        return np.asarray(np.einsum("ij,ij->i", offset, offset))

    def table(self, ones: Float, others: Float) -> Float:
        """Return all squared distances, (p, q)."""
        return np.stack([self.squared(one, others) for one in ones])


def _paired_junctions(cut: SurfaceCut, measure: _Measure) -> dict[int, int]:
    """Return for every junction the one across the pad where the same three labels meet the other way round."""
    partner: dict[int, int] = {}
    if len(cut.junction) == 0:
        return partner
    order = np.sort(cut.junction_labels, axis=1)
    # the sign of the permutation: seen from outside, a line through the pad shows the opposite turn at its other end
    sign = np.sign(
        np.prod(cut.junction_labels[:, [1, 2, 2]].astype(np.int64) - cut.junction_labels[:, [0, 0, 1]], axis=1)
    )
    for triple in np.unique(order, axis=0):
        same = (order == triple).all(axis=1)
        one, two = np.flatnonzero(same & (sign > 0)), np.flatnonzero(same & (sign < 0))
        places = cut.vertices[cut.junction]
        if len(one) != len(two):
            spare = one if len(one) > len(two) else two
            raise UnpairedBorderError(tuple(triple.tolist()), places[spare[0]])
        for row, column in zip(*linear_sum_assignment(measure.table(places[one], places[two])), strict=True):
            here, there = int(cut.junction[one[row]]), int(cut.junction[two[column]])
            partner[here], partner[there] = there, here
    return partner


def _loops(start: Index, end: Index, partner: dict[int, int]) -> list[list[int]]:
    """Return closed loops of vertices; a path that ends in a junction goes on at the junction's partner."""
    paths = chains(start, end)
    loops = [path[:-1] for path in paths if path[0] == path[-1]]
    open_paths = {path[0]: path for path in paths if path[0] != path[-1]}
    while open_paths:
        first = next(iter(open_paths))
        loop: list[int] = []
        node = first
        while node in open_paths:
            loop += open_paths.pop(node)
            node = partner[loop[-1]]
        loops.append(loop)
    return loops


def _split(nodes: Index, facing: Float, partner: dict[int, int]) -> tuple[Index, Index] | None:
    """Return the two chains of a loop that face each other across the wall, or None when it stays on one side.

    The loop in order is the first chain and then the second backwards.
    """
    side = np.sign(np.where(np.abs(facing[nodes]) < 0.3, 0.0, facing[nodes])).astype(int)
    jump = np.array(
        [partner.get(int(here)) == int(there) for here, there in zip(nodes, np.roll(nodes, -1), strict=True)]
    )
    known = np.flatnonzero(side)
    if len(known) == 0:
        return None
    changes = [
        (int(here), int(there))
        for here, there in zip(known, np.roll(known, -1), strict=True)
        if side[here] != side[there]
    ]
    if len(changes) != 2:
        if not changes:
            return None
        changes = _strongest(changes, len(nodes))
    cuts = sorted(_parting(here, there, side, jump) for here, there in changes)
    rolled = np.roll(nodes, -(cuts[0] + 1))
    size = cuts[1] - cuts[0]
    return rolled[:size], rolled[size:][::-1]


def _strongest(changes: list[tuple[int, int]], count: int) -> list[tuple[int, int]]:
    """Return the two changes of side that divide the loop into the longest stretches."""
    best = max(
        ((one, two) for one in range(len(changes)) for two in range(one + 1, len(changes))),
        key=lambda pair: min(
            (changes[pair[1]][0] - changes[pair[0]][0]) % count, (changes[pair[0]][0] - changes[pair[1]][0]) % count
        ),
    )
    return [changes[best[0]], changes[best[1]]]


def _parting(here: int, there: int, side: Index, jump: Index) -> int:
    """Return the number of the loop's edge that parts the chains between `here` and `there`, which face other ways.

    The jump between two junctions if there is one; else where the rim meets the base side: with the whole rim on one
    chain, the triangles across the corner slant into the pad instead of lying along the rim.
    """
    count = len(side)
    steps = np.arange(here, here + ((there - here) % count)) % count
    jumps = steps[jump[steps]]
    if len(jumps):
        return int(jumps[0])
    return int(steps[-1] if side[here] > 0 else steps[0])


def _rings(
    first: int, second: int, body: list[Index], base: list[Index], vertices: Float, measure: _Measure
) -> list[Wall]:
    """Join each loop on the body side with its counterpart on the base side."""
    if len(body) != len(base):
        spare = (body if len(body) > len(base) else base)[-1]
        raise UnpairedBorderError((first, second), vertices[spare].mean(axis=0))
    if not body:
        return []
    cost = np.array([[_apart(one, two, vertices, measure) for two in base] for one in body])
    return [
        Wall(first, second, ring_ladder(body[row], base[column], vertices))
        for row, column in zip(*linear_sum_assignment(cost), strict=True)
    ]


def _apart(one: Index, two: Index, vertices: Float, measure: _Measure) -> float:
    sample = vertices[one[:: max(1, len(one) // 32)]]
    return float(measure.table(sample, vertices[two]).min(axis=1).mean())
