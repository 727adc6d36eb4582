"""Both scans made ready for alignment: averaged, centered, and shared out between the fit and its check."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ...base.errors import ScanError
from ...base.mesh import Float, TriMesh
from ...base.text import counted
from ...base.together import both
from ...geometry.frames import rigid
from .cloud import Cloud, make_cloud
from .refine import BothScans, Ready, make_ready, split_held_back

HELD_BACK = 0.1
"""Share of the points that never enters the fit and only checks it (common practice, no source)."""

LEAST_CORNERS = 3.0
"""So many corners a cell in both scans, on average, and they are averaged themselves: points drawn between them know no
more, and where a surface bends only about where it goes (own measurement, docs/models/align.md)."""


@dataclass(frozen=True, eq=False)
class Scans:
    """Both scans as they take part in the fit, and what they are held against."""

    both: BothScans
    # Of the clouds before they were centered: (3,), mm.
    base_middle: Float
    impression_middle: Float
    # Points that take no part.
    base_held: Cloud
    impression_held: Cloud

    def in_scans(self, centered: Float) -> Float:
        """Return a pose of the centered clouds as one of the scans."""
        turn = centered[:3, :3]
        return rigid(turn, self.base_middle + centered[:3, 3] - turn @ self.impression_middle)

    def in_clouds(self, matrix: Float) -> Float:
        """Return a pose of the scans as one of the centered clouds."""
        turn = matrix[:3, :3]
        return rigid(turn, turn @ self.impression_middle + matrix[:3, 3] - self.base_middle)


def prepare(base: TriMesh, impression: TriMesh, seed: int) -> Scans:
    """Return both scans ready for fitting.

    Raises ScanError when a scan is too small, or their sizes do not go together.
    """
    for mesh, name in ((base, "base scan"), (impression, "impression scan")):
        if len(mesh.faces) < 20 or not mesh.area > 0:
            said = counted(len(mesh.faces), "triangle")
            raise ScanError(f"The {name} has {said}: too few to align.", hint="Check the file.")
    sizes = [float(np.sqrt(mesh.area)) for mesh in (base, impression)]
    ratio = sizes[1] / sizes[0]
    if not 1.0 / 3.0 < ratio < 3.0:
        raise ScanError(
            f"The impression scan is {ratio:.2g} times the size of the base scan ({sizes[1]:.0f} against "
            f"{sizes[0]:.0f} mm, root of their surfaces).",
            hint="Check the units and the check lengths of both scans.",
        )
    # 150 cells along the root of the surface make some 20,000 points a scan; a cell narrower than the scan's own
    # spacing would hold points of one triangle only, whose noise is one and the same.
    spacing = max(float(np.sqrt(2.0 * mesh.area / len(mesh.faces))) for mesh in (base, impression))
    cell = float(np.clip(sizes[0] / 150.0, min(1.5 * spacing, sizes[0] / 40.0), sizes[0] / 40.0))
    is_dense = all(len(mesh.vertices) * cell**2 >= LEAST_CORNERS * mesh.area for mesh in (base, impression))
    of_base, of_impression = both(
        partial(_prepared, base, cell, is_dense, np.random.default_rng((seed, 0))),
        partial(_prepared, impression, cell, is_dense, np.random.default_rng((seed, 1))),
    )
    size = float(np.sqrt(np.square(of_base.ready.cloud.points).sum(axis=1).mean()))
    ready = BothScans(of_base.ready, of_impression.ready, of_base.fitted, of_impression.fitted, size)
    return Scans(ready, of_base.middle, of_impression.middle, of_base.held, of_impression.held)


@dataclass(frozen=True, eq=False)
class _Prepared:
    ready: Ready
    middle: Float  # (3,), mm; of the cloud before it was centered
    fitted: Cloud
    held: Cloud


def _prepared(mesh: TriMesh, cell: float, is_dense: bool, rng: np.random.Generator) -> _Prepared:
    cloud = make_cloud(mesh, cell, rng, is_dense=is_dense)
    middle = cloud.points.mean(axis=0)
    ready = make_ready(replace(cloud, points=cloud.points - middle))
    fit, held = split_held_back(ready.cloud, HELD_BACK, rng)
    return _Prepared(ready, middle, ready.cloud.taken(fit), ready.cloud.taken(held))
