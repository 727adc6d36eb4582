"""The pressure that a mat showed as that under which the body took its shape: measured, where the clay's never was."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float
from ...base.notes import Note, on_change
from ..mats.laid_mat import LaidMat
from .load_case import ContactPatch

_LEAST_SHARE = 0.01  # of the mean: what bears less than a mat can tell still touches, as the clay shows; our choice
_LEAST_TOUCHED = 0.5  # of the contact that must lie on the mat; our choice


def mat_pressure(laid: LaidMat, patch: ContactPatch, touch: Float, force_mn: float) -> tuple[Float | None, Note | None]:
    """Return the mat's pressure on a patch, (2, n) kPa, both rows alike, adding up to the force; and what to say of it.

    Touch, (n,), is 1 where the body pressed the clay and 0 where it did not: there nothing bears. Only the mat's shape
    counts. None where too little of the contact lies on the mat.
    """
    is_touched = touch > 0.0
    area = patch.area_mm2
    on_mat = float(area[is_touched & laid.covers(patch.position)].sum()) / max(float(area[is_touched].sum()), 1e-9)
    shown = np.where(is_touched, laid.at(patch.position), 0.0)
    total = float(shown @ area)
    if on_mat < _LEAST_TOUCHED or total <= 0.0:
        return None, on_change(
            f"The mat was not used for the load: {100.0 * on_mat:.0f} % of where the body bears lies on it."
        )
    mean = total / float(area[is_touched].sum())
    shown = np.where(is_touched, np.maximum(shown, _LEAST_SHARE * mean), 0.0)
    scaled = shown * (force_mn / float(shown @ area))
    return np.stack([scaled, scaled]), None
