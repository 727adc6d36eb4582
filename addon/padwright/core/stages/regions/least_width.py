"""Zones kept wider than the printer's beads allow: slivers given to the neighbor, necks and crossings opened."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, TriMesh
from ...base.notes import on_change, to_look_at
from ...base.text import counted
from ...geometry.fields import chains
from ...geometry.smoothing import smoothed
from ...geometry.through import BodySide
from .crumbs import LEAST_WIDTHS, without_crumbs
from .surface_cut import Index, SurfaceCut, cut_surface

_ROUNDS = 8
_PUSH = 0.25  # of a weight, at a neck's or crossing's middle: moves a smooth border by about an edge a round
_CROSSING_EDGES = 3.0  # junctions nearer than so many edges could pair up another way on the other side of the pad


@dataclass(frozen=True, eq=False)
class Tidied:
    """Weights of the body side after tidying."""

    weights: Float  # (b, k) float
    changed: bool
    notes: tuple[str, ...]


def tidied(
    body: BodySide,
    weights: Float,
    names: tuple[str, ...],
    least_width_mm: float,
    may_vanish: Sequence[bool] | None = None,
) -> Tidied:
    """Return weights under which no zone is narrower than `least_width_mm`, measured across the thickness.

    Crumbs go to their neighbors first (`crumbs.without_crumbs`), and once more at the end. Between, morphological
    opening (Serra 1982) with a disc of half the least width, on the mesh's own vertices: a vertex stays in its zone if
    a vertex with a free disc is within the disc's radius and one edge. Where several free parts of one zone hang
    together by less than the disc, the zone is widened there. Where two junctions of three zones are closer than three
    edges, the two zones that touch between them are widened, so that both sides of the pad see the same neighbors.
    Repeated until nothing is left to do, at most 8 times.

    Parameters
    ----------
    weights : (b, k) float
    names : tuple of str
        Of the zones, for the notes.
    may_vanish : sequence of k bool, optional
        Zones that may go altogether where they are crumbs: blend steps.
    """
    given_in = weights
    mesh = TriMesh(body.flat(body.mesh.vertices), body.mesh.faces)
    edge_mm = float(mesh.edge_lengths.mean())
    widened: set[int] = set()
    vanish = [False] * len(names) if may_vanish is None else may_vanish
    swept = without_crumbs(mesh, weights, vanish, least_width_mm)
    weights, current = swept.weights, swept.weights
    is_done, left = False, 0.0
    times = np.zeros(len(weights), dtype=np.int64)
    for _ in range(_ROUNDS):
        state = _State(mesh, current, 0.5 * least_width_mm, edge_mm)
        is_sliver, necks = state.slivers_and_necks()
        # a single vertex at the outline can be a sliver in either zone: what came back twice is left where it is
        left = float(body.mesh.vertex_areas[is_sliver & (times >= 2)].sum())
        is_sliver &= times < 2
        pushes = necks + state.crossings()
        if not is_sliver.any() and not pushes:
            is_done = True
            break
        widened |= {column for _, column in necks}
        # a vertex found a second time slid back when its border was rounded: it is held now
        current = _without(mesh, current, state.label, is_sliver, is_sliver & (times > 0), edge_mm)
        times += is_sliver
        for place, column in pushes:
            current = pushed(mesh, current, place, column, 2.0 * edge_mm, _PUSH)
    last = without_crumbs(mesh, current, vanish, least_width_mm)
    current = last.weights
    was = weights.argmax(axis=1)
    is_given = (times > 0) & (current.argmax(axis=1) != was)
    given = np.asarray(np.bincount(was[is_given], body.mesh.vertex_areas[is_given], weights.shape[1]), dtype=np.float64)
    notes = [
        *_change_notes(names, given, widened, least_width_mm),
        *_crumb_notes(names, swept.count + last.count, swept.given_mm2 + last.given_mm2, least_width_mm),
    ]
    if not is_done or left > least_width_mm**2:
        notes.append(to_look_at(f"Some places may still be narrower than {least_width_mm:.2f} mm."))
    return Tidied(current, current is not given_in, tuple(notes))


def _change_notes(names: tuple[str, ...], given_mm2: Float, widened: set[int], least_mm: float) -> Iterator[str]:
    for column in np.flatnonzero(given_mm2 > 0):
        yield on_change(
            f'{given_mm2[column]:.1f} mm2 of the zone "{names[column]}" was narrower than {least_mm:.2f} mm and went '
            "to its neighbors."
        )
    for column in sorted(widened):
        yield on_change(f'The zone "{names[column]}" was widened where it was narrower than {least_mm:.2f} mm.')


def _crumb_notes(names: tuple[str, ...], count: int, given_mm2: Float, least_mm: float) -> Iterator[str]:
    if count:
        of = ", ".join(f'"{names[column]}"' for column in np.flatnonzero(given_mm2))
        yield on_change(
            f"{counted(count, 'crumb')} of {of}, {given_mm2.sum():.1f} mm2 in all and each below a disc of "
            f"{LEAST_WIDTHS * least_mm:.1f} mm, went to the zones around them."
        )


def pushed(mesh: TriMesh, weights: Float, place: Float, column: int, radius_mm: float, amount: float) -> Float:
    """Return weights with more of one zone around a place: `amount` there, a Gaussian of `radius_mm` around it."""
    result = weights.copy()
    squared = ((mesh.vertices - place) ** 2).sum(axis=1)
    near = squared < (4.0 * radius_mm) ** 2
    result[near, column] += amount * np.exp(-0.5 * squared[near] / radius_mm**2)
    result[near] /= result[near].sum(axis=1, keepdims=True)
    return result


class _State:
    """The zones as they lie now, and what is wrong with them."""

    def __init__(self, mesh: TriMesh, weights: Float, radius: float, edge_mm: float) -> None:
        self.mesh, self.radius, self.edge_mm = mesh, radius, edge_mm
        self.label = weights.argmax(axis=1).astype(np.int64)
        self.cut: SurfaceCut = cut_surface(mesh, self.label, weights)
        middle = 0.5 * (self.cut.vertices[self.cut.start] + self.cut.vertices[self.cut.end])
        self.border = np.concatenate([self.cut.vertices[self.cut.start], middle])
        self.border_left, self.border_right = np.tile(self.cut.left, 2), np.tile(self.cut.right, 2)
        rim = mesh.boundary_edges
        self.outline = np.concatenate([mesh.vertices[rim[:, 0]], mesh.vertices[rim].mean(axis=1)])
        edge = mesh.edges
        self.edge = np.concatenate([edge[edge[:, 0] < edge[:, 1]], rim]).astype(np.int64)

    def slivers_and_necks(self) -> tuple[Bool, list[tuple[Float, int]]]:
        """Return the vertices too far from any free disc of their zone, and the necks (place, zone)."""
        is_sliver = np.zeros(len(self.label), dtype=bool)
        necks: list[tuple[Float, int]] = []
        if len(self.border) == 0:
            return is_sliver, necks
        reach = 2.0 * self.radius + 2.0 * self.edge_mm
        is_near = _is_within(cKDTree(self.border), self.mesh.vertices, reach)
        for column in np.unique(np.concatenate([self.cut.left, self.cut.right])):
            border = self.border[(self.border_left == column) | (self.border_right == column)]
            by_border, by_any = cKDTree(border), cKDTree(np.concatenate([border, self.outline]))
            own = np.flatnonzero((self.label == column) & is_near)
            is_tight = _is_within(by_any, self.mesh.vertices[own], self.radius)
            free, tight = own[~is_tight], own[is_tight]
            places = self.mesh.vertices[tight]
            # the pad's own outline may be what is narrow: that is not for the zones to mend
            is_far = _is_within(by_border, places, 2.0 * self.radius + self.edge_mm)
            if len(free):
                is_far &= ~_is_within(cKDTree(self.mesh.vertices[free]), places, self.radius + self.edge_mm)
            is_sliver[tight[is_far]] = True
            is_free = self.label == column
            is_free[tight] = False
            necks += [(place, int(column)) for place in self._necks(column, is_free, is_near, by_any, by_border)]
        return is_sliver, necks

    def _necks(self, column: int, is_free: Bool, is_near: Bool, by_any: cKDTree, by_border: cKDTree) -> list[Float]:
        """Return where parts of one zone that hold a free disc hang together by less than one."""
        inner = self.edge[(self.label[self.edge] == column).all(axis=1)]
        is_wide = is_free[inner].all(axis=1)
        doubtful = np.flatnonzero(is_wide & is_near[inner].any(axis=1))
        middle = self.mesh.vertices[inner[doubtful]].mean(axis=1)
        is_wide[doubtful] = ~_is_within(by_any, middle, self.radius)
        part = _parts(len(self.label), inner[is_wide])
        number = np.unique(part[is_free], return_inverse=True)[1].reshape(-1)
        if number.max(initial=0) == 0:
            return []
        nearest = np.full(len(self.label), -1)
        nearest[is_free] = number
        own = np.flatnonzero((self.label == column) & ~is_free)
        nearest[own] = number[cKDTree(self.mesh.vertices[is_free]).query(self.mesh.vertices[own])[1]]
        between = inner[nearest[inner[:, 0]] != nearest[inner[:, 1]]]
        places = self.mesh.vertices[between].mean(axis=1)
        return list(thinned(places[_is_within(by_border, places, 2.0 * self.radius)], self.edge_mm))

    def crossings(self) -> list[tuple[Float, int]]:
        """Return the middles of borders between junctions that are too close, once for each of the two zones."""
        is_junction = set(self.cut.junction.tolist())
        found = []
        for left, right in np.unique(np.stack([self.cut.left, self.cut.right], axis=1), axis=0):
            chosen = (self.cut.left == left) & (self.cut.right == right)
            for path in chains(self.cut.start[chosen], self.cut.end[chosen]):
                if path[0] != path[-1] and path[0] in is_junction and path[-1] in is_junction:
                    line = self.cut.vertices[path]
                    if np.linalg.norm(np.diff(line, axis=0), axis=1).sum() < _CROSSING_EDGES * self.edge_mm:
                        middle = line[[0, -1]].mean(axis=0)
                        found += [(middle, int(left)), (middle, int(right))]
        return found


def _is_within(tree: cKDTree, places: Float, distance: float) -> Bool:
    return np.asarray(np.isfinite(tree.query(places, distance_upper_bound=distance)[0]))


def _parts(count: int, edge: Index) -> Index:
    graph = sparse.coo_matrix((np.ones(len(edge), dtype=bool), (edge[:, 0], edge[:, 1])), shape=(count, count))
    return connected_components(graph, directed=False)[1].astype(np.int64)


def thinned(places: Float, apart_mm: float) -> Float:
    """Return some of the places, none within `apart_mm` of another, so that one neck is not widened many times."""
    kept: list[Float] = []
    for place in places:
        if all(np.linalg.norm(place - other) > apart_mm for other in kept):
            kept.append(place)
    return np.array(kept).reshape(-1, 3)


def _without(mesh: TriMesh, weights: Float, label: Index, is_sliver: Bool, is_held: Bool, edge_mm: float) -> Float:
    """Return weights in which slivers belong to the nearest vertex of another zone that is no sliver itself."""
    if not is_sliver.any() or is_sliver.all():
        return weights
    result = weights.copy()
    for column in np.unique(label[is_sliver]):
        given = np.flatnonzero(is_sliver & (label == column))
        takers = np.flatnonzero(~is_sliver & (label != column))
        if len(takers) == 0:
            continue
        nearest = cKDTree(mesh.vertices[takers]).query(mesh.vertices[given])[1]
        result[given] = np.eye(weights.shape[1])[label[takers[nearest]]]
    # only the surroundings are rounded, and only they are looked at
    is_close = _is_within(cKDTree(mesh.vertices[is_sliver]), mesh.vertices, 2.5 * edge_mm)
    faces = mesh.faces[is_close[mesh.faces].any(axis=1)]
    patch = np.unique(faces)
    part = TriMesh(mesh.vertices[patch], np.searchsorted(patch, faces))
    rounded = np.maximum(smoothed(part, result[patch], edge_mm, is_fixed=~is_close[patch] | is_held[patch]), 0.0)
    result[patch] = rounded / rounded.sum(axis=1, keepdims=True)
    return result
