"""Where the body bears on the pad."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...geometry.pad_length import edge_distance
from .firmness import Ground
from .load_case import ContactPatch, patch_of


def contact_patch(ground: Ground, present: list[int]) -> tuple[ContactPatch, tuple[str, ...]]:
    """Return where the body bears on the pad; each place has the zone, of those present, that it belongs to most.

    Left out is what bears nothing: where no pad goes down to the base side, and the rim, as wide as it is rounded:
    a free edge bulges (kept where the contact is nothing but rim).
    """
    pad, plan, reading = ground.pad, ground.zones, ground.reading
    notes: tuple[str, ...] = ()
    is_contact = pad.is_through
    if reading is None or ground.aligned is None or len(reading.is_contact) != len(ground.aligned.vertices):
        notes = ("Without an impression the whole body side counts as contact.",)
    else:
        _, nearest = cKDTree(ground.aligned.vertices).query(pad.mesh.vertices[pad.is_through])
        is_contact = np.zeros(len(pad.side), dtype=bool)
        is_contact[pad.is_through] = reading.is_contact[nearest]
    rim_mm = ground.job.pad.rim_radius_mm
    is_held = is_contact & (edge_distance(pad.mesh, pad.is_through, pad.press_direction) >= rim_mm)
    if is_held[pad.mesh.faces].all(axis=1).any():
        is_contact = is_held
    zone = np.asarray(present)[np.argmax(plan.weights[:, present], axis=1)]
    patch, _ = patch_of(
        pad.mesh, is_contact, pad.thickness, zone.astype(np.int32), pad.press_direction, gap_mm=pad.gap_mm
    )
    return patch, notes
