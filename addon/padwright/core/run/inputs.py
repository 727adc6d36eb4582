"""From the job's words to what each stage takes: points into the part frame, files into arrays."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import numpy as np

from ..base.errors import InputError
from ..base.files import MOST_SCAN_BYTES, MOST_TABLE_BYTES, read_named
from ..base.mesh import Float, TriMesh
from ..base.progress import drain
from ..base.text import counted
from ..base.units import mm_per_unit
from ..geometry.frames import datum_frame, moved
from ..geometry.symmetry import mesh_mid_plane
from ..job.read import blame_key
from ..job.schema import Job, Point, Zone
from ..stages.packing.sidecar_parts import InputFile
from ..stages.pad.envelope import check_envelope
from ..stages.pad.pad_settings import PadSettings
from ..stages.pad.relief import Relief
from ..stages.reading.center_choice import CentreMark
from ..stages.scans.clean import clean_scan
from ..stages.scans.read import read_scan
from ..stages.zones.blends import Blend
from ..stages.zones.pressure_grid import grid_weights, read_grid
from ..stages.zones.weights_file import read_weights
from ..stages.zones.zone_sources import Colour, DepthBand, LoadCentres, Outline, Rest, Weights, ZoneSource
from ..stages.zones.zones import ZoneRequest
from .parts import Part, Scan

_LEAST_FOOTPRINT_MM = 5.0
"""No part is smaller, the pads of a nose among them: such an outline is a slip of units. A choice of ours."""


def read_file(folder: Path, name: str, what: str) -> tuple[bytes, InputFile]:
    """Return a file's bytes and its record.

    Raises
    ------
    InputError
        When it cannot be read.
    """
    most = MOST_SCAN_BYTES if "scan" in what or what == "envelope" else MOST_TABLE_BYTES
    data = read_named(folder / name, f"The {what}", most_bytes=most)
    role = {"base scan": "base_scan", "impression scan": "impression_scan", "envelope": "envelope"}.get(what, "other")
    return data, InputFile(role, name, hashlib.sha256(data).hexdigest(), len(data))


def body_points(part: Part, points: Sequence[Point], on: str) -> Float:
    """Return points in a scan file's own numbers in the part frame, (k, 3), mm.

    Raises
    ------
    InputError
        When they lie on an impression that there is not, or farther from the scan than it is long.
    """
    place = np.asarray(points, dtype=np.float64)
    if on == "base":
        placed = moved(part.to_part, place * mm_per_unit(part.base.unit) * part.base.factor)
        refuse_far_points(place, placed, part.base.mesh, "base scan")
        return placed
    if part.impression is None or part.alignment is None:
        raise InputError("Points are said to lie on the impression scan, but the job has none.")
    scaled = place * mm_per_unit(part.impression.unit) * part.impression.factor
    refuse_far_points(place, scaled, part.impression.mesh, "impression scan")
    return moved(part.alignment.matrix, scaled)


def centre_marks(part: Part) -> tuple[CentreMark, ...]:
    """Return what the job says of single load centres, in the part frame."""
    given = () if part.job.impression is None else part.job.impression.load_centers
    with blame_key("impression", "load_centers"):
        return tuple(
            CentreMark(body_points(part, [mark.near], "base")[0], mark.within_mm, mark.use, mark.name) for mark in given
        )


def refuse_far_points(given: Float, placed: Float, mesh: TriMesh, what: str) -> None:
    """Refuse points that lie farther from a scan than it is long.

    Such a point belongs to another scan or unit, and what is built to reach it grows beyond all memory.

    Parameters
    ----------
    given : (k, 3) float
        In the file's own numbers, to name them.
    placed : (k, 3) float, mm
        In the mesh's frame.
    mesh : TriMesh, mm
    what : str
        Name of the scan for messages.

    Raises
    ------
    InputError
        With the farthest point, its distance and the scan's length.
    """
    low, high = mesh.bounds
    length = float((high - low).max())
    beyond = np.maximum(low - placed, placed - high).max(axis=1)
    worst = int(np.argmax(beyond))
    if beyond[worst] > length:
        at = ", ".join(f"{value:.6g}" for value in given[worst])
        raise InputError(
            f"Point {worst + 1} at ({at}) lies {beyond[worst]:.4g} mm away from the {what}, which is {length:.4g} mm "
            "long.",
            hint="Give points in that scan file's own numbers. Is it a point of the other scan?",
        )


def job_datum(job: Job, base: Scan) -> Float:
    """Return the 4x4 from the base scan's frame (mm, scale corrected) to the part frame.

    Raises
    ------
    InputError
        When a datum is given in part only.
    """
    datum = job.datum
    if datum.symmetric:
        plane = mesh_mid_plane(base.mesh)
        turn = np.eye(4)
        turn[:3, :3] = _frame_with_x(plane.normal)
        turn[:3, 3] = -turn[:3, :3] @ plane.point
        return turn
    if datum.plane is None and datum.line is None and datum.point is None:
        return np.eye(4)
    if datum.plane is None or datum.line is None or datum.point is None:
        raise InputError(
            "The [datum] is incomplete.", hint="Give plane (3 points), line (2 points) and point (1), or none of them."
        )
    scale = mm_per_unit(base.unit) * base.factor
    plane_points, line_points, origin = (np.asarray(p, float) * scale for p in (datum.plane, datum.line, datum.point))
    areas = base.mesh.vertex_areas[:, None]
    facing = (base.mesh.vertex_normals * areas).sum(axis=0) / areas.sum()
    return datum_frame(plane_points, line_points, origin, outside=plane_points.mean(axis=0) + 1e3 * facing)


def _frame_with_x(normal: Float) -> Float:
    """Return the rotation that turns a normal to x and moves the other axes as little as it can."""
    side = np.eye(3)[2] - normal[2] * normal if abs(normal[2]) < 0.9 else np.eye(3)[1] - normal[1] * normal
    side = side / np.linalg.norm(side)
    return np.stack([normal, np.cross(side, normal), side])


def pad_settings(part: Part, folder: Path) -> tuple[PadSettings, tuple[InputFile, ...]]:
    """Return what the job asks of the pad, in the part frame, and the records of files it read."""
    given = part.job.pad
    records: list[InputFile] = []
    envelope: TriMesh | None = None
    if given.envelope is not None:
        data, record = read_file(folder, given.envelope, "envelope")
        records.append(record)
        read = read_scan(data, given.envelope)
        solid = drain(clean_scan(read.mesh.scaled(mm_per_unit(given.envelope_unit)), role="envelope")).mesh
        if not solid.is_closed:
            raise InputError(
                f'The envelope "{given.envelope}" is not closed: {counted(len(solid.boundary_edges), "open edge")}.',
                hint="Close it in the modeller.",
            )
        envelope = solid.transformed(part.to_part)
        with blame_key("pad", "envelope"):
            check_envelope(envelope, part.base.mesh)
    outline = None
    if given.footprint is not None:
        with blame_key("pad", "footprint"):
            outline = body_points(part, given.footprint, given.footprint_on)
            across = float(np.ptp(outline, axis=0).max())
            if across < _LEAST_FOOTPRINT_MM:
                raise InputError(
                    f"The footprint is {across:.3g} mm across; {_LEAST_FOOTPRINT_MM:g} mm is the least.",
                    hint="Give its points in the scan file's own numbers.",
                )
    reliefs = tuple(_relief(part, index) for index in range(len(given.reliefs)))
    # The base edge is rounded to 1 mm, so that nothing cuts into skin, or less where the rim leaves no room.
    edge = min(1.0, max(given.least_thickness_mm - given.rim_radius_mm, 0.0))
    return PadSettings(
        fit_gap_mm=given.fit_gap_mm,
        least_thickness_mm=given.least_thickness_mm,
        rim_radius_mm=min(given.rim_radius_mm, given.least_thickness_mm),
        base_edge_radius_mm=edge,
        cover_mm=given.cover_mm,
        outline=outline,
        envelope=envelope,
        reliefs=reliefs,
        footprint_from=given.footprint_from,
        contact_margin_mm=given.contact_margin_mm,
    ), tuple(records)


def _relief(part: Part, index: int) -> Relief:
    given = part.job.pad.reliefs[index]
    with blame_key("pad", "reliefs", index, "points"):
        points = body_points(part, given.points, given.points_on)
    with blame_key("pad", "reliefs", index):
        kind: Literal["opening", "channel"] = "opening" if given.kind == "opening" else "channel"
        return Relief(kind, points, given.width_mm or 0.0, given.depth_mm or 0.0, given.edge_radius_mm)


def zone_requests(part: Part, folder: Path) -> tuple[tuple[ZoneRequest, ...], tuple[InputFile, ...]]:
    """Return the job's zones as requests, and the records of files they were read from."""
    requests, records = [], []
    for index, zone in enumerate(part.job.zones):
        with blame_key("zones", index):
            source, record = _zone_source(part, zone, folder)
        requests.append(ZoneRequest(zone.name, zone.level, source))
        records += [record] if record is not None else []
    return tuple(requests), tuple(records)


def _zone_source(part: Part, zone: Zone, folder: Path) -> tuple[ZoneSource, InputFile | None]:
    on = zone.points_on or "base"
    if zone.source == "load_centers":
        return LoadCentres(float(zone.radius_mm or 0.0), zone.load_centers or ()), None
    if zone.source == "imprint_depth":
        low = -np.inf if zone.from_mm is None else zone.from_mm
        return DepthBand(low, np.inf if zone.to_mm is None else zone.to_mm), None
    if zone.source == "outline":
        return Outline(body_points(part, zone.points or (), on)), None
    if zone.source == "color_marks":
        tolerance = {} if zone.color_tolerance is None else {"tolerance": zone.color_tolerance}
        return Colour(str(zone.color), **tolerance), None
    if zone.source == "weights":
        data, record = read_file(folder, str(zone.file), f'weights of zone "{zone.name}"')
        return Weights(*read_weights(data, str(zone.file))), record
    if zone.source == "pressure_grid":
        data, record = read_file(folder, str(zone.file), f'pressure grid of zone "{zone.name}"')
        cells = np.array([place.cell for place in zone.places], dtype=np.float64)
        points = body_points(part, [place.point for place in zone.places], on)
        positions, weights = grid_weights(
            read_grid(data, str(zone.file)), cells, points, part.pad, zone.from_kpa, zone.to_kpa
        )
        return Weights(positions, weights), record
    return Rest(), None


def blends_of(job: Job) -> tuple[Blend, ...]:
    """Return the job's blends: single pairs first, then the one for all other neighbours."""
    pairs = tuple(
        Blend(
            job.blend.steps if each.steps is None else each.steps,
            job.blend.width_mm if each.width_mm is None else each.width_mm,
            (each.zones[0], each.zones[1]),
        )
        for each in job.blend.between
    )
    return (*pairs, Blend(job.blend.steps, job.blend.width_mm))
