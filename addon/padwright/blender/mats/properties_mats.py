"""Places by which a mat is laid on the body side."""

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatVectorProperty


class PADWRIGHT_PG_mat_place(bpy.types.PropertyGroup):
    """A place of the mat, and where it lay."""

    by: EnumProperty(
        name="On the Mat",
        description="How the place is told on the mat",
        items=[
            ("cell", "Cell", "Row and column of a cell, as the file has them"),
            ("ruler", "Ruler", "Millimeters from the mat's first corner"),
            ("pixel", "Pixel", "A pixel of a foil's picture, as picture programs tell it"),
        ],
    )
    cell: FloatVectorProperty(
        name="Row, Column", description="Row and column of the cell, from 0", size=2, min=0.0, max=100000.0, precision=1
    )
    at_mm: FloatVectorProperty(
        name="Ruler (mm)",
        description="Down and right from the mat's first corner, in mm",
        size=2,
        min=-10000.0,
        max=10000.0,
        precision=1,
    )
    pixel: FloatVectorProperty(
        name="Pixel", description="Right and down, of a foil's picture", size=2, min=0.0, max=100000.0, precision=0
    )
    point: FloatVectorProperty(name="Point", description="Where it lay, in the scan's own numbers", precision=4)
    has_point: BoolProperty(name="Has Point", description="The point on the scan was set")
