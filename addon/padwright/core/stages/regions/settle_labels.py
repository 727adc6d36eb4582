"""From weights on the body side to a cut surface and its pieces, with both sides of the pad made to agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...base.errors import SolidError
from ...base.mesh import Float, Int, TriMesh
from ...base.notes import on_change
from ...base.text import counted, placed
from ...geometry.fields import pieces as connected_pieces
from ...geometry.through import BASE_SIDE, BODY_SIDE, BodySide, PadShape
from .closed_pieces import Piece, assembled, unsound_vertices
from .easing import EASINGS, eased, lost, moved
from .least_width import pushed, thinned, tidied
from .surface_cut import Index, SurfaceCut, cut_surface
from .walls import Fault, UnpairedBorderError, build_walls

_ATTEMPTS, _WIDEST = 6, 3
"""Pushes wider than so many edges and one wander over a narrow part without an end: seen on a sleeve of noise."""

_APART_MM = 5.0
"""What lies nearer together is told as one place: about a finger tip."""

ENOUGH_MM = 12.0
"""A way to cut that moves no border farther than this is taken at once; about a thumb's half width. Common practice."""


@dataclass(frozen=True, eq=False)
class Settled:
    """A cut surface, the pieces it and its walls make, and the weights of the body side they were made from."""

    cut: SurfaceCut
    pieces: list[Piece]  # each a solid
    shares: Float  # (b, k) float
    notes: tuple[str, ...]


def settled(
    pad: PadShape,
    body: BodySide,
    shares: Float,
    names: tuple[str, ...],
    least_width_mm: float,
    weights: Float | None = None,
    may_vanish: Sequence[bool] | None = None,
) -> Settled:
    """Cut the surface into solid pieces; where borders of the two sides differ, simplify there and try again.

    Both sides carry the same field, but each mesh shows it by its own triangles: where four zones almost meet, or a
    piece is about one edge wide, they can show it differently. There the zone with the most weight around is given
    more, over a radius of two edges and one more at each attempt, up to four. When six attempts do not help, the field
    as it was given is smoothed around all places found so far (`easing.EASINGS`), and the attempts begin anew. The same
    is tried when a border moved by more than `ENOUGH_MM`; of all that could be cut, what moved least is taken.

    Raises SolidError when no attempt makes the sides agree without leaving a zone less than half its area.

    Parameters
    ----------
    shares : (b, k) float
        Weights on the body side.
    names : tuple of str
        Of the labels, for the notes.
    least_width_mm : float
        What is simplified is tidied again, see `least_width.tidied`.
    weights : (n, k) float, optional
        The same carried to the whole pad, if that was done already.
    may_vanish : sequence of k bool, optional
        As for `least_width.tidied`.
    """
    flat = TriMesh(body.flat(body.mesh.vertices), body.mesh.faces)
    # of an even triangle: area = sqrt(3) / 4 edge^2
    edge_mm = float(np.sqrt(4.0 / np.sqrt(3.0) * body.mesh.area / len(body.mesh.faces)))
    vanish = [False] * len(names) if may_vanish is None else may_vanish
    given, known = shares, weights
    faults: list[Fault] = []
    seen: list[Fault] = []
    refusal = ""
    best: tuple[float, Settled] | None = None
    for round_number in range(len(EASINGS) + 1):
        if round_number:
            places = [body.front[fault.vertex] for fault in seen]
            shares = eased(flat, given, places, edge_mm, round_number - 1)
            shares = tidied(body, shares, names, least_width_mm, vanish).weights
        for attempt in range(1, _ATTEMPTS + 1):
            cut, pieces, faults = _attempt(pad, body, shares, known, len(names))
            known = None
            if not faults:
                gone = lost(flat, given, shares, vanish) if seen else []
                if gone:
                    refusal = f'Smoothed there, less than half of "{names[gone[0]]}" would be left.'
                    break
                shift_mm, vertex = moved(flat, given, shares) if seen else (0.0, 0)
                if best is None or shift_mm < best[0]:
                    notes = _notes(seen, names, shift_mm, body.mesh.vertices[vertex])
                    best = shift_mm, Settled(cut, pieces, shares, notes)
                break
            seen += faults
            radius_mm = edge_mm * (1 + min(attempt, _WIDEST))
            shares = _simplified(
                flat, shares, [(body.front[each.vertex], each.labels[0]) for each in faults], radius_mm
            )
            shares = tidied(body, shares, names, least_width_mm, vanish).weights
        if best is not None and best[0] <= ENOUGH_MM:
            break
    if best is not None:
        return best[1]
    raise SolidError(
        f"The border of {_zones_of(seen, names)} is too ragged to be cut through the pad: "
        f"{_places(seen)}. {refusal or 'Smoothing it there did not help.'}",
        hint="Smooth the paint or the outline there, or make the zone's parts larger.",
    )


def _simplified(flat: TriMesh, shares: Float, places: list[tuple[Float, int]], radius_mm: float) -> Float:
    """Return weights with more of the zone that has most around each place; of the label with it if none is near."""
    for place, label in places:
        near = ((flat.vertices - place) ** 2).sum(axis=1) < (2.0 * radius_mm) ** 2
        column = int(shares[near].sum(axis=0).argmax()) if near.any() else label
        shares = pushed(flat, shares, place, column, radius_mm, 0.5)
    return shares


def _attempt(
    pad: PadShape, body: BodySide, shares: Float, weights: Float | None, count: int
) -> tuple[SurfaceCut, list[Piece], list[Fault]]:
    """Cut once; the pieces are none or no solids where there are faults."""
    carried = body.on_pad(shares) if weights is None else weights
    label, carried = _without_specks(pad.mesh, carried, body.index)
    cut = cut_surface(pad.mesh, label, carried)
    facing, front = _facing(pad, body, cut.parents), body.front[cut.parents].mean(axis=1)
    try:
        pieces = assembled(cut, build_walls(cut, facing, front), count)
    except UnpairedBorderError as error:
        return cut, [], error.faults
    return cut, pieces, _unsound(pieces, cut)


def _without_specks(mesh: TriMesh, weights: Float, body_index: Int) -> tuple[Index, Float]:
    """Return labels and weights without pieces of up to three vertices that lie off the body side.

    Such a piece goes to the label most of its neighbors have.

    Parameters
    ----------
    mesh : TriMesh
        The whole pad.
    weights : (n, k) float
    body_index : (b,) int
        The vertices of the body side.
    """
    label = weights.argmax(axis=1).astype(np.int64)
    part = connected_pieces(mesh, label)
    has_body = np.zeros(part.max() + 1, dtype=bool)
    has_body[part[body_index]] = True
    is_speck = ~has_body & (np.bincount(part) <= 3)
    if not is_speck.any():
        return label, weights
    result = weights.copy()
    edge = mesh.edges
    for number in np.flatnonzero(is_speck):
        inside = part == number
        across = edge[inside[edge[:, 0]] & ~inside[edge[:, 1]]]
        if len(across) == 0:
            continue
        own = label[across[0, 0]]
        taker = int(np.bincount(label[across[:, 1]]).argmax())
        result[np.ix_(inside, [own, taker])] = result[np.ix_(inside, [taker, own])]
        label[inside] = taker
    return label, result


def _unsound(pieces: list[Piece], cut: SurfaceCut) -> list[Fault]:
    """Return the places where the two sides agree in number but not in kind, so that walls touch or are twisted."""
    vertices = {int(vertex): piece.label for piece in pieces for vertex in unsound_vertices(piece)}
    return [Fault((label,), int(cut.parents[vertex, 0]), cut.vertices[vertex]) for vertex, label in vertices.items()]


def _notes(seen: list[Fault], names: tuple[str, ...], shift_mm: float, place: Float) -> tuple[str, ...]:
    if not seen:
        return ()
    return (
        on_change(
            f"The border of {_zones_of(seen, names)} could not be cut through the pad as it lay and was smoothed "
            f"{_places(seen)}; it moved by up to {shift_mm:.1f} mm, most near {placed(place)} mm."
        ),
    )


def _zones_of(faults: list[Fault], names: tuple[str, ...]) -> str:
    found = list(dict.fromkeys(names[label] for fault in faults for label in fault.labels))
    return " and ".join(f'"{name}"' for name in found[:2])


def _places(faults: list[Fault]) -> str:
    apart = thinned(np.array([fault.place for fault in faults]), _APART_MM)
    return f"at {counted(len(apart), 'place')}, the first near {placed(faults[0].place)} mm"


def _facing(pad: PadShape, body: BodySide, parents: Index) -> Float:
    """Return for every vertex of the cut how much it faces the body: 1 to -1."""
    if body.press_direction is None:
        side = np.asarray(pad.side)
        value = np.where(side == BODY_SIDE, 1.0, np.where(side == BASE_SIDE, -1.0, 0.0))
    else:
        value = -(pad.mesh.vertex_normals @ body.press_direction)
    return np.asarray(value[parents].mean(axis=1))
