"""Tell the scanned part from debris and from what it stood on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.errors import ScanError
from ...base.mesh import Bool, Float, Int
from ...base.notes import to_act_on, to_look_at
from ...base.text import counted
from .topology import clusters

_CRUMB_SHARE = 0.01
"""A piece under this share of the largest piece's area is debris unless it carries on the surface at its border."""
_PART_SHARE = 0.10
"""A loose piece from this share on is kept, since it may be half of a torn scan."""
_FLAT_SHARE = 0.03
"""What a scanner stands on is flat: its thickness is under this share of its length."""
_STAND_LIMIT = 0.6
"""A flat piece larger than this share of the largest is not taken for a stand. All four: choices of ours, no source."""
_BODY_SHARE = 0.25
"""Only a body at least this large beside a flat piece makes that piece a table: a crumb over a flat part may not."""
_MOST_LOOSE, _FEWEST_FACES = 20, 4
"""More loose pieces, each a tenth of the largest or more, with fewer triangles each: shreds. Ours, no source."""
_MOST_OPEN = 20_000
"""More open pieces of two triangles and more, where none is half of the surface: shreds too. Ours, no source."""
_REACH = 4.0
"""A gap in the surface is bridged up to so many edge lengths. A choice of ours, no source."""
_NEIGHBORS = 24
"""Border points looked at around each; the own border takes some eight of them within the reach."""


@dataclass(frozen=True, eq=False)
class _Flatness:
    """The plane of a piece: its normal, mean point, thickness, length, and how much its faces look one way."""

    normal: Float
    middle: Float
    thickness: float
    length: float
    one_way: float

    @property
    def is_flat(self) -> bool:
        """Flat enough to be what a scanner stands on."""
        return self.thickness < _FLAT_SHARE * self.length and abs(self.one_way) > 0.8


class _Pieces:
    """The faces of a scan, (m, 3), with their area vectors, (m, 3), by the piece, (m,), that each belongs to."""

    def __init__(self, points: Float, faces: Int, vectors: Float, piece: Int, count: int) -> None:
        self.points, self.faces, self.vectors, self.piece = points, faces, vectors, piece
        self.area: NDArray[Any] = np.bincount(piece, np.sqrt(np.einsum("ij,ij->i", vectors, vectors)), count)
        self.face_count = np.bincount(piece, minlength=count)
        self._order = np.argsort(piece, kind="stable")
        self._bounds = np.concatenate([[0], np.cumsum(self.face_count)])

    def faces_of(self, label: int) -> NDArray[np.int64]:
        """Return the numbers of a piece's faces."""
        return self._order[self._bounds[label] : self._bounds[label + 1]]

    def points_of(self, label: int) -> Float:
        """Return the points of a piece, of a large one some."""
        chosen = self.faces_of(label)
        return self.points[np.unique(self.faces[chosen[:: max(len(chosen) // 20000, 1)]])]

    def flatness(self, label: int) -> _Flatness:
        """Return the plane that fits a piece best; thickness is between the 2nd and 98th percentile."""
        cloud, vectors = self.points_of(label), self.vectors[self.faces_of(label)]
        middle = cloud.mean(axis=0)
        _, axes = np.linalg.eigh(np.cov((cloud - middle).T) if len(cloud) > 3 else np.eye(3))
        local = (cloud - middle) @ axes
        low, high = np.percentile(local[:, 0], [2, 98])
        total = np.sqrt(np.einsum("ij,ij->i", vectors, vectors)).sum()
        one_way = float(vectors.sum(axis=0) @ axes[:, 0] / max(total, 1e-300))
        return _Flatness(axes[:, 0], middle, float(high - low), float(np.ptp(local[:, 2])), one_way)


def choose_pieces(
    points: Float,
    faces: Int,
    vectors: Float,
    piece: Int,
    piece_count: int,
    border: Int,
    edge: float,
    role: str,
) -> tuple[Bool, list[str]]:
    """Return which of a scan's pieces, two or more, are the part, (k,), and notes on the others.

    `vectors`, (m, 3), are the area vectors of the faces, `piece`, (m,), is the piece of each, `border`, (b,), the
    half-edges on open borders, `edge` the typical length of an edge, mm.

    Raises ScanError when the surface is in shreds: more than twenty loose pieces of hardly a triangle each, or more
    than twenty thousand open ones none of which is half of the surface.

    Notes
    -----
    In this order: the largest piece by area is the part. A flat piece with all of the part on one side of it is what
    the part stood on. Open pieces whose borders lie within four edge lengths of the part's border (or of a piece that
    was added) carry its surface on. Of the rest, pieces under a tenth of the part are debris, larger ones are kept
    and said.
    """
    pieces = _Pieces(points, faces, vectors, piece, piece_count)
    area, face_count = pieces.area, pieces.face_count
    order = np.argsort(-area, kind="stable")
    notes: list[str] = []
    main = int(order[0])
    large = [int(label) for label in order if area[label] > _CRUMB_SHARE * area[main]][:50]
    main = _not_the_table(pieces, main, large, notes)
    main_points = pieces.points_of(main)
    is_stand = np.zeros(piece_count, dtype=bool)
    is_stand[order[0]] |= main != order[0]  # the table, where the part is not the largest
    for label in large:
        if label != main and area[label] <= _STAND_LIMIT * area[main]:
            plane = pieces.flatness(label)
            if plane.is_flat and _lies_beside(plane, main_points):
                is_stand[label] = True
                notes.append(_stand_note(plane, area[label], int(face_count[label])))
    # Where one piece is nearly all there is, a few faces at its border are rags, not surface.
    fewest = 20 if area[main] > 0.5 * area.sum() else 1
    is_open = np.zeros(piece_count, dtype=bool)
    is_open[piece[border // 3]] = True
    if fewest == 1 and (is_open & (face_count > fewest)).sum() > _MOST_OPEN:
        raise _shreds(role, area, main)
    joined = _joined_by_borders(pieces, border, edge, is_stand, face_count > fewest)
    is_kept = (joined == joined[main]) & ~is_stand & (face_count > fewest)
    is_kept[main] = True
    doubtful = np.flatnonzero(is_kept & (area < _PART_SHARE * area[main]) & (np.arange(piece_count) != main))
    if len(doubtful):
        owner = piece[border // 3]
        rim = points[faces[border // 3, border % 3]]
        is_kept[
            doubtful[_float_over(main_points, rim[owner == main], [pieces.points_of(int(d)) for d in doubtful])]
        ] = False
    is_loose = ~is_kept & ~is_stand
    is_large = is_loose & (area >= _PART_SHARE * area[main])
    is_kept |= is_large
    if is_large.sum() > _MOST_LOOSE and face_count[is_large].mean() < _FEWEST_FACES:
        raise _shreds(role, area, main)
    notes += _loose_notes(area, face_count, area[main], is_large, is_loose & ~is_large)
    carried = int(is_kept.sum()) - 1 - int(is_large.sum())
    if carried:
        carry = "carries" if carried == 1 else "carry"
        notes.append(f"Kept: {counted(carried, 'smaller piece')} that {carry} the part's surface on across gaps.")
    return is_kept, notes


def _shreds(role: str, area: Float, main: int) -> ScanError:
    return ScanError(
        f"The {role} does not hold together: {counted(len(area), 'piece')}, the largest with "
        f"{area[main] / area.sum():.1%} of the surface.",
        hint="Save it again as one surface whose triangles share their corners, or scan it again.",
    )


def _stand_note(plane: _Flatness, area: float, count: int) -> str:
    place = ", ".join(f"{value:.0f}" for value in plane.middle)
    return (
        f"A flat piece of {area / 100:.0f} cm2 ({counted(count, 'triangle')}, {plane.length:.0f} mm long, at {place} "
        "mm) has the whole part on one side; it was taken for what the part stood on and dropped."
    )


def _loose_notes(area: Float, face_count: Int, whole: float, is_large: Bool, is_dropped: Bool) -> list[str]:
    """Say which loose pieces were kept beside the largest, of area `whole`, and which were dropped."""
    notes: list[str] = []
    loose = int(is_large.sum())
    if loose:
        sizes = ", ".join(f"{value / 100:.3g}" for value in np.sort(area[is_large])[::-1][:3])
        notes.append(
            to_act_on(
                f"{counted(loose, 'loose piece')} of {sizes}{', ...' if loose > 3 else ''} cm2 kept beside the largest "
                f"({whole / 100:.3g} cm2); remove by hand what is not the part."
            )
        )
    if is_dropped.any():
        count = int(is_dropped.sum())
        notes.append(
            f"{counted(count, 'loose piece')} with {counted(int(face_count[is_dropped].sum()), 'triangle')} and "
            f"{area[is_dropped].sum() / 100:.2f} cm2 in all (the largest {area[is_dropped].max() / 100:.2f} cm2, "
            f"{area[is_dropped].max() / whole:.2%} of the part) dropped as debris."
        )
    return notes


def _float_over(main_points: Float, main_rim: Float, clouds: list[Float]) -> Bool:
    """Return which clouds lie over the main piece's surface and not in its gaps.

    In a gap the nearest point of the main piece is on its rim; over the surface it is clearly nearer than the rim.
    """
    if len(main_rim) == 0:
        return np.ones(len(clouds), dtype=bool)
    if not clouds:
        return np.zeros(0, dtype=bool)
    samples = [cloud[:: max(len(cloud) // 200, 1)] for cloud in clouds]
    place, count = np.concatenate(samples), np.array([len(sample) for sample in samples])
    is_over = cKDTree(main_points).query(place)[0] < 0.7 * cKDTree(main_rim).query(place)[0]
    return np.asarray(np.add.reduceat(is_over.astype(np.int64), np.cumsum(count) - count) / count > 0.3)


def _lies_beside(plane: _Flatness, cloud: Float) -> bool:
    """Return True when the cloud is on one side of the plane, up to the plane's own thickness, and not flat on it."""
    height = (cloud - plane.middle) @ plane.normal
    low, high = float(height.min()), float(height.max())
    least, most = min(abs(low), abs(high)), max(abs(low), abs(high))
    slack = max(plane.thickness, 0.005 * plane.length)
    return (low * high > 0 or least <= slack) and most > 4 * slack


def _not_the_table(pieces: _Pieces, main: int, large: list[int], notes: list[str]) -> int:
    """Return the part's label: not the largest piece when that is a table that looks up at a body on it."""
    plane, area = pieces.flatness(main), pieces.area
    if not plane.is_flat:
        return main
    for label in large:
        if label == main or area[label] < _BODY_SHARE * area[main]:
            continue
        cloud = pieces.points_of(label)
        height = (cloud - plane.middle) @ plane.normal
        # The table's faces look at the body; a part's own flat underside looks away from it.
        looks_at_it = plane.one_way * float(np.median(height)) > 0
        if looks_at_it and _lies_beside(plane, cloud) and not pieces.flatness(label).is_flat:
            notes.append(
                to_look_at(
                    f"The largest piece ({area[main] / 100:.0f} cm2) is flat and faces a body of "
                    f"{area[label] / 100:.0f} cm2 on one side of it; it was taken for the table and dropped."
                )
            )
            return label
    return main


def _joined_by_borders(
    pieces: _Pieces, border: Int, edge: float, is_stand: Bool, is_surface: Bool
) -> NDArray[np.int32]:
    """Return for each piece the cluster of pieces that carry each other's surface on.

    Pieces that are no surface, but rags, (k,) False, are looked at from those that are and not from each other: a
    scan may hold hundreds of thousands of them.

    Two border points count when they are near, their faces look along one line, and the way between them runs along
    the surface, not off it (a flake that floats over the surface is near, but off it). Two pieces belong together
    when such points make up a tenth of the smaller one's border.
    """
    faces, piece, piece_count = pieces.faces, pieces.piece, len(pieces.area)
    usable = border[~is_stand[piece[border // 3]]]
    if len(usable) < 2:
        return np.arange(piece_count, dtype=np.int32)
    place = pieces.points[faces[usable // 3, usable % 3]]
    owner = piece[usable // 3]
    normal = pieces.vectors[usable // 3]
    normal = normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    most = min(_NEIGHBORS, len(place))
    asked = np.flatnonzero(is_surface[owner])
    distance, near = cKDTree(place).query(place[asked], k=most, distance_upper_bound=_REACH * edge)
    one, rank = np.nonzero(np.isfinite(distance))
    other = near[one, rank]
    one = asked[one]
    differs = owner[one] != owner[other]
    one, other = one[differs], other[differs]
    way = place[other] - place[one]
    off = np.abs(np.einsum("ij,ij->i", way, normal[one]))
    is_along = off <= 0.5 * np.linalg.norm(way, axis=1) + 0.25 * edge
    is_along &= np.abs(np.einsum("ij,ij->i", normal[one], normal[other])) > 0.5
    one, other = one[is_along], other[is_along]
    met = np.unique(one.astype(np.int64) * piece_count + owner[other])  # each border point once per other piece
    pair = owner[met // piece_count].astype(np.int64) * piece_count + met % piece_count
    link, shared = np.unique(pair, return_counts=True)
    left, right = link // piece_count, link % piece_count
    length = np.bincount(owner, minlength=piece_count)
    is_enough = shared >= 0.1 * np.minimum(length[left], length[right])
    return clusters(piece_count, left[is_enough], right[is_enough])[1]
