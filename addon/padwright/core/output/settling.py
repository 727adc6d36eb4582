"""From weights on the body side to a cut surface with its walls, with both sides of the pad made to agree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..geometry.through import BASE_SIDE, BODY_SIDE, BodySide, PadShape
from ..mesh import Float, TriMesh
from .least_width import pushed, tidied
from .stray import without_specks
from .surface_cut import Index, SurfaceCut, cut_surface
from .walls import UnpairedBorderError, Wall, build_walls

_ATTEMPTS = 6


@dataclass(frozen=True, eq=False)
class Settled:
    """A cut surface, its walls, and the weights of the body side they were made from.

    Attributes
    ----------
    cut : SurfaceCut
    walls : list of Wall
    shares : (b, k) float
    notes : tuple of str
    """

    cut: SurfaceCut
    walls: list[Wall]
    shares: Float
    notes: tuple[str, ...]


def settled(
    pad: PadShape,
    body: BodySide,
    shares: Float,
    names: tuple[str, ...],
    least_width_mm: float,
    weights: Float | None = None,
) -> Settled:
    """Cut the surface and build the walls; where borders of the two sides differ, simplify there and try again.

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

    Raises
    ------
    UnpairedBorderError
        When six attempts do not make the sides agree.

    Notes
    -----
    Both sides carry the same field, but each mesh shows it by its own triangles: where four zones almost meet, or a
    piece is about one edge wide, they can show it differently. There the zone with the most weight around is given
    more, over a radius of two edges and one more at each attempt.
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
        try:
            return Settled(
                cut,
                build_walls(cut, _facing(pad, body, cut.parents), body.front[cut.parents].mean(axis=1)),
                shares,
                _notes(simplified),
            )
        except UnpairedBorderError as error:
            attempt += 1
            if attempt == _ATTEMPTS:
                raise
            for fault in error.faults:
                place = body.front[fault.vertex]
                near = ((flat.vertices - place) ** 2).sum(axis=1) < (2.0 * edge_mm * (1 + attempt)) ** 2
                column = int(shares[near].sum(axis=0).argmax()) if near.any() else fault.labels[0]
                shares = pushed(flat, shares, place, column, edge_mm * (1 + attempt), 0.5)
                simplified.append((", ".join(f"{value:.0f}" for value in fault.place), names[column]))
            shares = tidied(body, shares, names, least_width_mm).weights
            weights = None


def _notes(simplified: list[tuple[str, str]]) -> tuple[str, ...]:
    if not simplified:
        return ()
    where, name = simplified[0]
    return (
        f"At {len(simplified)} places borders were simplified, because body side and base side would have shown them "
        f'differently; the first is near ({where}) mm, in favour of "{name}".',
    )


def _facing(pad: PadShape, body: BodySide, parents: Index) -> Float:
    """Return for every vertex of the cut how much it faces the body: 1 to -1."""
    if body.press_direction is None:
        side = np.asarray(pad.side)
        value = np.where(side == BODY_SIDE, 1.0, np.where(side == BASE_SIDE, -1.0, 0.0))
    else:
        value = -(pad.mesh.vertex_normals @ body.press_direction)
    return np.asarray(value[parents].mean(axis=1))
