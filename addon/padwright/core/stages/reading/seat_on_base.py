"""Make the body side fair: finger marks, film wrinkles and scan noise off, load centers kept; or both sides alike."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...base.text import placed
from ...geometry.smoothing import SurfaceSmoother
from .impression_reading import ImpressionReading
from .left_right import SidePlane, opposite

_TOLD_WHERE_MM = 0.5
"""A change of a fit gap or more is looked for by the person, so its place is told: a choice of ours."""


@dataclass(frozen=True)
class SettledImpression:
    """An impression whose clay was moved along the press direction, and by how much."""

    mesh: TriMesh  # the same vertices in the same order, moved
    change: Float  # (n,), mm; what was added to the clay thickness
    # of the smooth clay thickness inside the contact patch: how far the imprint's depth was altered.
    largest_change_mm: float
    load_center_change_mm: float  # the largest at a load center
    notes: tuple[str, ...]


def smooth_body_side(impression: TriMesh, reading: ImpressionReading, width_mm: float) -> SettledImpression:
    """Return the impression that was read with its body side smoothed at a width, mm; 0 changes nothing.

    Raises InputError when the width is negative.

    Clay thickness smoothed with its peaks kept (see `SurfaceSmoother`). What stands off by more than three spreads of
    the scan noise is a wrinkle or a mark: it is left out and bridged from around, twice. Outside the contact patch,
    where no body shape is to be kept, the width is doubled. Within three smoothing widths of a load center nothing is
    left out, so that a narrow one is not taken for a mark.
    """
    if not (np.isfinite(width_mm) and width_mm >= 0):
        raise InputError(f"The smoothing width is {width_mm} mm; it must be 0 or more.")
    count = len(impression.vertices)
    if width_mm == 0:
        return SettledImpression(impression, np.zeros(count), 0.0, 0.0, ())
    smoother = SurfaceSmoother(impression).restricted(reading.is_clay & ~reading.is_wall)
    thickness = reading.thickness
    kept = np.zeros(count, dtype=bool)
    if reading.load_centers:
        at = np.stack([center.position_mm for center in reading.load_centers])
        kept = cKDTree(at).query(impression.vertices)[0] < 3.0 * max(width_mm, reading.smoothing_mm)
    known = reading.is_over_base.copy()
    for _ in range(2):
        rough = smoother.smooth(thickness, 2.0 * width_mm, known, steps=2)
        fine = smoother.smooth_keeping_peaks(thickness, width_mm, known)
        off = np.abs(thickness - np.where(reading.is_contact, fine, rough))
        known = reading.is_over_base & (kept | (off <= 3.0 * max(reading.noise_mm, 0.05)))
    fine = smoother.smooth_keeping_peaks(thickness, width_mm, known)
    rough = smoother.smooth_keeping_peaks(thickness, 2.0 * width_mm, known)
    inside = smoother.smooth(reading.is_contact.astype(np.float64), width_mm)
    target = inside * fine + (1.0 - inside) * rough
    return _moved(impression, reading, target, target - reading.smooth_thickness, "Smoothing the body side")


def average_left_right(impression: TriMesh, reading: ImpressionReading, plane: SidePlane) -> SettledImpression:
    """Return the impression with the clay of both sides made alike: each place takes the mean with its mirror.

    The plane is the base's, `reading.left_right.plane` or one drawn. Raises InputError when the part wraps around. Clay
    without a counterpart keeps its thickness; the change fades over one smoothing width.
    """
    if reading.press_direction is None:
        raise InputError("A wrap-around part has no left and right to average.", hint="Turn the averaging off.")
    other, has_mate = opposite(
        impression, reading.smooth_thickness, reading.is_clay & ~reading.is_wall, plane, reading.press_direction
    )
    change = np.where(has_mate, 0.5 * (other - reading.smooth_thickness), 0.0)
    smoother = SurfaceSmoother(impression).restricted(reading.is_clay & ~reading.is_wall)
    change = smoother.smooth(change, reading.smoothing_mm / 2.5)
    return _moved(impression, reading, reading.thickness + change, change, "Averaging left and right")


def _moved(
    impression: TriMesh, reading: ImpressionReading, target: Float, shift: Float, what: str
) -> SettledImpression:
    facing = np.einsum("ij,ij->i", impression.vertex_normals, -reading.inward)
    # On the clay's outer wall the press direction runs along the surface: moving there would not smooth it.
    share = np.clip((facing - 0.2) / 0.3, 0.0, 1.0) * (reading.is_clay & ~reading.is_wall)
    change = share * (target - reading.thickness)
    mesh = replace(impression, vertices=impression.vertices - change[:, None] * reading.inward)
    # A move that takes noise off leaves the smooth thickness as it is, and where nothing was moved nothing changed.
    altered = np.where(reading.is_contact, np.minimum(np.abs(share * shift), np.abs(change)), 0.0)
    worst = int(np.argmax(altered))
    largest = float(altered[worst])
    at_center = 0.0
    if reading.load_centers:
        at = np.stack([center.position_mm for center in reading.load_centers])
        nearest = cKDTree(impression.vertices).query(at)[1]
        at_center = float(altered[nearest].max())
    note = f"{what} changes the imprint's depth by at most {largest:.2f} mm"
    note += f" at {placed(impression.vertices[worst])} mm" if largest >= _TOLD_WHERE_MM else ""
    note += f", at the load centers by at most {at_center:.2f} mm." if reading.load_centers else "."
    return SettledImpression(mesh, change, largest, at_center, (note,))
