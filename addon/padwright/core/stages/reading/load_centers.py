"""Where the body bears hardest: local minima of the clay left, how far they stand out, and how well they are known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int, TriMesh
from ...base.together import together
from ..body.center_doubt import CenterDoubt
from .clay_columns import frame_along
from .scan_noise import ScanNoise
from .surface_patches import rim_of, shrunk

_WINDOW = 3.0
_WEIGHT = 1.2
"""Reach of the local fit in smoothing widths: a Gaussian weight cut at 3 widths (our choice: at 5 mm wide enough to see
across a scan hole 16 mm wide, narrow enough to follow a heel)."""
_WITHIN = 0.6
"""A minimum is looked for within so many windows."""
_DRAWS = 1000
"""So many draws know a standard deviation to 2 percent."""
_UNSURE = 1.25
"""A bare area shows few of the longest waves, and the hollow's bend is itself seen through noise: without this the 95 %
range held 88 to 94 % (20 to 30 draws of noise with waves of 2 to 30 mm)."""
NORMAL_95 = 1.959963985
"""97.5th percentile of the standard normal distribution."""


@dataclass(frozen=True)
class FoundLoadCenter:
    """A place where the body bears hardest."""

    position_mm: Float  # (3,); on the smoothed body side
    depth_mm: float  # imprint depth there
    thickness_mm: float  # clay left there
    # how much thicker the clay gets on the lowest way to a stronger center; for the strongest, to the patch's edge.
    prominence_mm: float
    # half-width of the 95 % range of the position across the press direction, from the scan noise (its worst axis).
    plus_minus_mm: float
    thickness_plus_minus_mm: float  # the same for the clay left; an alignment error comes on top of both
    covariance: Float  # (3, 3), mm2; of the position, from the scan noise
    number: int = 0  # its place among all that were found, the most prominent being 1
    name: str = ""  # in the person's words, if it has one
    unused_because: str = ""  # why nothing rests on it; "" for one that is used


def minima_with_prominence(values: Float, edges: Int, is_in: Bool) -> tuple[Int, Float]:
    """Return the local minima of values on a graph and their prominence, most prominent first.

    Of values, (n,), and edges, (e, 2), only vertices in the patch, (n,), and the edges between them count.

    Notes
    -----
    Zero-dimensional persistence (Edelsbrunner, Letscher & Zomorodian 2002, doi 10.1007/s00454-002-2885-2): flood the
    values from below; where two basins meet, the shallower one ends, and its prominence is the height it reached.
    The deepest of each connected part never ends; it is counted to the highest value of its part.
    """
    edge = edges[is_in[edges[:, 0]] & is_in[edges[:, 1]]].astype(np.int64)
    order = np.argsort(values, kind="stable")
    rank = np.zeros(len(values), dtype=np.int64)
    rank[order] = np.arange(len(values))
    lowest = rank.copy()
    np.minimum.at(lowest, edge[:, 0], rank[edge[:, 1]])
    np.minimum.at(lowest, edge[:, 1], rank[edge[:, 0]])
    basin = order[lowest]
    while True:
        further = basin[basin]
        if (further == basin).all():
            break
        basin = further
    crossing = basin[edge[:, 0]] != basin[edge[:, 1]]
    saddle = values[edge[crossing]].max(axis=1)
    pair = basin[edge[crossing]]
    top: dict[int, float] = {}
    inside = np.flatnonzero(is_in)
    highest = np.full(len(values), -np.inf)
    np.maximum.at(highest, basin[inside], values[inside])
    roots = np.unique(basin[inside])
    parent = {int(root): int(root) for root in roots}
    top = {int(root): float(highest[root]) for root in roots}
    prominence: dict[int, float] = {}

    def find(root: int) -> int:
        while parent[root] != root:
            parent[root] = parent[parent[root]]
            root = parent[root]
        return root

    for k in np.argsort(saddle, kind="stable"):
        first, second = find(int(pair[k, 0])), find(int(pair[k, 1]))
        if first == second:
            continue
        deep, shallow = (first, second) if rank[first] < rank[second] else (second, first)
        prominence[shallow] = float(saddle[k] - values[shallow])
        parent[shallow] = deep
        top[deep] = max(top[deep], top[shallow])
    for root in parent:
        if parent[root] == root:
            prominence[root] = top[root] - float(values[root])
    ordered = sorted(prominence, key=lambda root: (-prominence[root], rank[root]))
    index = np.array(ordered, dtype=np.int32)
    return index, np.array([prominence[int(root)] for root in index])


def find_load_centers(
    impression: TriMesh,
    thickness: Float,
    smooth_thickness: Float,
    undisturbed: Float,
    inward: Float,
    is_contact: Bool,
    is_known: Bool,
    *,
    width: float,
    least_prominence: float,
    scan_noise: ScanNoise | None = None,
) -> tuple[FoundLoadCenter, ...]:
    """Return the load centers inside the contact patch, most prominent first.

    Thicknesses are (n,), mm, the second smoothed at `width` mm; `inward`, (n, 3), is the local press direction; masks,
    (n,), say where to look, and where the thickness was measured. A minimum that stands out less than
    `least_prominence` mm is not reported. The scan noise is for the uncertainties; without it noise counts as
    independent from vertex to vertex.
    """
    # Where the clay runs out it is thin too: a hollow beside the patch's rim must not be measured against that.
    is_inner = shrunk(impression, is_contact & is_known, 0.8 * width)
    index, prominence = minima_with_prominence(smooth_thickness, impression.links, is_inner)
    is_strong = prominence >= least_prominence
    tree = cKDTree(impression.vertices, balanced_tree=False)
    normals = impression.vertex_normals
    rim = np.union1d(rim_of(impression, is_contact), rim_of(impression, is_contact, is_inner=True))
    rim_tree = cKDTree(impression.vertices[rim]) if len(rim) else None
    found: list[FoundLoadCenter] = []
    known = (impression.vertices, normals, thickness, is_known, tree)
    fits = together(
        [partial(_fit_minimum, *known, int(each), inward[each], width, scan_noise) for each in index[is_strong]]
    )
    for vertex, stands_out, fit in zip(index[is_strong], prominence[is_strong], fits, strict=True):
        if fit is None:
            continue
        position, left, error, covariance, nearest = fit
        # A slope that runs out at the patch's edge has its lowest value there, but nothing bears there.
        if not is_contact[nearest] or (rim_tree is not None and rim_tree.query(position)[0] < width):
            continue
        if any(np.linalg.norm(position - other.position_mm) < 2.0 * width for other in found):
            continue
        found.append(
            FoundLoadCenter(
                position,
                float(undisturbed[nearest] - left),
                left,
                float(stands_out + smooth_thickness[vertex] - left),
                float(NORMAL_95 * np.sqrt(np.linalg.eigvalsh(covariance)[-1])),
                NORMAL_95 * error,
                covariance,
            )
        )
    return tuple(found)


def doubted(found: tuple[FoundLoadCenter, ...], doubt: CenterDoubt) -> tuple[FoundLoadCenter, ...]:
    """Return load centers of virtual clay, less well known by where they would lie had it been pressed otherwise."""
    scatter = doubt.scatter(np.array([each.position_mm for each in found]).reshape(-1, 3))
    told = []
    for index, each in enumerate(found):
        covariance = each.covariance + scatter[index, :, index]
        worst = float(NORMAL_95 * np.sqrt(np.linalg.eigvalsh(covariance)[-1]))
        told.append(replace(each, covariance=covariance, plus_minus_mm=worst))
    return tuple(told)


def _powers(degree: int) -> list[tuple[int, int]]:
    return [(i, total - i) for total in range(degree + 1) for i in range(total, -1, -1)]


def _fit_minimum(
    points: Float,
    normals: Float,
    thickness: Float,
    is_known: Bool,
    tree: cKDTree,
    vertex: int,
    inward: Float,
    width: float,
    scan_noise: ScanNoise | None,
) -> tuple[Float, float, float, Float, int] | None:
    """Return position, thickness, its standard error, position covariance and nearest vertex of a fitted minimum.

    A polynomial of degree 4 in the plane across the press direction, weighted, moved along until it is centered on its
    own minimum; it bridges a scan hole. None when the data has no minimum here.
    """
    frame = frame_along(inward)
    center, start = points[vertex], points[vertex]
    powers = _powers(4)
    # A coarse scan needs a wider window: four points a coefficient, on a triangular net of the scan's own spacing,
    # lie within sqrt(60 sqrt(3) / (2 pi)) = 4.1 spacings.
    spread_mm = float(np.median(tree.query(center, k=7)[0][1:]))
    width = max(width, 4.1 * spread_mm / _WINDOW)
    window, reach = _WINDOW * width, _WEIGHT * width
    for _ in range(8):
        near = np.array(tree.query_ball_point(center, 1.5 * window))
        local = (points[near] - center) @ frame.T
        keep = (np.hypot(local[:, 0], local[:, 1]) < window) & (normals[near] @ frame[2] > 0.2) & is_known[near]
        near, local = near[keep], local[keep]
        if len(near) < 3 * len(powers):
            return None
        scaled = local[:, :2] / window
        matrix = np.stack([scaled[:, 0] ** i * scaled[:, 1] ** j for i, j in powers], axis=1)
        weight = np.exp(-0.5 * ((local[:, :2] / reach) ** 2).sum(axis=1))
        weighted = matrix * weight[:, None]
        inverse = np.linalg.pinv(_summed(weighted, matrix))
        value = inverse @ _summed(weighted, np.column_stack([thickness[near], local[:, 2]]))
        (step,), (is_minimum,) = _lowest(value[None, :, 0], powers)
        if not is_minimum and np.hypot(*step) < 0.95 * _WITHIN:
            return None
        center = center + window * (step @ frame[:2])
        if np.linalg.norm((center - start) @ frame[:2].T) > 2.0 * width:
            return None
        if is_minimum and np.linalg.norm(step) * window < 0.01:
            break
    if not is_minimum:
        return None
    rest = thickness[near] - matrix @ value[:, 0]
    degrees = weight.sum() - np.einsum("ij,ji->", inverse, _summed(weighted, weighted))
    # A column ends inside a base triangle: the mean of squared barycentric weights is 1/2, so half the base's noise
    # cancels in each column, but none in the mean of many. With equal noise: (1 + 1) / (1 + 1/2) of what is seen.
    variance = float((weight * rest**2).sum() / max(degrees, 1.0)) * 4.0 / 3.0
    spread = variance * inverse @ (_summed(weighted, weighted)) @ inverse
    if scan_noise is not None:
        # Seen within one hollow, waves as long as it look like its shape: their share comes from the bare base.
        waves = scan_noise.propagated(np.einsum("ck,nk->cn", inverse, weighted), local[:, :2], window / 15.0)
        spread = _UNSURE**2 * waves if _UNSURE**2 * np.trace(waves) > np.trace(spread) else spread
    flat = _scatter(value[:, 0], spread, powers) * window**2
    covariance = frame[:2].T @ flat @ frame[:2]
    position = center + value[0, 1] * frame[2]
    return position, float(value[0, 0]), float(np.sqrt(spread[0, 0])), covariance, int(tree.query(position)[1])


def _scatter(value: Float, spread: Float, powers: list[tuple[int, int]]) -> Float:
    """Return the scatter of the minimum of a polynomial, (2, 2) in windows^2, whose coefficients scatter by `spread`.

    By drawing: in a flat hollow noise makes other hollows beside it, which the slope at one of them knows nothing of.
    """
    low, axes = np.linalg.eigh(spread)
    # The symmetric root is one, while an axis may point either way, as the last bits have it: then draws are others.
    root = np.einsum("ik,k,jk->ij", axes, np.sqrt(np.maximum(low, 0.0)), axes)
    drawn = np.random.default_rng(0).normal(size=(_DRAWS, len(value)))
    # Made of mean 0 and covariance 1 exactly: the result then is that of many more draws (1000 as 4000: 0.2 %).
    drawn -= drawn.mean(axis=0)
    drawn = np.linalg.solve(np.linalg.cholesky(_summed(drawn, drawn) / _DRAWS), drawn.T).T
    draws = value + np.einsum("sk,ck->sc", drawn, root)  # added in one order, whatever the number of threads
    at, _ = _lowest(draws, powers)
    return _summed(at, at) / _DRAWS


def _summed(first: Float, second: Float) -> Float:
    """Return first^T second, (c, d), of (n, c) and (n, d), added in one order whatever the number of threads."""
    return np.asarray(np.einsum("ni,nj->ij", first, second))


def _lowest(values: Float, powers: list[tuple[int, int]]) -> tuple[Float, Bool]:
    """Return the lowest place of polynomials, (s, c), near the origin, (s, 2), and where it is a minimum.

    On a net of places first, so that no saddle or second hollow is in the way, then to the bottom by Newton's steps.
    """
    even = np.linspace(-_WITHIN, _WITHIN, 41)
    net = np.stack(np.meshgrid(even, even, indexing="ij"), axis=-1).reshape(-1, 2)
    net = net[np.hypot(*net.T) <= _WITHIN]
    at = net[np.argmin(values @ np.stack([net[:, 0] ** i * net[:, 1] ** j for i, j in powers]), axis=1)]
    is_minimum = np.ones(len(at), dtype=bool)
    for _ in range(6):
        (gx, gy), (xx, xy, yy) = _slopes(values, powers, at)
        bottom = xx * yy - xy * xy
        is_minimum = (bottom > 0.0) & (xx > 0.0)
        safe = np.where(is_minimum, bottom, 1.0)
        step = np.stack([-(yy * gx - xy * gy) / safe, -(xx * gy - xy * gx) / safe], axis=1)
        length = np.maximum(np.hypot(*step.T), 1e-12)[:, None]
        at = np.where(is_minimum[:, None], at + step * np.minimum(1.0, 0.05 / length), at)
    return at, is_minimum & (np.hypot(*at.T) < _WITHIN)


def _slopes(values: Float, powers: list[tuple[int, int]], at: Float) -> tuple[tuple[Float, ...], tuple[Float, ...]]:
    """Return first and second derivatives of polynomials, (s, c), at a place each, (s, 2): x, y and xx, xy, yy."""
    x, y = at.T
    terms = list(enumerate(powers))
    gx = sum(values[:, k] * i * x ** (i - 1) * y**j for k, (i, j) in terms if i)
    gy = sum(values[:, k] * j * x**i * y ** (j - 1) for k, (i, j) in terms if j)
    xx = sum(values[:, k] * i * (i - 1) * x ** (i - 2) * y**j for k, (i, j) in terms if i > 1)
    yy = sum(values[:, k] * j * (j - 1) * x**i * y ** (j - 2) for k, (i, j) in terms if j > 1)
    xy = sum(values[:, k] * i * j * x ** (i - 1) * y ** (j - 1) for k, (i, j) in terms if i and j)
    return (gx, gy), (xx, xy, yy)
