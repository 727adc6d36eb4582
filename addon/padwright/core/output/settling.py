"""From weights on the body side to a cut surface and its pieces, with both sides of the pad made to agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import SolidError
from ..geometry.through import BASE_SIDE, BODY_SIDE, BodySide, PadShape
from ..mesh import Float, TriMesh
from ..wording import counted, placed
from .least_width import pushed, tidied
from .pieces import Piece, assembled, unsound_vertices
from .stray import without_specks
from .surface_cut import Index, SurfaceCut, cut_surface
from .walls import Fault, UnpairedBorderError, build_walls

_ATTEMPTS, _WIDEST = 12, 3
"""Pushes wider than so many edges and one wander over a narrow part without an end: seen on a sleeve of noise."""


@dataclass(frozen=True, eq=False)
class Settled:
    """A cut surface, the pieces it and its walls make, and the weights of the body side they were made from.

    Attributes
    ----------
    cut : SurfaceCut
    pieces : list of Piece
        Each a solid.
    shares : (b, k) float
    notes : tuple of str
    """

    cut: SurfaceCut
    pieces: list[Piece]
    shares: Float
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

    Parameters
    ----------
    pad : PadShape
    body : BodySide
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

    Raises
    ------
    SolidError
        When twelve attempts do not make the sides agree.

    Notes
    -----
    Both sides carry the same field, but each mesh shows it by its own triangles: where four zones almost meet, or a
    piece is about one edge wide, they can show it differently. There the zone with the most weight around is given
    more, over a radius of two edges and one more at each attempt, up to four.
    """
    flat = TriMesh(body.flat(body.mesh.vertices), body.mesh.faces)
    # of an even triangle: area = sqrt(3) / 4 edge^2
    edge_mm = float(np.sqrt(4.0 / np.sqrt(3.0) * body.mesh.area / len(body.mesh.faces)))
    simplified: list[tuple[str, str]] = []
    attempt = 0
    while True:
        carried = body.on_pad(shares) if weights is None else weights
        label, carried = without_specks(pad.mesh, carried, body.index)
        cut = cut_surface(pad.mesh, label, carried)
        facing, front = _facing(pad, body, cut.parents), body.front[cut.parents].mean(axis=1)
        try:
            pieces = assembled(cut, build_walls(cut, facing, front), len(names))
            faults = _unsound(pieces, cut)
        except UnpairedBorderError as error:
            faults = error.faults
        if not faults:
            return Settled(cut, pieces, shares, _notes(simplified))
        attempt += 1
        if attempt == _ATTEMPTS:
            raise _too_ragged(faults, names)
        for fault in faults:
            place = body.front[fault.vertex]
            near = ((flat.vertices - place) ** 2).sum(axis=1) < (2.0 * edge_mm * (1 + min(attempt, _WIDEST))) ** 2
            column = int(shares[near].sum(axis=0).argmax()) if near.any() else fault.labels[0]
            shares = pushed(flat, shares, place, column, edge_mm * (1 + min(attempt, _WIDEST)), 0.5)
            simplified.append((placed(fault.place), names[column]))
        shares = tidied(body, shares, names, least_width_mm, may_vanish).weights
        weights = None


def _unsound(pieces: list[Piece], cut: SurfaceCut) -> list[Fault]:
    """Return the places where the two sides agree in number but not in kind, so that walls touch or are twisted."""
    vertices = {int(vertex): piece.label for piece in pieces for vertex in unsound_vertices(piece)}
    return [Fault((label,), int(cut.parents[vertex, 0]), cut.vertices[vertex]) for vertex, label in vertices.items()]


def _too_ragged(faults: list[Fault], names: tuple[str, ...]) -> SolidError:
    where = placed(faults[0].place)
    found = list(dict.fromkeys(names[label] for fault in faults for label in fault.labels))
    said = " and ".join(f'"{name}"' for name in found[:2])
    return SolidError(
        f"The border of {said} is too ragged to be cut through the pad: at {counted(len(faults), 'place')}, the first "
        f"near {where} mm.",
        hint="Smooth the paint or the outline there, or make the zone's parts larger.",
    )


def _notes(simplified: list[tuple[str, str]]) -> tuple[str, ...]:
    if not simplified:
        return ()
    where, name = simplified[0]
    return (
        f"At {counted(len(simplified), 'place')} borders were simplified, because body side and base side would have "
        f'shown them differently; the first is near {where} mm, in favor of "{name}".',
    )


def _facing(pad: PadShape, body: BodySide, parents: Index) -> Float:
    """Return for every vertex of the cut how much it faces the body: 1 to -1."""
    if body.press_direction is None:
        side = np.asarray(pad.side)
        value = np.where(side == BODY_SIDE, 1.0, np.where(side == BASE_SIDE, -1.0, 0.0))
    else:
        value = -(pad.mesh.vertex_normals @ body.press_direction)
    return np.asarray(value[parents].mean(axis=1))
