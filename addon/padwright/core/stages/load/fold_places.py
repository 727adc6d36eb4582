"""The stiffness of folded walls at every cell, also beside the walls, to be shown as colors."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt

from ...base.mesh import Float
from ..folds.layout import FoldLayout


def kpa_everywhere(layout: FoldLayout, kpa: Float) -> Float:
    """Return stiffness at every cell, (nx, ny) kPa, from what it is where walls stand (0 elsewhere).

    Where the pad is solid it is infinite; beside both, as in the rim's overhang, it is that of the nearest cell.
    """
    known = np.where(layout.is_solid, np.inf, np.where(kpa > 0.0, kpa, np.nan))
    is_unknown = np.isnan(known)
    if is_unknown.all():
        return np.full(kpa.shape, np.inf)
    nearest = distance_transform_edt(is_unknown, return_distances=False, return_indices=True)
    return np.asarray(known[tuple(nearest)])
