"""How sure a scan's size is, in a few lines for the person."""

from __future__ import annotations

import numpy as np

from .scale import ScaleFit


def scale_facts(fit: ScaleFit | None, factor: float, scan: str) -> tuple[str, ...]:
    """Return what the size of a scan rests on; one sentence each.

    Parameters
    ----------
    fit : ScaleFit, optional
        None where the factor was taken over.
    factor : float
    scan : str
        "base" or "impression".
    """
    title = scan.capitalize()
    if fit is None:
        return (f"{title}: scaled by {factor:.5f}, taken over.",)
    if fit.standard_error is None:
        return (f"{title}: its size is not checked.",)
    count = len(fit.names)
    by = f"{count} check length" if count == 1 else f"{count} check lengths"
    lines = [f"{title}: scaled by {factor:.5f}, standard error {fit.standard_error:.5f}, from {by}."]
    if count > 1:
        worst = int(np.argmax(np.abs(fit.residuals_mm)))
        lines.append(f"At most {abs(fit.residuals_mm[worst]):.2f} mm are left over, at {fit.names[worst]}.")
    if fit.outlier is not None:
        lines.append(f"{fit.names[fit.outlier]} does not fit the others: measure it again.")
    return tuple(lines)
