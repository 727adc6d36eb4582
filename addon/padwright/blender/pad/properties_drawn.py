"""What the artist draws: reliefs, and the points that lay the part on its datum."""

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, FloatVectorProperty, PointerProperty, StringProperty


class PADWRIGHT_PG_relief(bpy.types.PropertyGroup):
    """A place where the body must not be pressed."""

    name: StringProperty(name="Name", description="What it is for")
    kind: EnumProperty(
        name="Kind",
        description="What is cut along the curve",
        items=[
            ("opening", "Opening", "Through the pad, inside a closed curve"),
            ("channel", "Channel", "A groove in the body side, along the curve"),
        ],
    )
    curve: PointerProperty(
        name="Curve", description="Outline of the opening or line of the channel", type=bpy.types.Object
    )
    width_mm: FloatProperty(
        name="Width (mm)", description="Width of the channel, in mm", min=0.1, max=1000.0, default=8.0
    )
    depth_mm: FloatProperty(
        name="Depth (mm)",
        description="Depth of the channel below the body side, in mm",
        min=0.1,
        max=1000.0,
        default=3.0,
    )
    edge_radius_mm: FloatProperty(
        name="Edges (mm)", description="Radius of its rounded edges, in mm", min=1.0, max=50.0, default=1.0
    )


class PADWRIGHT_PG_place(bpy.types.PropertyGroup):
    """A place on the base scan."""

    numbers: FloatVectorProperty(name="Place", description="In the base scan's own numbers", precision=4)
    is_set: BoolProperty(name="Is Set", description="The place was chosen")


CLASSES = (PADWRIGHT_PG_relief, PADWRIGHT_PG_place)
