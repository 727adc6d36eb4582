"""What the artist's paint can be begun from and mirrored in, by the same stages as a run."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from ..base.errors import InputError, SolveError
from ..base.mesh import Float
from ..geometry.mid_plane import mesh_mid_plane
from ..stages import zones
from ..stages.reading.left_right import SidePlane
from ..stages.stage import Given, known_places
from ..stages.zones.paint import source_share
from ..stages.zones.work import zone_requests
from .parts import MadePart
from .stages import STAGES

PLANES = ("found", "x", "y", "z")


def mirror_plane(part: MadePart, name: str = "found") -> SidePlane:
    """Return the plane to mirror in, part frame, mm.

    "found" is the base's mid-plane, read from the clay where there is an impression; "x", "y" and "z" lie across that
    axis of the base scan, through the middle of its box.

    Raises InputError when the name is not known, or the base has no mid-plane.
    """
    if name not in PLANES:
        raise InputError(f'The plane "{name}" is not known.', hint=f"Use one of {', '.join(PLANES)}.")
    if name != "found":
        normal = part.to_part[:3, :3] @ np.eye(3)["xyz".index(name)]
        return SidePlane(part.base.mesh.bounds.mean(axis=0), normal, 0.0)
    if part.reading is not None and part.reading.left_right is not None:
        return _turned_to_plus(part, part.reading.left_right.plane)
    try:
        plane = mesh_mid_plane(part.base.mesh)
    except SolveError as error:
        raise InputError(error.message, hint="Mirror across an axis of the base scan instead.") from None
    return _turned_to_plus(part, SidePlane(plane.point, plane.normal, plane.rms_mm))


def side_name(part: MadePart, plane: SidePlane) -> str:
    """Return which axis of the base scan a plane lies across, in words."""
    along = part.to_part[:3, :3].T @ np.asarray(plane.normal)
    return f"the mid-plane along {'XYZ'[int(np.abs(along).argmax())]}"


def _turned_to_plus(part: MadePart, plane: SidePlane) -> SidePlane:
    """Return the plane with its normal along, not against, the axis of the base scan that is nearest to it."""
    along = part.to_part[:3, :3].T @ np.asarray(plane.normal)
    is_against = along[int(np.abs(along).argmax())] < 0.0
    return replace(plane, normal=-np.asarray(plane.normal)) if is_against else plane


def zone_data(part: MadePart, number: int, folder: Path) -> Float:
    """Return the share of every pad vertex, (n,), that the data of one of the job's zones gives by itself.

    Raises InputError as `source_share`.
    """
    assert part.pad is not None
    given = Given(known_places(STAGES, zones.STAGE, part.job), part.job, part.found, folder)
    requests, *_ = zone_requests(given)
    return source_share(part.pad, part.reading, requests[number].source, part.aligned)
