"""Which way up a part is printed: what stands, what fits the bed, and where supports would touch it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Bool, Float, Int, TriMesh, cross
from ...base.text import figure

OVERHANG_DEG = 45.0
"""Faces that lean out further from the upright than this need a support: common practice, no source."""

BASE_SIDE_DOWN = "base side down"

_FOOT_MM = 1.0
"""Points within so much of the lowest count as standing: a few first layers (common practice, no source)."""

_ON_BED_MM = 0.3
"""Faces wholly within so much of the bed are printed on it: about a first layer (common practice, no source)."""

SPOT_CM2 = 0.1
"""Supported area below which a support does not matter: smaller than its own foot (our own choice)."""

_MOST = 12
_ALIKE_DEG = 10.0
_ALIKE_SHARE = 1e-3  # of the hull's surface


@dataclass(frozen=True, eq=False)
class Orientation:
    """One way to lay the part on the bed."""

    turn: Float  # (3, 3) float, from the part frame to the bed's: its last row is the part's direction that points up
    name: str
    size_mm: Float  # (3,) float, of the part as it lies
    fits: bool
    stands: bool  # whether the center of mass lies above what rests on the bed, by itself or on supports
    support_cm2: float  # area seen from above of faces that lean out beyond 45 degrees and do not lie on the bed
    body_support_cm2: float  # how much of that is the body side
    # Area seen from above of all that faces down: what lies on the bed, what needs support, and steep faces.
    under_cm2: float = 0.0
    # Both: how high above the bed the supported area is, averaged over it and at most; 0 where there is none.
    support_mean_mm: float = 0.0
    support_most_mm: float = 0.0

    @property
    def is_good(self) -> bool:
        """Stands, fits, and keeps supports off the body side."""
        return self.fits and self.stands and self.body_support_cm2 <= SPOT_CM2


def lying(up: Float) -> Float:
    """Return the turn (3, 3) that brings a direction up; about the upright the axis it is least along stays level."""
    up = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    # Rounded, so that a tie between two axes does not fall to the last bit.
    side = np.cross(np.eye(3)[int(np.argmin(np.round(np.abs(up), 6)))], up)
    side /= np.linalg.norm(side)
    return np.stack([side, np.cross(up, side), up])


def choose_orientation(
    mesh: TriMesh, is_body: Bool, bed_mm: Sequence[float], default: Float, default_name: str
) -> tuple[Orientation, tuple[Orientation, ...]]:
    """Return the way up to print a part, and all that were looked at, the default first.

    Looked at are the default, the default upside down and the largest faces of the convex hull (Qhull: Barber, Dobkin
    & Huhdanpaa 1996, doi 10.1145/235815.235821), those within 10 degrees of each other as one, the largest first and of
    those as large to a thousandth of the hull the one whose normal is least in x, then y, then z. No sum goes through a
    library that shares it among threads: the last bits, and with them the choice between ways up that are nearly as
    good, are the same for any number of threads. Without a good default the good one that needs least support, then
    lies lowest, is taken; without any good one, one that fits and stands with least support on the body side; else the
    default stays.

    Parameters
    ----------
    mesh : TriMesh
        The whole part, closed, mm.
    is_body : (m,) bool
        Faces of the body side.
    default : (3, 3) float
        Kept when it stands, fits and needs no support on the body side.
    """
    from scipy.spatial import ConvexHull

    hull = ConvexHull(mesh.vertices)
    corners = mesh.vertices[hull.vertices]
    center = _center_of_mass(mesh)
    normals = hull.equations[:, :3]
    triangle = mesh.vertices[hull.simplices]
    area = 0.5 * np.linalg.norm(np.cross(triangle[:, 1] - triangle[:, 0], triangle[:, 2] - triangle[:, 0]), axis=1)
    turns = [(default_name, default), ("upside down", lying(-default[2]))]
    for down in _directions(normals, area):
        angle = float(np.degrees(np.arccos(np.clip(-down @ default[2], -1.0, 1.0))))
        turns.append((f"tilted by {figure(angle) if angle < 0.95 else round(angle)} degrees", lying(-down)))
    looked = []
    middles = mesh.triangles.mean(axis=1)
    for name, turn in turns:
        turn, size, fits = _on_bed(turn, corners, bed_mm)
        found, held = _support(mesh, is_body, middles, turn[2])
        stands = _stands(corners, held, center, turn)  # supports hold the part too
        looked.append(Orientation(turn, name, size, fits, stands, **found))
    first = looked[0]
    if first.is_good:
        return first, tuple(looked)

    def rank(each: Orientation) -> tuple[float, ...]:
        body = each.body_support_cm2 if each.body_support_cm2 > SPOT_CM2 else 0.0
        # Rounded, so that a tie does not fall to the last bit.
        return (round(body, 1), round(each.support_cm2, 1), round(float(each.size_mm[2]), 1))

    able = [each for each in looked if each.is_good] or [each for each in looked if each.fits and each.stands]
    return min(able, key=rank, default=first), tuple(looked)


def _directions(normals: Float, area: Float) -> list[Float]:
    """Return the hull's largest facings, outward: alike ones gathered, at most twelve."""
    # A flat face of the hull comes in triangles, in an order that hangs on the last bits: they are counted as one.
    facing, face = np.unique(np.round(normals, 3) + 0.0, axis=0, return_inverse=True)
    face = face.reshape(-1)
    size = np.bincount(face, area)
    middle = np.stack([np.bincount(face, area * normals[:, axis]) for axis in range(3)], axis=1)
    found: list[tuple[float, tuple[float, ...], Float]] = []
    unit = _ALIKE_SHARE * float(area.sum())
    left = np.lexsort((*facing.T[::-1], -np.round(size / unit)))
    while len(left):
        is_alike = along(facing[left], facing[left[0]]) > np.cos(np.radians(_ALIKE_DEG))
        alike, left = np.sort(left[is_alike]), left[~is_alike]
        total = middle[alike].sum(axis=0)
        total = total / np.sqrt((total**2).sum())
        large = round(float(size[alike].sum()) / unit)
        if large:  # no part stands on a sliver, and which way one faces is chance
            found.append((-large, tuple(np.round(total, 3) + 0.0), total))
    found.sort(key=lambda row: row[:2])
    return [total for _, _, total in found[:_MOST]]


def along(vectors: Float, direction: Float) -> Float:
    """Return the products (n,) of vectors (n, 3) with one direction, each summed from x to z whatever the threads."""
    return np.asarray(vectors[:, 0] * direction[0] + vectors[:, 1] * direction[1] + vectors[:, 2] * direction[2])


def _turned(points: Float, turn: Float) -> Float:
    return np.stack([along(points, row) for row in turn], axis=1)


def _center_of_mass(mesh: TriMesh) -> Float:
    middle = mesh.bounds.mean(axis=0)
    one, two, three = ((mesh.vertices - middle)[mesh.faces[:, corner]] for corner in range(3))
    volume = np.einsum("ij,ij->i", one, cross(two, three)) / 6.0
    return np.asarray(middle + (volume[:, None] * (one + two + three)).sum(axis=0) / 4.0 / volume.sum())


def _on_bed(turn: Float, corners: Float, bed_mm: Sequence[float]) -> tuple[Float, Float, bool]:
    """Return the turn about the upright with which the part fits the bed, the part's size so, and whether it does."""
    flat = _turned(corners, turn)
    height = float(np.ptp(flat[:, 2]))
    angle = np.radians(np.arange(0.0, 180.0, 3.0))
    cosine, sine = np.cos(angle), np.sin(angle)
    turned = cosine[:, None], sine[:, None]
    first, second = np.ascontiguousarray(flat[:, 0]), np.ascontiguousarray(flat[:, 1])
    level = [first * turned[0] - second * turned[1], first * turned[1] + second * turned[0]]  # (angles, corners) each
    sizes = np.column_stack([*(each.max(axis=1) - each.min(axis=1) for each in level), np.full(len(angle), height)])
    over = (sizes - np.asarray(bed_mm)).max(axis=1)
    # The first that fits, else the one that comes nearest; of those alike to the last bits the first.
    best = int(np.argmax(over <= max(0.0, float(over.min()) + 1e-9)))
    about = np.array([[cosine[best], -sine[best], 0.0], [sine[best], cosine[best], 0.0], [0.0, 0.0, 1.0]])
    return about @ turn, sizes[best], bool(over[best] <= 0.0)


def _stands(corners: Float, held: Float, center: Float, turn: Float) -> bool:
    from scipy.spatial import ConvexHull, QhullError

    placed = _turned(corners, turn)
    foot = placed[placed[:, 2] < placed[:, 2].min() + _FOOT_MM, :2]
    foot = np.concatenate([foot, _turned(held, turn)[:, :2]])
    try:
        outline = ConvexHull(foot)
    except (QhullError, ValueError):  # all on one line or in one point: it would topple
        return False
    return bool((outline.equations[:, :2] @ (turn @ center)[:2] + outline.equations[:, 2] <= 0.0).all())


@dataclass(frozen=True, eq=False)
class _Overhang:
    """How a part's surface leans, one way up."""

    rise: Float  # (m,); how far each face's normal points up
    height: Float  # (n,), mm; of each vertex over the lowest
    leans: Int  # (k,); the faces that lean out beyond what prints in the air
    corners: Float  # (3, k), mm; the heights of their corners
    lies: Bool  # (k,); those of them that lie on the bed: wholly within a first layer or two

    @classmethod
    def of(cls, mesh: TriMesh, up: Float) -> _Overhang:
        rise, height = along(mesh.face_normals, up), along(mesh.vertices, up)
        height -= height.min()
        leans = np.flatnonzero(rise < -np.sin(np.radians(OVERHANG_DEG)) - 1e-9)
        corners = height[mesh.faces[leans].T]
        return cls(rise, height, leans, corners, corners.max(axis=0) <= _ON_BED_MM)


def needs_support(mesh: TriMesh, up: Float) -> tuple[Bool, Bool]:
    """Say which faces, (m,) each, lean out beyond what prints in the air, and which of those lie on the bed instead."""
    found = _Overhang.of(mesh, up)
    hangs, lies = np.zeros((2, len(mesh.faces)), dtype=bool)
    hangs[found.leans], lies[found.leans] = ~found.lies, found.lies
    return hangs, lies


def _support(mesh: TriMesh, is_body: Bool, middles: Float, up: Float) -> tuple[dict[str, float], Float]:
    """Return what hangs free, as `Orientation` has it, and the middles (k, 3) of it off the body side.

    `middles`, (m, 3): those of all faces.
    """
    found = _Overhang.of(mesh, up)
    seen = -mesh.face_areas * np.minimum(found.rise, 0.0) / 100.0
    hangs, height = found.leans[~found.lies], found.corners[:, ~found.lies]
    area, is_body = seen[hangs], is_body[hangs]
    total = float(area.sum())
    told = {
        "support_cm2": total,
        "body_support_cm2": float(area[is_body].sum()),
        "under_cm2": float(seen.sum()),
        "support_mean_mm": float((area * height.mean(axis=0)).sum()) / total if total > 0.0 else 0.0,
        "support_most_mm": float(height.max(initial=0.0)),
    }
    return told, middles[hangs[~is_body]]
