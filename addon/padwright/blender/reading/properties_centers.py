"""The list of load centers: what was found, and what the artist says of each."""

import bpy
from bpy.props import BoolProperty, FloatProperty, FloatVectorProperty, IntProperty, PointerProperty, StringProperty

from ..key_properties import of_key


def _is_said(center: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    """Note that the artist has said something of this one: it is kept from then on, whatever is found later."""
    center.is_said = True


class PADWRIGHT_PG_center(bpy.types.PropertyGroup):
    """A load center that was found, or one that the artist has spoken of."""

    name: StringProperty(name="Name", description="Name in your words", update=_is_said)
    is_used: BoolProperty(
        name="Is Used",
        description="Zones, spacing and smoothing rest on it; switch off what is none",
        default=True,
        update=_is_said,
    )
    is_said: BoolProperty(name="Is Said", description="You have named it or switched it on or off")
    near: FloatVectorProperty(name="Near", description="About where it is, in the base scan's own numbers", precision=4)
    within_mm: of_key("impression.load_centers.within_mm", "Within")
    number: IntProperty(name="Number", description="By prominence, from 1; 0: not found when last read")
    depth_mm: FloatProperty(name="Depth (mm)", description="How deep the body sank in there, in mm")
    why: StringProperty(name="Why Not", description="Why nothing rests on it")
    mark: PointerProperty(name="Mark", description="The empty that marks it", type=bpy.types.Object)
