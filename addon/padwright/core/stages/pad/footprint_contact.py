"""A footprint that ends around what the body pressed, for clay that goes on far beyond it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.errors import SolveError
from ...base.mesh import Bool, Float, TriMesh
from ...base.notes import on_change, to_act_on
from ...geometry.implicit import Field, Grid
from .footprint import Footprint
from .pad_settings import PadSettings

_FAR = 2.0
"""Clay that covers more than twice the contact and its margin was not laid for this part (our choice)."""

_BAY_MM = 20.0
"""Half of the widest bay that is closed."""

NEARLY_ALL, _LEAST_CONTACT = 0.8, 0.5
"""A pad with less of the contact is told, with less than half of it refused: not where the body is (our choice)."""

USUAL = {"fit_gap_mm": " (0.2 to 0.6 mm is usual)", "cover_mm": " (0 to 3 mm is usual)"}
"""Common practice, no source."""


def contact_share(footprint: Footprint, grid: Grid, impression: TriMesh, is_contact: Bool) -> float:
    """Return how much of what the body pressed lies within the footprint, 0 to 1; 1 where it pressed nothing."""
    area = np.where(is_contact, impression.vertex_areas, 0.0)
    if not area.any():
        return 1.0
    return float(area[grid.sample(footprint.inside, impression.vertices) > 0.0].sum() / area.sum())


def greatest_taken(settings: PadSettings) -> str:
    """Return which of the pad's keys takes most of the clay: the one to lower where too little is left."""
    taken = {name: float(getattr(settings, name)) for name in ("least_thickness_mm", "fit_gap_mm", "cover_mm")}
    return max(taken, key=lambda name: taken[name])


def missed_contact(
    footprint: Footprint, grid: Grid, impression: TriMesh, is_contact: Bool, settings: PadSettings
) -> str | None:
    """Return what to say where the footprint leaves out some of what the body pressed; None where it has nearly all.

    Raises SolveError when it leaves out more than half.
    """
    has = contact_share(footprint, grid, impression, is_contact)
    if has >= NEARLY_ALL:
        return None
    cover = f" and the cover of {settings.cover_mm:g} mm" if settings.cover_mm else ""
    text = (
        f"Only {100.0 * has:.0f} % of what the body pressed lies on the pad: elsewhere the clay, less the fit gap of "
        f"{settings.fit_gap_mm:g} mm{cover}, is thinner than the {settings.least_thickness_mm:g} mm asked."
    )
    if has < _LEAST_CONTACT:
        greater = greatest_taken(settings)
        usual = USUAL.get(greater, "")
        error = SolveError(text, hint=f"Lower pad.{greater}{usual}, or draw the pad's outline (pad.footprint).")
        error.key = ("pad", greater)
        raise error
    return to_act_on(f"{text} Lower pad.least_thickness_mm if the pad should go on there.")


def ends_around_contact(
    footprint: Footprint, grid: Grid, impression: TriMesh, is_contact: Bool, settings: PadSettings, is_press: bool
) -> Footprint:
    """Return the footprint, cut to what lies around the contact where the settings ask for it.

    The footprint is the clay's; the impression is in the grid's frame, its contact (n,). Raises SolveError when it is
    to end around the contact and there is none. Bays of the contact narrower than four margins, 40 mm at the most (a
    foot's arch), are closed.
    """
    if settings.footprint_from == "clay":
        return footprint
    if not is_contact.any():
        if settings.footprint_from == "auto":
            return footprint
        error = SolveError(
            "The pad is to end around what the body pressed, but no place was pressed deep enough.",
            hint='Set footprint_from = "clay", or lower impression.contact_depth_mm.',
        )
        error.key = ("pad", "footprint_from")
        raise error
    around = _around(grid, impression.vertices[is_contact], settings.contact_margin_mm, is_press)
    inside = np.minimum(footprint.inside, around)
    if is_press:
        area = float((inside[:, :, 0] > 0.0).sum() * grid.step**2)
    else:
        shell = footprint.inside > 0.0
        area = footprint.area_mm2 * float((inside > 0.0).sum()) / max(float(shell.sum()), 1.0)
    if area <= 0.0 or (settings.footprint_from == "auto" and footprint.area_mm2 <= _FAR * area):
        return footprint
    note = on_change(
        f"The clay covers {footprint.area_mm2 / 100.0:.0f} cm2; the pad ends {settings.contact_margin_mm:g} mm around "
        f"what the body pressed and covers {area / 100.0:.0f} cm2. For all of the clay set footprint_from to clay."
    )
    return replace(footprint, inside=inside.astype(np.float32), area_mm2=area, note=note)


def _around(grid: Grid, contact: Float, margin: float, is_press: bool) -> Field:
    """Return the distance inside the line `margin` mm around the contact points, (k, 3); negative outside, mm."""
    if not is_press:
        coarse = grid.coarse()
        points = coarse.points(np.arange(int(np.prod(coarse.shape))))
        away = cKDTree(contact).query(points)[0].reshape(coarse.shape)
        return np.asarray(margin - grid.refine(away), dtype=np.float32)
    # Bays are closed by going outward, filling what is enclosed, and coming back.
    back = min(2.0 * margin, _BAY_MM)
    wide = int(np.ceil((margin + back) / grid.step)) + 2
    axes = [
        np.arange(-wide, count + wide) * grid.step + start for count, start in zip(grid.shape, grid.origin, strict=True)
    ]
    flat = np.stack([axis.ravel() for axis in np.meshgrid(axes[0], axes[1], indexing="ij")], axis=1)
    away = cKDTree(contact[:, :2]).query(flat)[0].reshape(len(axes[0]), len(axes[1]))
    mask = ndimage.binary_fill_holes(away <= margin + back)
    inside = (ndimage.distance_transform_edt(mask) - ndimage.distance_transform_edt(~mask)) * grid.step - back
    smooth = ndimage.gaussian_filter(np.maximum(inside, margin - away), 1.0)[wide:-wide, wide:-wide]
    return np.broadcast_to(smooth.astype(np.float32)[:, :, None], grid.shape)
