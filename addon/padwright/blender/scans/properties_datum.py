"""The places that make the part's own axes."""

import bpy
from bpy.props import BoolProperty, FloatVectorProperty


class PADWRIGHT_PG_place(bpy.types.PropertyGroup):
    """A place on the base scan."""

    numbers: FloatVectorProperty(name="Place", description="In the base scan's own numbers", precision=4)
    is_set: BoolProperty(name="Is Set", description="The place was chosen")
