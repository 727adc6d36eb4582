"""Where the part frame lies: the job's datum on the base scan."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float
from ...geometry.frames import datum_frame
from ...geometry.mid_plane import mesh_mid_plane
from ...job.schema import Job
from .captured import Scan


def job_datum(job: Job, base: Scan) -> Float:
    """Return the 4x4 from the base scan's frame (mm, scale corrected) to the part frame."""
    datum = job.datum
    if datum.symmetric:
        plane = mesh_mid_plane(base.mesh)
        turn = np.eye(4)
        turn[:3, :3] = _frame_with_x(plane.normal)
        turn[:3, 3] = -turn[:3, :3] @ plane.point
        return turn
    if datum.plane is None or datum.line is None or datum.point is None:  # a job has all three or none
        return np.eye(4)
    given = (datum.plane, datum.line, datum.point)
    plane_points, line_points, origin = (np.asarray(each, float) * base.mm_per_number for each in given)
    areas = base.mesh.vertex_areas[:, None]
    facing = (base.mesh.vertex_normals * areas).sum(axis=0) / areas.sum()
    return datum_frame(plane_points, line_points, origin, outside=plane_points.mean(axis=0) + 1e3 * facing)


def _frame_with_x(normal: Float) -> Float:
    """Return the rotation that turns a normal to x and moves the other axes as little as it can."""
    side = np.eye(3)[2] - normal[2] * normal if abs(normal[2]) < 0.9 else np.eye(3)[1] - normal[1] * normal
    side = side / np.linalg.norm(side)
    return np.stack([normal, np.cross(side, normal), side])
