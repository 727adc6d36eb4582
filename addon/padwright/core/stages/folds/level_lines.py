"""Level lines of a raster as polylines, and the distance to them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float
from ...geometry.fields import chains


def level_lines(raster: Float, level: float, origin: Float, step: float) -> list[Float]:
    """Return the lines where a raster has a level, each (n, 2) mm, what is higher on their left.

    A closed one ends where it begins; others end at the raster's border. The cells are cut in two triangles, in which
    the raster is linear: lines never cross and never branch.
    """
    value = raster - level
    value = np.where(value == 0.0, 1e-12, value)
    number = np.arange(value.size).reshape(value.shape)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    triangle = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    flat = value.ravel()
    is_high = flat[triangle] > 0.0
    count = is_high.sum(axis=1)
    triangle, is_high, count = (each[(count > 0) & (count < 3)] for each in (triangle, is_high, count))
    if len(triangle) == 0:
        return []
    lone = np.where(count == 1, is_high.argmax(axis=1), (~is_high).argmax(axis=1))
    rows = np.arange(len(triangle))
    tip, one, two = (triangle[rows, (lone + turn) % 3] for turn in (0, 1, 2))
    first, second = _edge(tip, one, value.size), _edge(tip, two, value.size)
    # Counter-clockwise triangles: with the lone corner high, the line from the first edge to the second has it on its
    # left when walked backwards.
    turned = count == 1
    start, end = np.where(turned, first, second), np.where(turned, second, first)
    keys, index = np.unique(np.concatenate([start, end]), return_inverse=True)
    low, high = keys // value.size, keys % value.size
    share = flat[low] / (flat[low] - flat[high])
    places = np.stack(np.unravel_index(low, value.shape), -1) * (1.0 - share[:, None])
    places = places + np.stack(np.unravel_index(high, value.shape), -1) * share[:, None]
    points = origin + step * places
    half = len(start)
    return [points[path] for path in chains(index[:half], index[half:])]


def _edge(first: NDArray[np.int64], second: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    return np.minimum(first, second) * count + np.maximum(first, second)


def is_closed(line: Float) -> bool:
    """Say if a line ends where it begins."""
    return bool((line[0] == line[-1]).all())


def resampled(line: Float, spacing_mm: float, round_mm: float = 0.0) -> Float:
    """Return a line with even spacing, its corners rounded by averaging over a length (Gaussian), (n, 2)."""
    from scipy.ndimage import gaussian_filter1d

    closed = is_closed(line)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    fine = min(spacing_mm, 0.25)
    count = max(int(np.ceil(length[-1] / fine)), 4)
    at = np.linspace(0.0, length[-1], count + 1)
    dense = np.stack([np.interp(at, length, line[:, axis]) for axis in (0, 1)], axis=1)
    if round_mm > 0.0:
        width = round_mm / (length[-1] / count)
        if closed:
            dense[:-1] = gaussian_filter1d(dense[:-1], width, axis=0, mode="wrap")
            dense[-1] = dense[0]
        else:
            ends = dense[[0, -1]].copy()
            dense = gaussian_filter1d(dense, width, axis=0, mode="nearest")
            dense[[0, -1]] = ends
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(dense, axis=0).T))])
    count = max(round(length[-1] / spacing_mm), 2)
    at = np.linspace(0.0, length[-1], count + 1)
    out = np.stack([np.interp(at, length, dense[:, axis]) for axis in (0, 1)], axis=1)
    if closed:
        out[-1] = out[0]
    return out


def distance_to(lines: list[Float], is_inside: Bool, origin: Float, step: float) -> Float:
    """Return the distance of every cell's middle to the lines, mm, negative where it is not inside, (nx, ny)."""
    shape = is_inside.shape
    if not lines:
        return np.where(is_inside, 1e6, -1e6)
    dense = np.concatenate([resampled(line, 0.25 * step) for line in lines])
    x, y = (origin[axis] + step * np.arange(shape[axis]) for axis in (0, 1))
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    distance = np.asarray(cKDTree(dense).query(points)[0]).reshape(shape)
    return np.where(is_inside, distance, -distance)
