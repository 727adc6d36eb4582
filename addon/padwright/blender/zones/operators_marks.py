"""The colors of pens on the impression scan: found, listed, given to a zone."""

import bpy
from bpy.props import IntProperty

from ...core.base.text import counted
from .. import reporting, state
from ..button import Button
from ..scans import scan_colors
from .zone_needs import missing_zone

_SAMPLES = 400_000


class _OfColors(Button):
    """Needs an impression scan with colors."""

    @classmethod
    def missing(cls, context, part):
        if part.impression is None:
            return "Choose or import the impression scan first"
        return "" if scan_colors.has_colors(part.impression) else "The impression scan has no colors"


class PADWRIGHT_OT_show_scan_colors(_OfColors, bpy.types.Operator):
    """Show the impression scan alone in its own colors, so that marks on it are seen"""

    bl_label = "Show Scan in Its Colors"

    def act(self, context, part):
        from ..view import value_colors

        value_colors.show_own(context, part.impression)


class PADWRIGHT_OT_find_colors(_OfColors, bpy.types.Operator):
    """List the colors of the impression scan: the clay's, and those of pens on it"""

    bl_label = "Find Colors"

    def act(self, context, part):
        import numpy as np

        from ...core.base.mesh import TriMesh
        from ...core.stages.scans.found_colors import find_colors
        from .. import bridge
        from ..scans import textures

        part_mm = bridge.unit_mm(part, "impression")
        factors = bridge.scan_factors(part.impression, context.scene, part_mm) * part_mm
        surface = textures.colors_of(part.impression, context, float(np.cbrt(np.prod(np.abs(factors)))))
        whole = float(TriMesh(surface.points, surface.faces).face_areas[surface.is_colored].sum())
        samples = surface.samples(max(float(np.sqrt(2.0 * whole / _SAMPLES)), 1e-6))
        part.scan_colors.clear()
        found = find_colors(samples)
        for each in found:
            row = part.scan_colors.add()
            row.name, row.color = each.name, [value / 255.0 for value in each.color]
            row.area_cm2 = each.share * whole / 100.0
        others = ", ".join(f"{each.name} {each.hex}" for each in found[1:])
        reporting.tell(self, f"{counted(len(found) - 1, 'color')} beside the clay's: {others or 'none stands out'}")


class PADWRIGHT_OT_take_color(Button, bpy.types.Operator):
    """Look for this color in the zone that the list shows as active"""

    bl_label = "Take Color"

    number: IntProperty(name="Number", description="Of the color in the list, from 0", min=0)

    @classmethod
    def missing(cls, context, part):
        return missing_zone(part, needs_pad=False) or ("" if len(part.scan_colors) else "Find the colors first")

    def act(self, context, part):
        found = state.row_at(part.scan_colors, self.number)
        if found is None:
            return {"CANCELLED"}
        part.zones[part.zone_index].color = found.color
        reporting.tell(self, f"{part.zones[part.zone_index].name} is where the scan is {found.name}")
