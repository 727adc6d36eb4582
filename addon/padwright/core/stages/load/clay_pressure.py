"""The pressure under which the clay took the body's shape, between two ends: it was never measured."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float, TriMesh
from ..body.clay_ways import EDGE, way_to_edge
from .load_case import ContactPatch


def clay_pressure(patch: ContactPatch, touch: Float, force_mn: float) -> Float:
    """Return the least and the most heaped up pressure the clay can have borne, (2, n), kPa; both add up to the force.

    The patch has faces; its thickness stands for the clay that was left. The force is that with which it was pressed.
    Touch, (n,), is 1 where the body pressed the clay and falls to 0 where it only just touched it.

    Notes
    -----
    Clay flows: it bears no more than moves it. Where it slips along the film and the base, nothing holds it back and
    the pressure is even. Where it sticks to both, its shear strength k holds it back all the way to the edge: from
    there inward the pressure rises by 2 k / h a millimeter, h the clay left, so that it is highest in the middle and
    where the clay is thin (squeezing between rough plates, Prandtl 1923; Hill 1950, chapter 8; cited, not read). With
    `EDGE` that is p = 2 k (EDGE + L), L the least sum of ds / h on a way to the edge. How strong the clay is falls
    out, as the force is known. Ways along the triangles' sides are longer than straight ones by up to a tenth; only
    the shape counts.
    """
    even = _summing_to(touch, patch.area_mm2, force_mn)
    far = None if patch.faces is None else way_to_edge(TriMesh(patch.position, patch.faces), patch.thickness_mm, touch)
    heaped = even if far is None else _summing_to(touch * (EDGE + far), patch.area_mm2, force_mn)
    return np.stack([even, heaped])


def _summing_to(pressure: Float, area: Float, force_mn: float) -> Float:
    return np.asarray(pressure * (force_mn / float(pressure @ area)))
