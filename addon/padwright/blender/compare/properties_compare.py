"""The scan of a print, and what holding it against the part has found."""

import bpy
from bpy.props import (
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    PointerProperty,
    StringProperty,
)

from ..key_properties import UNIT_ITEMS


class PADWRIGHT_PG_off(bpy.types.PropertyGroup):
    """A place where the print is off."""

    name: StringProperty(name="Place", description="Where on the part")
    off_mm: FloatProperty(name="Off (mm)", description="How far the print stands out there; below 0: it is short")
    at: FloatVectorProperty(name="At", description="In the part frame, mm")


class PADWRIGHT_PG_compare(bpy.types.PropertyGroup):
    """The scan of a print."""

    scan: StringProperty(
        name="Scan", description="Scan file of the finished part, on or off what it sits on", subtype="FILE_PATH"
    )
    unit: EnumProperty(name="Unit", description="What one unit in that file is", items=UNIT_ITEMS)
    weight_g: FloatProperty(
        name="Weight (g)",
        description="What the print weighs on a kitchen scale; 0 when not weighed",
        min=0.0,
        precision=1,
    )
    extent_long_mm: FloatProperty(
        name="Longest (mm)",
        description="Between the two points of the print that lie farthest apart, by caliper; 0: none",
        min=0.0,
    )
    extent_x_mm: FloatProperty(
        name="Along X (mm)", description="The print's whole extent along x of the bed, by caliper; 0: none", min=0.0
    )
    extent_y_mm: FloatProperty(
        name="Along Y (mm)", description="The print's whole extent along y of the bed, by caliper; 0: none", min=0.0
    )
    extent_z_mm: FloatProperty(
        name="Along Z (mm)", description="The print's whole height as it lay on the bed, by caliper; 0: none", min=0.0
    )
    obj: PointerProperty(name="Print", description="The print, laid on the part", type=bpy.types.Object)
    limit_mm: FloatProperty(name="Colors End (mm)", description="Distance at which the colors end", default=1.0)
    of: StringProperty(name="Of", description="Revision that the comparison is of")
    said: StringProperty(name="Said", description="What was found, in a sentence")
    worst: CollectionProperty(type=PADWRIGHT_PG_off, name="Worst Places", description="The worst first")
    facts: StringProperty(name="Facts", description="Size and weight, line by line")
    corrections: StringProperty(name="Corrections", description="What to change in the next print, line by line")
    keys: StringProperty(name="Keys", description="Keys of the job that the corrections set")
    doubts: StringProperty(name="Doubts", description="What the scan cannot tell, line by line")
