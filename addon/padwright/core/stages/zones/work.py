"""The stage: say which part of the pad is how firm."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import InputError
from ...base.files import InputFile
from ...base.notes import as_heavy
from ...base.progress import Progress, Steps
from ...geometry.through import BODY_SIDE
from ...job.read import blame_key
from ...job.schema import Job, Zone
from ..alignment.placed_scans import PlacedScans, body_points
from ..alignment.points_beside import way_onto
from ..mats.work import MatResult
from ..pad.pad import BuiltPad
from ..pad.work import ShapedPad
from ..reading.work import ReadBodySide
from ..stage import Given
from .blends import BlendWish
from .colored import OF_COLORS, colored_source, marked_scan
from .marks import FoundMarks, MarkedScan
from .pressure_grid import Ends, mat_weights, own_mat
from .weights_file import read_weights
from .zone_sources import DepthBand, LoadCenters, Outline, Rest, Weights, ZoneSource
from .zones import ZonePlan, ZoneRequest, plan_zones


@dataclass(frozen=True, eq=False)
class PlannedZones:
    """What the stage gives."""

    plan: ZonePlan
    inputs: tuple[InputFile, ...] = ()
    marks: tuple[tuple[str, FoundMarks], ...] = ()  # name of the zone, what was found for it on the scan's colors


def plan(given: Given, _: None = None) -> Steps[PlannedZones]:
    """Say which part of the pad is how firm."""
    yield Progress(0.0, "planning the zones")
    pad, side = given.of(ShapedPad).pad, given.of(ReadBodySide)
    requests, records, said = zone_requests(given)
    if side.too_deep is not None and any(isinstance(each.source, LoadCenters) for each in requests):
        raise side.too_deep.error()
    try:
        with blame_key("zones"):
            zones = plan_zones(pad, side.reading, requests, impression=side.mesh, blends=blends_of(given.job))
    except InputError as error:
        raise _shown_the_way(error, given, pad) from error
    marks = tuple((each.name, each.source) for each in requests if isinstance(each.source, FoundMarks))
    noted = tuple(note for _, found in marks for note in found.notes)
    return PlannedZones(replace(zones, notes=(*zones.notes, *noted, *said)), records, marks)


def _shown_the_way(error: InputError, given: Given, pad: BuiltPad) -> InputError:
    """Return the error of a drawn zone that covers nothing with where the pad lies in the person's own numbers."""
    zone = given.job.zones[int(error.within[0])] if error.within else None
    if zone is None or not zone.points or "covers nothing" not in error.message:
        return error
    body = pad.mesh.vertices[pad.side == BODY_SIDE]
    way = way_onto(given.of(PlacedScans), zone.points, zone.points_on or "base", body, "the pad")
    told = InputError(error.message, hint=f"{way} If it lies on the pad, zones before it take all of it: move it up.")
    told.key = (*error.key, "points")
    return told


def zone_requests(given: Given) -> tuple[tuple[ZoneRequest, ...], tuple[InputFile, ...], tuple[str, ...]]:
    """Return the job's zones as requests, the records of files they were read from, and what to say of those."""
    requests, records = [], []
    notes: list[str] = []
    scan: MarkedScan | None = None
    for index, zone in enumerate(given.job.zones):
        with blame_key("zones", index):
            if zone.source in OF_COLORS:
                if scan is None:
                    scan, read = marked_scan(given)
                    records += read
                source: ZoneSource = colored_source(scan, zone, given.job.zones)
            else:
                source, record, said = _zone_source(given, zone)
                records += [record] if record is not None else []
                notes += [as_heavy(f'Zone "{zone.name}": {note}', note) for note in said]
        requests.append(ZoneRequest(zone.name, zone.level, source, zone.stiffness_times))
    return tuple(requests), tuple(records), tuple(notes)


def _zone_source(given: Given, zone: Zone) -> tuple[ZoneSource, InputFile | None, tuple[str, ...]]:
    """Return a zone's source, the record of the file it was read from, and what to say of that."""
    on = zone.points_on or "base"
    if zone.source == "load_centers":
        return LoadCenters(float(zone.radius_mm or 0.0), zone.load_centers or ()), None, ()
    if zone.source == "imprint_depth":
        low = -np.inf if zone.from_mm is None else zone.from_mm
        return DepthBand(low, np.inf if zone.to_mm is None else zone.to_mm), None, ()
    if zone.source == "outline":
        return Outline(body_points(given.of(PlacedScans), zone.points or (), on)), None, ()
    if zone.source == "weights":
        data, record = given.read(str(zone.file), f'weights of zone "{zone.name}"')
        return Weights(*read_weights(data, str(zone.file))), record, ()
    if zone.source == "pressure_grid":
        pad = given.of(ShapedPad).pad
        ends = Ends(zone.from_kpa, zone.to_kpa, zone.from_pct, zone.to_pct)
        if zone.file is None:
            return Weights(*mat_weights(given.of(MatResult).laid, pad, ends)), None, ()
        data, record = given.read(zone.file, f'pressure grid of zone "{zone.name}"')
        cells = np.array([place.cell for place in zone.places], dtype=np.float64)
        points = body_points(given.of(PlacedScans), [place.point for place in zone.places], on)
        laid = own_mat(data, zone.file, cells, points, pad)
        return Weights(*mat_weights(laid, pad, ends)), record, laid.notes
    return Rest(), None, ()


def blends_of(job: Job) -> tuple[BlendWish, ...]:
    """Return the job's blends: single pairs first, then the one for all other neighbors."""
    pairs = tuple(
        BlendWish(
            job.blend.steps if each.steps is None else each.steps,
            job.blend.width_mm if each.width_mm is None else each.width_mm,
            (each.zones[0], each.zones[1]),
        )
        for each in job.blend.between
    )
    return (*pairs, BlendWish(job.blend.steps, job.blend.width_mm))
