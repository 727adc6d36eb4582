"""What a case's stages must find, from the formulas on a fine grid, before any scan was damaged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter

from demo_shapes import HeightPart
from scan_making import Float


@dataclass(frozen=True)
class Truth:
    """The true numbers of a part, in the true frame, mm.

    Attributes
    ----------
    press_direction : (3,) or None for a part the body wraps around
    volume_mm3 : between pressed clay and base, no gap, no rim
    footprint_area_mm2 : area the clay covers, along the press direction (wrap-around: on the base)
    contact_area_mm2 : area where the body touched the clay, along the press direction (wrap-around: on the clay)
    load_centers : (k, 3) body-side points of least clay thickness (smoothed with a Gaussian of 2.5 mm), deepest first
    load_thickness : (k,) unsmoothed clay thickness there
    spacing_mm : of the first two, across the press direction; None with fewer than two or for wrap-around parts
    points : (s, 3) body-side points well away from the clay's edge, with
    thickness : (s,) clay thickness there (along the press direction; least distance to the base for wrap-around parts)
    overlap_share : share of the impression's surface that is bare base
    """

    press_direction: Float | None
    volume_mm3: float
    footprint_area_mm2: float
    contact_area_mm2: float
    load_centers: Float
    load_thickness: Float
    spacing_mm: float | None
    points: Float
    thickness: Float
    overlap_share: float


def height_truth(part: HeightPart, overlap_share: float, *, step: float | None = None) -> Truth:
    """Return the truth of a height-field part by the midpoint rule on a square grid."""
    low, high = part.outline.min(axis=0), part.outline.max(axis=0)
    step = float((high - low).max()) / 800.0 if step is None else step
    axes = [np.arange(low[i] + 0.5 * step, high[i], step) for i in range(2)]
    x, y = np.meshgrid(*axes, indexing="ij")
    base, clay = part.base(x, y), part.clay(x, y)
    is_clay = clay > base
    thickness = np.where(is_clay, clay - base, 0.0)
    smooth = gaussian_filter(np.where(is_clay, thickness, thickness.max()), min(2.5, 40.0 * step) / step)
    centers, least = [], []
    for near in part.load_centers:
        reach = np.hypot(x - near[0], y - near[1]) < 0.08 * float((high - low).max())
        row, column = np.unravel_index(np.argmin(np.where(reach, smooth, np.inf)), x.shape)
        centers.append([x[row, column], y[row, column], clay[row, column]])
        least.append(thickness[row, column])
    order = np.argsort(least, kind="stable")
    centers, least = np.array(centers)[order], np.array(least)[order]
    far = gaussian_filter(is_clay.astype(float), 0.02 * float((high - low).max()) / step) > 0.999
    chosen = np.random.default_rng(5).choice(np.flatnonzero(far), 400, replace=False)
    pick = np.unravel_index(np.sort(chosen), x.shape)
    return Truth(
        press_direction=part.press_direction,
        volume_mm3=float(thickness.sum() * step * step),
        footprint_area_mm2=float(is_clay.sum() * step * step),
        contact_area_mm2=float(part.is_contact(x, y).sum() * step * step),
        load_centers=centers,
        load_thickness=least,
        spacing_mm=float(np.hypot(*(centers[0] - centers[1])[:2])) if len(centers) > 1 else None,
        points=np.stack([x[pick], y[pick], clay[pick]], axis=1),
        thickness=thickness[pick],
        overlap_share=overlap_share,
    )
