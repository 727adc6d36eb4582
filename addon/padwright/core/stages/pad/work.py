"""The stage: build the pad between base and body."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ...base.errors import InputError
from ...base.files import InputFile
from ...base.mesh import TriMesh
from ...base.progress import Steps, drain
from ...base.text import counted
from ...base.units import mm_per_unit
from ...job.read import blame_key
from ...job.schema import Job, Pad, Relief
from ..alignment.placed_scans import PlacedScans, body_points, turned
from ..alignment.points_beside import way_onto
from ..reading.work import ReadBodySide
from ..scans.clean import clean_scan
from ..scans.read import read_scan
from ..stage import Given
from .envelope import check_envelope
from .pad import BuiltPad, build_pad
from .pad_settings import BaseOnly, PadSettings
from .relief import PlacedRelief

_LEAST_FOOTPRINT_MM = 5.0
"""No part is smaller, the pads of a nose among them: such an outline is a slip of units. A choice of ours."""


@dataclass(frozen=True, eq=False)
class ShapedPad:
    """What the stage gives."""

    pad: BuiltPad
    inputs: tuple[InputFile, ...] = ()


def shape_pad(given: Given, _: None = None) -> Steps[ShapedPad]:
    """Build the pad."""
    scans, side = given.of(PlacedScans), given.of(ReadBodySide)
    settings, records = pad_settings(given, scans)
    press = given.job.body.press_direction
    reading = side.reading or BaseOnly(None if isinstance(press, str) else turned(scans.to_part, press))
    scanned = None
    if scans.impression is not None and scans.alignment is not None:
        scanned = scans.impression.mesh.transformed(scans.alignment.matrix)
    try:
        pad = yield from build_pad(scans.base.mesh, side.mesh, reading, settings, scanned)
    except InputError as error:
        raise _shown_the_way(error, given.job.pad, scans, side) from error
    return ShapedPad(pad, records)


def _shown_the_way(error: InputError, asked: Pad, scans: PlacedScans, side: ReadBodySide) -> InputError:
    """Return the error of points beside the clay with where that lies in the person's own numbers."""
    if side.reading is None or side.mesh is None:
        return error
    clay = side.mesh.vertices[side.reading.is_clay & ~side.reading.is_wall]
    if error.key == ("pad", "footprint") and asked.footprint is not None:
        points, on = asked.footprint, asked.footprint_on
    elif error.key[:2] == ("pad", "reliefs") and len(error.key) > 3:
        relief = asked.reliefs[int(error.key[2])]
        points, on = relief.points, relief.points_on
    else:
        return error
    told = InputError(error.message, hint=way_onto(scans, points, on, clay, "the clay"))
    told.key = error.key
    return told


def check_press(job: Job) -> None:
    """Refuse, before any work, to look for the press direction where there is no body side to find it from.

    Raises InputError when the job has no impression and gives no direction.
    """
    if job.impression is None and job.body.press_direction == "auto":
        with blame_key("body", "press_direction"):
            raise InputError(
                "Without an impression the press direction cannot be found.",
                hint="Give three numbers in the base scan's axes.",
            )


def pad_settings(given: Given, scans: PlacedScans) -> tuple[PadSettings, tuple[InputFile, ...]]:
    """Return what the job asks of the pad, in the part frame, and the records of files it read."""
    asked = given.job.pad
    records: list[InputFile] = []
    envelope: TriMesh | None = None
    if asked.envelope is not None:
        data, record = given.read(asked.envelope, "envelope", "envelope")
        records.append(record)
        read = read_scan(data, asked.envelope)
        solid = drain(clean_scan(read.mesh.scaled(mm_per_unit(asked.envelope_unit)), role="envelope")).mesh
        if not solid.is_closed:
            raise InputError(
                f'The envelope "{asked.envelope}" is not closed: {counted(len(solid.boundary_edges), "open edge")}.',
                hint="Close it in the modeller.",
            )
        envelope = solid.transformed(scans.to_part)
        with blame_key("pad", "envelope"):
            check_envelope(envelope, scans.base.mesh)
    outline = None
    if asked.footprint is not None:
        with blame_key("pad", "footprint"):
            outline = body_points(scans, asked.footprint, asked.footprint_on)
            across = float(np.ptp(outline, axis=0).max())
            if across < _LEAST_FOOTPRINT_MM:
                raise InputError(
                    f"The footprint is {across:.3g} mm across; {_LEAST_FOOTPRINT_MM:g} mm is the least.",
                    hint="Give its points in the scan file's own numbers.",
                )
    reliefs = tuple(_relief(scans, index, asked.reliefs[index]) for index in range(len(asked.reliefs)))
    # The base edge is rounded to 1 mm, so that nothing cuts into skin, or less where the rim leaves no room.
    edge = min(1.0, max(asked.least_thickness_mm - asked.rim_radius_mm, 0.0))
    return PadSettings(
        fit_gap_mm=asked.fit_gap_mm,
        least_thickness_mm=asked.least_thickness_mm,
        rim_radius_mm=min(asked.rim_radius_mm, asked.least_thickness_mm),
        base_edge_radius_mm=edge,
        cover_mm=asked.cover_mm,
        outline=outline,
        envelope=envelope,
        reliefs=reliefs,
        footprint_from=asked.footprint_from,
        contact_margin_mm=asked.contact_margin_mm,
    ), tuple(records)


def _relief(scans: PlacedScans, index: int, asked: Relief) -> PlacedRelief:
    with blame_key("pad", "reliefs", index, "points"):
        points = body_points(scans, asked.points, asked.points_on)
    with blame_key("pad", "reliefs", index):
        kind: Literal["opening", "channel"] = "opening" if asked.kind == "opening" else "channel"
        return PlacedRelief(kind, points, asked.width_mm or 0.0, asked.depth_mm or 0.0, asked.edge_radius_mm)
