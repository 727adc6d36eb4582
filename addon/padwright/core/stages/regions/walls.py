"""The walls inside the pad: from the borders on its surface through its thickness, each built once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree

from ...base.errors import SolidError
from ...base.mesh import Bool, Float
from ...base.text import counted, placed
from ...geometry.fields import chains
from ...geometry.through import STEEP
from .ladder import ladder, ring_ladder
from .surface_cut import Index, SurfaceCut

_ASTRAY = 0.1
"""A border keeps to its side of the pad if no more of its points than this share lie beyond the rim: near a rim it
reaches over in places, while one that runs through the pad shows about as much on either side. Common practice."""


@dataclass(frozen=True, eq=False)
class Wall:
    """One wall between two labels."""

    # Both: labels, first < second.
    first: int
    second: int
    # (w, 3) int64: vertices of the cut surface, turned outward seen from `first`; `second` has the same faces turned
    # over.
    faces: Index


@dataclass(frozen=True, eq=False)
class Fault:
    """Labels whose border on one side has no counterpart on the other, a mesh vertex beside it, its place (3,) mm."""

    labels: tuple[int, ...]
    vertex: int
    place: Float


class UnpairedBorderError(SolidError):
    """Borders on one side of the pad have no counterpart on the other.

    Attributes
    ----------
    faults : list of Fault
    """

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        where = placed(faults[0].place, 1)
        super().__init__(
            f"At {counted(len(faults), 'place')}, the first near {where} mm, a border between zones on one side of the "
            "pad has no counterpart on the other.",
            hint="Move the zones' borders away from there, or make the zones larger.",
        )


def build_walls(cut: SurfaceCut, facing: Float, front: Float) -> list[Wall]:
    """Return the walls that close every label's share of the surface.

    Raises UnpairedBorderError when borders of the two sides do not match.

    Parameters
    ----------
    facing : (n,) float
        For every vertex of the cut: above 0 on the body side, below 0 on the base side, about 0 on the rim.
    front : (n, 3) float, mm
        For every vertex of the cut the place on the body side in front of it: what belongs together through the pad
        has the same.
    """
    partner = _paired_junctions(cut, facing, front)
    walls: list[Wall] = []
    faults: list[Fault] = []
    pairs = np.unique(np.stack([cut.left, cut.right], axis=1), axis=0) if len(cut.left) else np.zeros((0, 2), int)
    for first, second in pairs.tolist():
        chosen = (cut.left == first) & (cut.right == second)
        start, end = cut.start[chosen], cut.end[chosen]
        loops = _loops(start, end, partner)
        body_only, base_only = [], []
        across = []
        for loop in loops:
            # the region's surface runs along the border one way, so its wall must run the other way
            nodes = np.array(loop[::-1], dtype=np.int64)
            jumps = nodes[_is_jump(nodes, partner)]
            if len(jumps) > 2:
                # a wall lies between two lines through the pad at most: the sides show the neighbors in another order
                faults.append(Fault((first, second), int(cut.parents[jumps[0], 0]), cut.vertices[jumps[0]]))
            elif len(jumps) or not _is_one_sided(nodes, facing):
                across.append(nodes)
            elif facing[nodes].mean() > 0:
                body_only.append(nodes)
            else:
                base_only.append(nodes)
        rings, spare = _paired_rings(body_only, base_only, front)
        walls += [Wall(first, second, ring_ladder(one, two, cut.vertices)) for one, two in rings]
        for nodes in across + spare:
            split = _split(nodes, facing, partner)
            tangled = None if split is None else _tangled(split, facing)
            if split is None or tangled is not None:
                vertex = _astray(nodes, cut, facing, front) if tangled is None else tangled
                faults.append(Fault((first, second), int(cut.parents[vertex, 0]), cut.vertices[vertex]))
            else:
                walls.append(Wall(first, second, ladder(*split, cut.vertices)))
    if faults:
        raise UnpairedBorderError(faults)
    return walls


def _paired_junctions(cut: SurfaceCut, facing: Float, front: Float) -> dict[int, int]:
    """Return for every junction the one across the pad where the same three labels meet the other way round."""
    partner: dict[int, int] = {}
    faults: list[Fault] = []
    order = np.sort(cut.junction_labels, axis=1)
    # the sign of the permutation: seen from outside, a line through the pad shows the opposite turn at its other end
    sign = np.sign(np.prod(cut.junction_labels[:, [1, 2, 2]] - cut.junction_labels[:, [0, 0, 1]], axis=1))
    places, side = cut.vertices[cut.junction], _side(facing[cut.junction])
    for triple in np.unique(order, axis=0):
        same = (order == triple).all(axis=1)
        one, two = np.flatnonzero(same & (sign > 0)), np.flatnonzero(same & (sign < 0))
        cost = _squared(front[cut.junction[one]], front[cut.junction[two]])
        # a line through the pad does not end on the side it started from
        cost = cost + np.where(side[one][:, None] * side[two][None] > 0, 1e6, 0.0)
        rows, columns = linear_sum_assignment(cost)
        for row, column in zip(rows, columns, strict=True):
            here, there = int(cut.junction[one[row]]), int(cut.junction[two[column]])
            partner[here], partner[there] = there, here
        spare = [*np.delete(one, rows), *np.delete(two, columns)]
        beside = cut.parents[cut.junction, 0]
        faults += [Fault(tuple(triple.tolist()), int(beside[index]), places[index]) for index in spare]
    if faults:
        raise UnpairedBorderError(faults)
    return partner


def _side(facing: Float) -> Index:
    """Return 1 where the pad faces the body, -1 where it faces the base, 0 on its rim."""
    return np.sign(np.where(np.abs(facing) < STEEP, 0.0, facing)).astype(np.int64)


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
    side = _side(facing[nodes])
    jump = _is_jump(nodes, partner)
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


def _tangled(split: tuple[Index, Index], facing: Float) -> int | None:
    """Return a vertex of a chain that faces the other way than its chain does over more than a tenth of it, if any."""
    for chain in split:
        side = _side(facing[chain])
        is_other = side * np.sign(side.sum()) < 0
        if is_other.mean() > _ASTRAY:
            return int(chain[np.flatnonzero(is_other)[is_other.sum() // 2]])
    return None


def _is_jump(nodes: Index, partner: dict[int, int]) -> Bool:
    """Return where a loop goes from a junction to its counterpart across the pad, (p,)."""
    after = np.roll(nodes, -1)
    return np.array([partner.get(int(here)) == int(there) for here, there in zip(nodes, after, strict=True)])


def _parting(here: int, there: int, side: Index, jump: Bool) -> int:
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


def _is_one_sided(nodes: Index, facing: Float) -> bool:
    """Say if a loop lies on one side of the pad but for what reaches over the rim here and there."""
    side = _side(facing[nodes])
    known = np.count_nonzero(side)
    return bool(min((side > 0).sum(), (side < 0).sum()) <= _ASTRAY * known)


def _paired_rings(body: list[Index], base: list[Index], front: Float) -> tuple[list[tuple[Index, Index]], list[Index]]:
    """Return each loop on the body side with its counterpart on the base side, and the loops that have none."""
    cost = np.array([[_apart(one, two, front) for two in base] for one in body])
    rows, columns = linear_sum_assignment(cost.reshape(len(body), len(base)))
    spare = [body[index] for index in range(len(body)) if index not in rows]
    spare += [base[index] for index in range(len(base)) if index not in columns]
    return [(body[row], base[column]) for row, column in zip(rows, columns, strict=True)], spare


def _astray(nodes: Index, cut: SurfaceCut, facing: Float, front: Float) -> int:
    """Return the vertex of a loop without counterpart that lies farthest from the borders on the pad's other side.

    Both sides follow the same lines but where one shows two parts joined and the other parted.
    """
    ends = np.unique(np.concatenate([cut.start, cut.end]))
    others = ends[facing[ends] * facing[nodes].mean() < 0]
    if len(others) == 0:
        return int(nodes[0])
    return int(nodes[cKDTree(front[others]).query(front[nodes])[0].argmax()])


def _apart(one: Index, two: Index, front: Float) -> float:
    sample = front[one[:: max(1, len(one) // 32)]]
    return float(_squared(sample, front[two]).min(axis=1).mean())


def _squared(ones: Float, others: Float) -> Float:
    return np.asarray(((ones[:, None] - others[None]) ** 2).sum(axis=2))
