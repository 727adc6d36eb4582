"""How far the print is off, place by place, and the places where it is off most, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ...base.mesh import Bool, Float, Int, TriMesh
from ...base.notes import to_look_at
from ...geometry.query import NearestSurface, signed_distances
from .fit import PartOnBed
from .records import WorstPatch

_FAR_MM, _FAR = 8.0, 0.1
"""What is further off than so many mm and that share of the part's radius is no part of the print (own choice)."""
_STRANGE = 0.04
"""A piece whose points are off by more than this share of the radius in the middle is another thing (own choice)."""
_FACING = 0.3  # cosine; what looks elsewhere than the part does there is not its surface
_RAGGED_MM = 0.3
_LEAST_PATCH_CM2 = 0.3
_ODD_MM, _ODD_SHARE = 0.6, 0.03
"""What stays off by more than so many mm, and three times the scan's noise, over one patch of more than this share of
what is seen, is hardly a fault of the print (own measurement, docs/models/compare.md)."""
_MOST = 5
_ALONG = 0.35  # cosine to the press direction: beyond, a place lies on the body or base side
_END, _ASIDE = 0.75, 0.15  # of the part's half size: beyond, a place is at an end; within, in the middle


@dataclass(frozen=True, eq=False)
class ScanOff:
    """Distances of the scan's vertices and of the part's."""

    scan_mm: Float  # (n,); above 0: the print stands out
    is_judged: Bool  # (n,)
    part_mm: Float  # (k,); nan where the scan does not show the part


def distances_between(part: PartOnBed, scan: TriMesh, piece: Int) -> ScanOff:
    """Return how far a scan that lies on the part is off; `piece`, (m,), is the piece of each of its faces."""
    far = max(_FAR_MM, _FAR * part.size_mm)
    values, near = signed_distances(part.mesh, scan.vertices)
    facing = np.einsum("nk,nk->n", scan.vertex_normals, part.mesh.face_normals[near.face])
    is_judged = (np.abs(values) < far) & (facing > _FACING)
    owner = np.zeros(len(scan.vertices), dtype=np.int64)
    owner[scan.faces.ravel()] = np.repeat(piece, 3)
    for number in range(int(piece.max()) + 1):
        inside = owner == number
        if number and (not inside.any() or np.median(np.abs(values[inside])) > _STRANGE * part.size_mm):
            is_judged[inside] = False
    return ScanOff(values, is_judged, _off_part(part, scan, is_judged, far))


def _off_part(part: PartOnBed, scan: TriMesh, is_judged: Bool, far: float) -> Float:
    """Return how far the scan stands off at the part's vertices, (k,), nan where it does not show them."""
    shown = scan.submesh(is_judged[scan.faces].all(axis=1))
    off = np.full(len(part.mesh.vertices), np.nan)
    if len(shown.faces) == 0:
        return off
    found = NearestSurface(shown).find(part.mesh.vertices)
    normal = shown.face_normals[found.face]
    away = found.point - part.mesh.vertices
    out = part.mesh.vertex_normals
    facing = np.einsum("nk,nk->n", normal, out)
    gap = np.copysign(found.distance, np.einsum("nk,nk->n", away, out))
    # Beyond the scan's border the nearest place lies aside, not across; the border itself is ragged.
    is_border = shown.is_on_border[shown.faces[found.face]].any(axis=1)
    is_beyond = is_border & (found.distance > _RAGGED_MM)
    is_seen = (facing > _FACING) & (found.distance < far) & ~is_beyond
    off[is_seen] = gap[is_seen]
    return off


def percentiles(values: Float) -> dict[str, float]:
    """Return 5th, 50th and 95th percentile, the 95th of the size, and the root mean square; empty without values."""
    if len(values) == 0:
        return {}
    low, middle, high = np.percentile(values, [5, 50, 95])
    return {
        "5": float(low),
        "50": float(middle),
        "95": float(high),
        "95 of size": float(np.percentile(np.abs(values), 95)),
        "rms": float(np.sqrt(np.square(values).mean())),
    }


def worst_patches(
    part: PartOnBed,
    off: Float,
    left: Float,
    least_mm: float,
    regions: Sequence[tuple[str, TriMesh]],
    press: Float | None,
) -> tuple[WorstPatch, ...]:
    """Return the patches of the part that are off most, the worst first; places are on the bed until they are moved.

    Parameters
    ----------
    off, left : (k,) float, mm
        Distances at the part's vertices, and what is left of them once size and bend are taken out; nan where unseen.
    least_mm : float
        Patches that are off by less are not told.
    regions : (name, mesh) each
        On the bed.
    press : (3,) float, optional
        The press direction, in the bed's axes.
    """
    mesh = part.mesh
    found: list[WorstPatch] = []
    names = [(name, NearestSurface(each)) for name, each in regions]
    for sign in (1.0, -1.0):
        size = np.nan_to_num(sign * off, nan=0.0)
        told = size[size > 0]
        if len(told) == 0:
            continue
        is_off = size > max(least_mm, 0.6 * float(np.percentile(size, 99.5)))
        for patch in _patches(mesh, is_off)[:_MOST]:
            area = float(mesh.vertex_areas[patch].sum()) / 100.0
            if area < _LEAST_PATCH_CM2:
                continue
            weight = mesh.vertex_areas[patch] / mesh.vertex_areas[patch].sum()
            center = patch[int(np.argmax(size[patch]))]
            place = mesh.vertices[center]
            region = min(names, key=lambda each: float(each[1].find(place[None]).distance[0]))[0] if names else ""
            rest = left[patch]
            is_local = bool(np.nanmedian(sign * rest) > 0.6 * least_mm) if np.isfinite(rest).any() else False
            found.append(
                WorstPatch(
                    place,
                    sign * float(weight @ size[patch]),
                    area,
                    region,
                    _place_words(part, place, mesh.vertex_normals[center], press, region),
                    is_local,
                )
            )
    return tuple(sorted(found, key=lambda each: -abs(each.distance_mm)))[:_MOST]


def odd_shape(part: PartOnBed, off: Float, left: Float, noise_mm: float, press: Float | None) -> str:
    """Return a doubt where the print has a shape that neither size nor bend nor a small fault explains; "" of none.

    Parameters
    ----------
    off, left : (k,) float, mm
        As for `worst_patches`.
    noise_mm : float
        Standard deviation of what is left.
    press : (3,) float, optional
        The press direction, in the bed's axes.
    """
    mesh = part.mesh
    is_seen = np.isfinite(off)
    seen = float(mesh.vertex_areas[is_seen].sum())
    largest, most, way = np.zeros(0, dtype=np.int32), 0.0, 1.0
    for sign in (1.0, -1.0):
        for patch in _patches(mesh, is_seen & (sign * left > max(_ODD_MM, 3.0 * noise_mm)))[:1]:
            area = float(mesh.vertex_areas[patch].sum())
            if area > most:
                largest, most, way = patch, area, sign
    if most <= _ODD_SHARE * seen:
        return ""
    weight = mesh.vertex_areas[largest] / most
    mean = float(weight @ np.abs(left[largest]))
    center = largest[int(np.argmax(way * left[largest]))]
    where = _place_words(part, mesh.vertices[center], mesh.vertex_normals[center], press, "")
    return to_look_at(
        f"One place of {most / 100.0:.0f} cm2, {100.0 * most / seen:.0f} % of what the scan shows of the part, still "
        f"{'stands out' if way > 0 else 'lies back'} by {mean:.1f} mm in the mean with "
        f"size and bend taken out ({where}). A fault of a print is seldom so large: was another revision printed, or "
        "is the scan wrong there?"
    )


def _patches(mesh: TriMesh, is_in: Bool) -> list[Int]:
    """Return the vertices of each connected patch, the largest area first."""
    edge = mesh.edges[is_in[mesh.edges].all(axis=1)]
    links = coo_matrix((np.ones(len(edge)), (edge[:, 0], edge[:, 1])), shape=(len(is_in),) * 2)
    label = connected_components(links, directed=False)[1]
    label = np.where(is_in, label, -1)
    inside = np.unique(label[is_in])
    area = np.bincount(label[is_in], mesh.vertex_areas[is_in])
    order = sorted(inside, key=lambda each: -area[each])[:20]
    return [np.flatnonzero(label == each) for each in order]


def _place_words(part: PartOnBed, place: Float, normal: Float, press: Float | None, region: str) -> str:
    """Return where a place is: its side, region and which end of it as it lies on the bed, x to the right, y back."""
    x, y, _ = (place - part.middle) / np.maximum(part.half, 1e-9)
    ends = [
        f"{'at' if abs(value) > _END else 'toward'} the {words[int(value > 0)]}{' end' if abs(value) > _END else ''}"
        for value, words in ((x, ("left", "right")), (y, ("front", "back")))
        if abs(value) > _ASIDE
    ]
    where = ", ".join(ends) if ends else "in the middle"
    side = ""
    if press is not None:
        along = float(normal @ press)
        side = "body side" if along < -_ALONG else "base side" if along > _ALONG else "rim"
    named = f'"{region}"' if region else ""
    return "; ".join(each for each in (side, named, where) if each)
