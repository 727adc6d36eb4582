"""Where the body bears on the pad."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float
from ...base.notes import to_look_at
from ...geometry.pad_length import edge_distance
from ...job.read import blame_key
from ..body.pressed import BodyShape
from ..mats.laid_mat import LaidMat
from ..pad.pad import BuiltPad
from .body_shape import hovering
from .clay_pressure import clay_pressure
from .contact_solve import MN_PER_N
from .firmness import Ground
from .job_loads import load_cases
from .load_case import ContactPatch, patch_of
from .mat_error import error_ways
from .mat_pressure import mat_pressure

FRINGE_MM = 10.0
"""How far around what counts as contact the body is followed where it touched the clay less deep: our choice."""

FRINGE_DEPTH_MM = 0.5
"""Imprint depth from which clay was touched: several times the noise of two scans (0.1 to 0.2 mm); our choice."""


def contact_patch(ground: Ground, present: list[int]) -> tuple[ContactPatch, tuple[str, ...]]:
    """Return where the body bears on the pad; each place has the zone, of those present, that it belongs to most.

    Around the contact lies a fringe that the body had only just touched. Beyond, it is known where the job has a scan
    of the body: there it bears once it has come down so far, and the contact grows. Left out is what bears nothing:
    where no pad goes down to the base side, and the rim, as wide as it is rounded: a free edge bulges (kept where the
    imprint is nothing but rim).
    """
    pad, plan, reading = ground.pad, ground.zones, ground.reading
    notes: tuple[str, ...] = ()
    touch = pad.is_through.astype(np.float64)
    if reading is None or ground.aligned is None or len(reading.is_contact) != len(ground.aligned.vertices):
        notes = ("Without an impression the whole body side counts as contact.",)
    else:
        _, nearest = cKDTree(ground.aligned.vertices).query(pad.mesh.vertices[pad.is_through])
        depth = np.where(reading.is_wall | ~reading.is_clay, 0.0, reading.imprint_depth)[nearest]
        threshold = ground.job.impression.contact_depth_mm if ground.job.impression is not None else FRINGE_DEPTH_MM
        touch = np.zeros(len(pad.side))
        touch[pad.is_through] = _touch(pad.mesh.vertices[pad.is_through], reading.is_contact[nearest], depth, threshold)
    rim_mm = ground.job.pad.rim_radius_mm
    is_contact, gap = touch > 0.0, pad.gap_mm
    if ground.body is not None and pad.press_direction is None:
        notes = (*notes, to_look_at("The scan of the body was not used: this part is gripped all around."))
    elif ground.body is not None:
        is_contact, gap = _grown(ground.body, pad, is_contact)
    to_edge = edge_distance(pad.mesh, pad.is_through, pad.press_direction)
    is_held = is_contact & (to_edge >= rim_mm)
    if (is_held & (touch > 0.0))[pad.mesh.faces].all(axis=1).any():
        is_contact = is_held
    zone = np.asarray(present)[np.argmax(plan.weights[:, present], axis=1)]
    patch, index = patch_of(pad.mesh, is_contact, pad.thickness, zone.astype(np.int32), pad.press_direction, gap_mm=gap)
    patch = replace(patch, beyond_mm=to_edge[index])
    how = ground.job.impression
    force_mn = _clay_force_mn(ground, patch)
    if force_mn:
        by_mat, note = None, None
        if ground.mat is not None and ground.mat.is_load and ground.pad.press_direction is not None:
            by_mat, note = mat_pressure(ground.mat, patch, touch[index], force_mn)
        notes = (*notes, *([note] if note is not None else []))
        if by_mat is not None and ground.mat is not None:
            return _on_mat(ground.mat, patch, by_mat), notes
        ends = clay_pressure(patch, touch[index], force_mn)
        wanted = "between" if how is None else how.clay_pressure
        patch = replace(patch, clay_kpa=ends if wanted == "between" else ends[[int(wanted == "heaped")] * 2])
    return patch, notes


def _on_mat(laid: LaidMat, patch: ContactPatch, kpa: Float) -> ContactPatch:
    """Return a patch that bore what a mat showed, with how far the mat may be off."""
    if not laid.accuracy:
        return replace(patch, clay_kpa=kpa)
    ways = error_ways(patch.position, patch.area_mm2, kpa[0], laid.cells.plane, laid.accuracy)
    return replace(patch, clay_kpa=kpa, mat_ways=ways)


def _grown(body: BodyShape, pad: BuiltPad, is_contact: Bool) -> tuple[Bool, Float]:
    """Return where the body can come to bear, and how far it is from the pad there."""
    assert pad.press_direction is not None
    is_mixed = is_contact[pad.mesh.faces].any(axis=1) & ~is_contact[pad.mesh.faces].all(axis=1)
    is_edge = np.zeros(len(is_contact), dtype=bool)
    is_edge[pad.mesh.faces[is_mixed]] = True
    with blame_key("body", "scan"):
        above = hovering(body.mesh, pad.mesh.vertices, pad.press_direction, pad.gap_mm, is_edge & is_contact)
    is_beyond = pad.is_through & ~is_contact & np.isfinite(above)
    return is_contact | is_beyond, np.where(is_beyond, above, pad.gap_mm)


def _touch(position: Float, is_contact: Bool, depth: Float, threshold_mm: float) -> Float:
    """Return 1 in the contact, less in the fringe as the imprint gets shallower, 0 elsewhere, (n,)."""
    touch = is_contact.astype(np.float64)
    is_fringe = ~is_contact & (depth > FRINGE_DEPTH_MM)
    if is_contact.any() and is_fringe.any():
        away, _ = cKDTree(position[is_contact]).query(position[is_fringe], distance_upper_bound=FRINGE_MM)
        share = np.clip(depth[is_fringe] / threshold_mm, 0.0, 1.0)
        touch[is_fringe] = np.where(np.isfinite(away), share, 0.0)
    return touch


def _clay_force_mn(ground: Ground, patch: ContactPatch) -> float | None:
    """Return the force the clay was pressed with: the job's, else that of its own load."""
    how = ground.job.impression
    if how is not None and how.pressed_with_n is not None:
        return how.pressed_with_n * MN_PER_N
    for case in load_cases(ground)[:1]:
        if case.force_n is not None:
            return case.force_n * MN_PER_N
        return float(case.mean_pressure_kpa or 0.0) * float(patch.area_mm2.sum())
    return None
