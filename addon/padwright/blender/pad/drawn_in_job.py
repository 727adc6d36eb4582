"""What the artist draws, to and from a job: footprint, reliefs, outlines of zones, the envelope."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ...core.base.errors import InputError
from ...core.base.slugs import slug
from ...core.base.units import mm_per_unit
from ...core.job.schema import Job
from ...core.stages.scans.formats.write_ply import write_ply
from ...core.stages.scans.read import ReadScan
from .. import bridge, state
from ..bridge import as_typed
from ..job_places import sub_table
from ..scans import datum, scan_objects
from . import drawn, outlines

PAD_KEYS = ("footprint", "footprint_on", "envelope", "envelope_unit", "reliefs")
"""Keys of a job's [pad] that stand in objects and lists of the scene."""


def add_tables(
    context: bpy.types.Context, tables: dict[str, Any], files: dict[str, bytes], *, with_outlines: bool
) -> None:
    """Add what the artist has drawn to a job's tables; the envelope is added to the files.

    Raises InputError when a curve or the envelope cannot be used; the message says why.
    """
    part = context.scene.padwright
    pad = sub_table(tables, ("pad",))
    for name in PAD_KEYS:
        pad.pop(name, None)
    tables["datum"] = datum.table(part)
    if part.envelope is not None:
        pad["envelope"], pad["envelope_unit"] = f"{slug(part.number)}.envelope.ply", "mm"
        files[pad["envelope"]] = write_ply(_envelope(context))
    if not with_outlines:
        return
    if part.footprint is not None:
        use = drawn.Used("Footprint", part.footprint, True)
        pad["footprint"], pad["footprint_on"] = outlines.read_points(context, use)
    pad["reliefs"] = [_relief_table(context, part, index) for index in range(len(part.reliefs))]


def _relief_table(context: bpy.types.Context, part: Any, index: int) -> dict[str, Any]:
    relief = part.reliefs[index]
    is_opening = relief.kind == "opening"
    use = drawn.Used(drawn.relief_title(part, index), relief.curve, True if is_opening else None)
    points, on = outlines.read_points(context, use)
    table = {"name": relief.name, "kind": relief.kind, "points": points, "points_on": on}
    for name in ("edge_radius_mm",) if is_opening else ("width_mm", "depth_mm", "edge_radius_mm"):
        table[name] = as_typed(getattr(relief, name))
    return table


def zone_table(context: bpy.types.Context, zone: Any) -> dict[str, Any]:
    """Return what a job says of a zone that a curve surrounds."""
    points, on = outlines.read_points(context, drawn.Used(f'Zone "{zone.name}"', zone.curve, True))
    return {"source": "outline", "points": points, "points_on": on}


def _envelope(context: bpy.types.Context) -> Any:
    """Return the envelope in the base scan's frame, mm."""
    part = context.scene.padwright
    obj = part.envelope
    if obj.type != "MESH" or context.scene.objects.get(obj.name) != obj:
        raise InputError(f'The envelope "{obj.name}" is no mesh in this scene.', hint="Choose another object.")
    mesh = bridge.scan_numbers(obj, context, 1.0)
    place = bridge.pose_of(part.base).inverted() @ bridge.pose_of(obj)
    moved = mesh if place == Matrix.Identity(4) else mesh.transformed(bridge.mm_matrix(place, context.scene))
    return moved.flipped() if np.prod(bridge.world_scale(obj)) < 0 else moved


def read_envelope(job: Job, folder: Path) -> ReadScan | None:
    """Return the solid of a job's envelope file, if it has one."""
    return None if job.pad.envelope is None else scan_objects.read_file(folder / job.pad.envelope)


def load(context: bpy.types.Context, job: Job, solid: ReadScan | None) -> None:
    """Make the objects of what a loaded job draws; its scans are in the scene by now."""
    part = context.scene.padwright
    context.view_layer.update()
    part.footprint = part.envelope = None
    part.reliefs.clear()
    pad = job.pad
    if pad.footprint is not None:
        part.footprint = outlines.curve_of_numbers(
            context, "footprint", "Footprint", pad.footprint, pad.footprint_on, is_closed=True
        )
    for index, given in enumerate(pad.reliefs):
        relief = part.reliefs.add()
        relief.name, relief.kind, relief.edge_radius_mm = given.name, given.kind, given.edge_radius_mm
        if given.kind == "channel":
            relief.width_mm, relief.depth_mm = given.width_mm, given.depth_mm
        relief.curve = outlines.curve_of_numbers(
            context, "relief", drawn.relief_title(part, index).capitalize(), given.points, given.points_on,
            is_closed=given.kind == "opening",
        )  # fmt: skip
    for zone in part.zones:
        if zone.source == "outline" and zone.kept:
            given = json.loads(zone.kept)
            zone.curve = outlines.curve_of_numbers(
                context, "zone", f"Zone {zone.name}", given["points"], given.get("points_on", "impression"),
                is_closed=True,
            )  # fmt: skip
            zone.kept = ""
    if solid is not None and pad.envelope is not None:
        part.envelope = _bring_in(context, solid, Path(pad.envelope).stem, mm_per_unit(pad.envelope_unit))


def _bring_in(context: bpy.types.Context, solid: ReadScan, name: str, mm: float) -> bpy.types.Object:
    obj = bpy.data.objects.new(name, bridge.new_mesh(name, solid.mesh))
    state.collection(context.scene).objects.link(obj)
    size = mm / bridge.mm_per_scene_unit(context.scene)
    obj.matrix_world = bridge.pose_of(context.scene.padwright.base) @ Matrix.Diagonal((size, size, size, 1.0))
    obj.display_type = "WIRE"
    context.view_layer.update()
    bridge.adopt_scan(obj, (mm, mm, mm))
    return obj
