"""Which part of the pad is how firm."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, Int, TriMesh
from ...base.notes import on_change, to_act_on
from ...base.slugs import unique_slugs
from ...geometry.smoothing import smoothed
from ...geometry.through import BodySide, PadShape, body_side
from ...job.cards import Family
from ...job.schema import Zone
from ..reading.impression_reading import ImpressionReading
from .blends import BlendWish, blended
from .zone_gaps import without_gaps
from .zone_sources import DepthBand, Rest, SourcePlace, Weights, ZoneSource

SMOOTHING_MM = 2.5
"""Borders are rounded over this length: about the print's own resolution of a change in firmness (a few beads);
common practice, no source."""


@dataclass(frozen=True, eq=False)
class ZoneRequest:
    """One firmness wish."""

    name: str  # the person's own words; two requests of one name and level make one zone
    level: float  # firmness level
    source: ZoneSource  # where the zone is; the order of the requests is their priority
    stiffness_times: float = 1.0  # times as stiff as its level


@dataclass(frozen=True)
class PlanZone:
    """One zone of the plan."""

    id: str
    name: str
    level: float
    area_mm2: float = 0.0  # of the body side, where this zone's weight is the largest
    # For a blend step, the names of the zones it lies between.
    between: tuple[str, str] | None = None
    stiffness_times: float = 1.0  # times as stiff as its level

    def target_kpa(self, family: Family) -> float:
        """Return the modulus that it is to have: that of its level, times what trials taught."""
        return family.target_modulus_kpa(self.level) * self.stiffness_times


@dataclass(frozen=True, eq=False)
class ZonePlan:
    """What every pad vertex belongs to."""

    zones: tuple[PlanZone, ...]
    # (n, k) float: for every pad vertex the share of every zone, 0 to 1, rows sum to 1. Base side and rim carry what
    # the body side has in front of them.
    weights: Float
    label: Int  # (n,) int32, the zone with the largest weight; of equal ones the first
    notes: tuple[str, ...] = ()


def level_words(zone: PlanZone | Zone) -> str:
    """Return how firm a zone is asked for, in words: "level 2", "level 2, 0.67 times"."""
    times = "" if zone.stiffness_times == 1.0 else f", {zone.stiffness_times:g} times as stiff"
    return f"level {zone.level:g}{times}"


def plan_zones(
    pad: PadShape,
    reading: ImpressionReading | None,
    requests: Sequence[ZoneRequest],
    *,
    impression: TriMesh | None = None,
    blends: Sequence[BlendWish] = (),
    smoothing_mm: float = SMOOTHING_MM,
) -> ZonePlan:
    """Say for every pad vertex how much it belongs to which zone.

    The rule: where two requests claim a place, the earlier has it; a place that none claims (share below one half)
    goes to "rest" and, without it, to the nearest zone along the surface. Then the shares are smoothed over the body
    side (`smoothing.smoothed`) and carried through the thickness (`through.BodySide`).

    Raises InputError when there is no request, a level is not a number, one name has two levels, a source asks for what
    is not there, or a zone covers nothing.

    Parameters
    ----------
    reading : ImpressionReading or None
        Load centers and imprint depth; None where no request asks for them.
    requests : sequence of ZoneRequest
        In order of priority.
    impression : TriMesh, optional
        The aligned impression in the part frame, on whose vertices the reading's depths and the colors lie.
    blends : sequence of BlendWish
        Steps of firmness between neighbors.
    smoothing_mm : float
        Length over which borders are rounded.
    """
    names, levels = _named(requests)
    body = body_side(pad)
    place = SourcePlace(body, reading, impression, float(body.mesh.edge_lengths.mean()))
    shares = _cascade(requests, names, place)
    shares, gap_note = without_gaps(body.mesh, shares, _rest_column(requests, names))
    notes = [gap_note] if gap_note else []
    is_empty = shares.max(axis=0) < 0.5
    for column in np.flatnonzero(is_empty):
        if any(r.name == names[column] and not isinstance(r.source, Rest) for r in requests):
            with _of_request(next(i for i, request in enumerate(requests) if request.name == names[column])):
                raise _covers_nothing(names[column], requests, place)
        notes.append(
            to_act_on(f'Nothing is left for the zone "{names[column]}": the others cover the whole body side.')
        )
    kept = np.flatnonzero(~is_empty)
    names, levels = [names[i] for i in kept], [levels[i] for i in kept]
    known_times = {request.name: request.stiffness_times for request in requests}
    times = [known_times[name] for name in names]
    weights = _rounded(body.mesh, _normal(shares[:, kept]), smoothing_mm)
    between: list[tuple[str, str] | None] = [None] * len(names)
    if blends:
        weights, steps, blend_notes = blended(body, weights, names, levels, blends, times)
        notes += blend_notes
        if steps:
            weights = _rounded(body.mesh, weights, smoothing_mm)
        names += [step.name for step in steps]
        levels += [step.level for step in steps]
        times += [step.stiffness_times for step in steps]
        between += [step.between for step in steps]
    rest = {request.name for request in requests if isinstance(request.source, Rest)}
    number = {request.name: index for index, request in reversed(list(enumerate(requests)))}
    return _plan(body, weights, names, levels, times, between, rest, notes, number)


@contextmanager
def _of_request(index: int) -> Iterator[None]:
    """Let an error raised inside say which request it comes from, by its number."""
    try:
        yield
    except InputError as error:
        error.within = error.within or (index,)
        raise


def _plan(
    body: BodySide,
    weights: Float,
    names: Sequence[str],
    levels: Sequence[float],
    times: Sequence[float],
    between: Sequence[tuple[str, str] | None],
    rest: set[str],
    notes: list[str],
    number: Mapping[str, int],
) -> ZonePlan:
    area = np.bincount(weights.argmax(axis=1), body.mesh.vertex_areas, len(names))
    for column in np.flatnonzero(area == 0):
        if names[column] in rest:
            notes.append(
                to_act_on(f'Nothing is left for the zone "{names[column]}": the others cover the whole body side.')
            )
            continue
        if between[column] is None:
            with _of_request(number[names[column]]):
                raise InputError(
                    f'The zone "{names[column]}" is too small: nothing of it is left after rounding its border.',
                    hint="Make it larger, fill in its paint, make its blends narrower, or leave it out.",
                )
        notes.append(on_change(f'The step "{names[column]}" is too narrow to be there; its neighbors meet without it.'))
    kept = np.flatnonzero(area > 0)
    names, levels, between = [names[i] for i in kept], [levels[i] for i in kept], [between[i] for i in kept]
    area, times = area[kept], [times[i] for i in kept]
    on_pad = _normal(body.on_pad(_normal(weights[:, kept])))
    zones = tuple(
        PlanZone(*row) for row in zip(unique_slugs(names), names, levels, area.tolist(), between, times, strict=True)
    )
    return ZonePlan(zones, on_pad, on_pad.argmax(axis=1).astype(np.int32), tuple(notes))


def _covers_nothing(name: str, requests: Sequence[ZoneRequest], place: SourcePlace) -> InputError:
    sources = [request.source for request in requests if request.name == name]
    if len(sources) == 1 and isinstance(sources[0], DepthBand):
        low, high = sources[0].reach(place)
        if high < sources[0].from_mm or low >= sources[0].to_mm:
            asked = f"from {sources[0].from_mm:g}" if high < sources[0].from_mm else f"up to {sources[0].to_mm:g}"
            return InputError(
                f'The zone "{name}" covers nothing: the imprint on the pad is from {low:.1f} to {high:.1f} mm deep; '
                f"the zone asks for {asked} mm.",
                hint=f"Write from_mm between {max(low, 0.0):.0f} and {high:.0f}, and to_mm above it or not at all.",
            )
    weights = [
        request.source.weights for request in requests if request.name == name and isinstance(request.source, Weights)
    ]
    most = max((float(np.max(each)) for each in weights), default=1.0)
    if most < 0.5:
        return InputError(
            f'The zone "{name}" covers nothing of the pad\'s body side: its largest weight is {most:.2f}.',
            hint="From 0.5 on a place belongs to it: paint it stronger.",
        )
    return InputError(
        f'The zone "{name}" covers nothing of the pad\'s body side.',
        hint="Check where it is drawn, or whether zones before it take all of it.",
    )


def _named(requests: Sequence[ZoneRequest]) -> tuple[list[str], list[float]]:
    """Return the zones' names and levels, in order, checked."""
    if not requests:
        raise InputError("There is no zone.", hint='Ask for at least one, such as "rest".')
    level_of: dict[str, float] = {}
    for request in requests:
        if not np.isfinite(request.level):
            raise InputError(f'The level of the zone "{request.name}" is {request.level}; it must be a number.')
        if level_of.setdefault(request.name, float(request.level)) != request.level:
            raise InputError(
                f'The zone "{request.name}" has two levels, {level_of[request.name]:g} and {request.level:g}.',
                hint="Give the two zones different names.",
            )
    return list(level_of), list(level_of.values())


def _rest_column(requests: Sequence[ZoneRequest], names: Sequence[str]) -> int | None:
    found = [names.index(request.name) for request in requests if isinstance(request.source, Rest)]
    if len(found) > 1:
        raise InputError(f'{len(found)} zones have the source "rest".', hint="Keep one of them.")
    return found[0] if found else None


def _cascade(requests: Sequence[ZoneRequest], names: Sequence[str], place: SourcePlace) -> Float:
    """Return (b, k) shares in which each request takes of what those before it left; what nobody took is missing."""
    shares = np.zeros((len(place.body.mesh.vertices), len(names)))
    left = np.ones(len(shares))
    for index, request in enumerate(requests):
        if not isinstance(request.source, Rest):
            with _of_request(index):
                taken = left * request.source.share(place)
            shares[:, names.index(request.name)] += taken
            left = left - taken
    return shares


def _rounded(mesh: TriMesh, weights: Float, length_mm: float) -> Float:
    """Return the weights smoothed near their borders; beyond five lengths a Gaussian leaves less than 1e-6."""
    label = weights.argmax(axis=1)
    edge = mesh.edges
    border = np.unique(edge[label[edge[:, 0]] != label[edge[:, 1]]])
    if len(border) == 0 or length_mm == 0:
        return weights
    reach = 5.0 * length_mm
    distance, _ = cKDTree(mesh.vertices[border]).query(mesh.vertices, distance_upper_bound=reach)
    is_far = ~np.isfinite(distance) & (weights.max(axis=1) == 1.0)
    return _normal(smoothed(mesh, weights, length_mm, is_fixed=is_far))


def _normal(weights: Float) -> Float:
    weights = np.maximum(weights, 0.0)
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))
