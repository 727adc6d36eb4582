"""What the modeller is told of on enabling, and takes back on disabling."""

from __future__ import annotations

import bpy

from . import mesh_prints, operators_part, panels_part, properties
from .alignment import operators_align, operators_poses
from .load import operators_load, panels_load
from .packing import command, operators_export
from .packing import panels_packing as panels_output
from .pad import operators_datum, operators_outlines, operators_pad
from .pad import panels_pad as panels_shape
from .regions import operators_regions
from .scans import operators_pick, operators_scans
from .scans import panels_scans as panels_capture
from .view import operators_show, overlay
from .zones import operators_paint, operators_zones
from .zones import panels_zones as panels_firmness

CLASSES = (
    *properties.CLASSES,
    *operators_part.CLASSES,
    *operators_scans.CLASSES,
    *operators_align.CLASSES,
    *operators_poses.CLASSES,
    *operators_pick.CLASSES,
    *operators_datum.CLASSES,
    *operators_outlines.CLASSES,
    *operators_pad.CLASSES,
    *operators_zones.CLASSES,
    *operators_paint.CLASSES,
    *operators_regions.CLASSES,
    *operators_load.CLASSES,
    *operators_show.CLASSES,
    *operators_export.CLASSES,
    *panels_part.CLASSES,
    *panels_capture.CLASSES,
    *panels_shape.CLASSES,
    *panels_firmness.CLASSES,
    *panels_load.CLASSES,
    *panels_output.CLASSES,
)


def register() -> None:
    """Register every class, then hang the part's data on the scene."""
    for each in CLASSES:
        bpy.utils.register_class(each)
    bpy.types.Scene.padwright = bpy.props.PointerProperty(type=properties.PADWRIGHT_PG_part, name="Padwright")
    mesh_prints.start()
    overlay.start()
    command.register()


def unregister() -> None:
    """Undo `register`, last first."""
    command.unregister()
    overlay.stop()
    mesh_prints.stop()
    del bpy.types.Scene.padwright
    for each in reversed(CLASSES):
        bpy.utils.unregister_class(each)
