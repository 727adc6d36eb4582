"""The chapter with the part to turn: its surface, its zones, and what was worked out for its places."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...base.mesh import Bool, Float, TriMesh
from ...base.ramps import RAMPS, hex_color
from ...base.scales import scale_top
from ...geometry.through import BODY_SIDE
from ...stages.alignment.placed_scans import PlacedScans, typed_points
from ...stages.load.contact import LoadResult
from ...stages.load.fold_places import kpa_everywhere
from ...stages.packing.thumbnail import firmness_color, thumbnail_png
from ...stages.regions.bodies import Mirror
from ...stages.report.page import Section
from ...stages.report.turn_view import TurnField, ViewParts, turn_script, turn_style, turn_view
from ..cutaway import other_side
from ..parts import MadePart
from ..zone_colors import zone_color
from .source import ReportSource

_ONE_WAY = tuple(hex_color(color) for _, color in RAMPS["one_way"])
_CONTACT_REACH = 1.5
"""Times the distance of a contact's points: beyond it nothing bears."""

_DEPTH_REACH_MM = 3.0  # from the imprint: there the pad is bounded by its rim


def turn_section(source: ReportSource) -> Section | None:
    """Return the part to turn, cut open and ask for values."""
    part, packed = source.part, source.packed
    pad = part.pad
    if pad is None:
        return None
    fields = [_zones(part), *_pressures(part), *_stiffness(part), _thickness(part), *_depth(part)]
    view = ViewParts(
        name=part.job.part.name,
        mesh=packed.outside if part.folded is None else packed.bodies[0].mesh,
        up=None if pad.press_direction is None else -np.asarray(pad.press_direction),
        fields=[_seen_in(packed.mirror, each) for each in fields],
        still=packed.picture or _drawn(source),
        to_job=_to_job(source),
    )
    return Section("turn", "The part from all sides", turn_view(view) + turn_script(), turn_style())


def _to_job(source: ReportSource) -> Float:
    """Return what turns places of the part as it is made, mm, into the base scan file's own numbers, (4, 4)."""
    part, mirror = source.part, source.packed.mirror
    corners = np.vstack([np.zeros(3), np.eye(3)])
    if mirror is not None:
        corners = other_side(mirror, corners)
    start, *ends = typed_points(part.of(PlacedScans), corners, "base")
    found = np.eye(4)
    found[:3] = np.column_stack([*(end - start for end in ends), start])
    return found


def _drawn(source: ReportSource) -> bytes:
    """Return a picture of the part where the job wants none in its other files."""
    part, bodies = source.part, source.packed.bodies
    card = [level.display_color for level in part.family.levels]
    colors = [firmness_color(body.firmness_level, card) for body in bodies]
    return thumbnail_png(bodies, None if part.pad is None else part.pad.press_direction, colors=colors)


def _zones(part: MadePart) -> TurnField:
    plan, pad = part.zones, part.pad
    assert plan is not None and pad is not None
    present = np.unique(plan.label)
    is_body = _is_body(part)
    return TurnField(
        title="Zones",
        places=pad.mesh.vertices[is_body],
        values=np.searchsorted(present, plan.label[is_body]),
        names=[plan.zones[number].name for number in present],
        colors=[zone_color(part, int(number)) for number in present],
        note="The firmer, the darker.",
    )


def _is_body(part: MadePart) -> Bool:
    pad = part.pad
    assert pad is not None
    return np.asarray(pad.side) == BODY_SIDE


def _pressures(part: MadePart) -> list[TurnField]:
    """Return the predicted pressure of each load, and that before tuning, on one scale."""
    firmness = part.firmness
    if firmness is None or firmness.patch is None or not firmness.loads:
        return []
    shown: list[tuple[str, LoadResult]] = []
    for number, (case, load) in enumerate(firmness.loads):
        name = "Predicted pressure" if number == 0 else f"Pressure, {case.posture}"
        shown.append((name, load))
    if firmness.tuning is not None and firmness.tuning.before is not None:
        shown.insert(1, ("Pressure before tuning", firmness.tuning.before))
    patch = firmness.patch
    apart = float(np.sqrt(patch.area_mm2.mean()))
    high = max(scale_top(load.pressure_kpa) for _, load in shown)
    return [
        TurnField(
            title=name,
            places=patch.position,
            values=load.pressure_kpa,
            unit="kPa",
            colors=_ONE_WAY,
            high=high,
            reach_mm=_CONTACT_REACH * apart,
            none="no contact",
            note=f"Under {load.force_n:.0f} N, with the expected curves; 10 kPa is 1 kg on 10 cm2.",
        )
        for name, load in shown
    ]


def _stiffness(part: MadePart) -> list[TurnField]:
    """Return what folded walls give, place by place."""
    walls = None if part.firmness is None else part.firmness.folded
    if walls is None or part.pad is None:
        return []
    places = part.pad.mesh.vertices[_is_body(part)]
    levels = part.family.levels
    kpa = kpa_everywhere(walls.layout, walls.field.reached_kpa).ravel()[walls.layout.index(places)]
    moduli = [level.target_modulus_kpa for level in levels]
    return [
        TurnField(
            title="Stiffness of the walls",
            places=places,
            values=np.where(np.isinf(kpa), np.nan, kpa),
            unit="kPa",
            colors=[level.display_color for level in levels],
            stops=moduli,
            none="solid",
            note="When squeezed as under the load.",
        )
    ]


def _thickness(part: MadePart) -> TurnField:
    pad = part.pad
    assert pad is not None
    is_body = _is_body(part)
    return TurnField(
        title="Thickness",
        places=pad.mesh.vertices[is_body],
        values=pad.thickness[is_body],
        unit="mm",
        colors=_ONE_WAY,
        high=scale_top(pad.thickness[is_body]),
        note="Of the pad, along the way the body presses.",
    )


def _depth(part: MadePart) -> list[TurnField]:
    """Return how far the body sank into the clay."""
    reading, aligned = part.reading, part.aligned
    if reading is None or aligned is None or len(reading.imprint_depth) != len(aligned.vertices):
        return []
    is_read = reading.is_clay & ~reading.is_wall
    depth = np.asarray(reading.imprint_depth)[is_read]
    if not len(depth) or scale_top(depth) <= 0.0:
        return []
    return [
        TurnField(
            title="Imprint depth",
            places=aligned.vertices[is_read],
            values=depth,
            unit="mm",
            colors=_ONE_WAY,
            high=scale_top(depth),
            reach_mm=_DEPTH_REACH_MM,
            none="no clay",
            note="How far the body sank into the clay.",
        )
    ]


def _seen_in(mirror: Mirror | None, field: TurnField) -> TurnField:
    if mirror is None:
        return field
    points = TriMesh(field.places, np.zeros((0, 3), dtype=np.int32))
    return replace(field, places=mirror.of(points).vertices)
