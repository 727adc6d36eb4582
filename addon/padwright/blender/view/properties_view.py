"""What the viewport shows of the part: values as colors with their scale, and which marks are drawn."""

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, StringProperty

from .color_ramps import RAMP_ITEMS


class PADWRIGHT_PG_view(bpy.types.PropertyGroup):
    """What the viewport shows; written by `value_colors.show`, read by `overlay` and the panels."""

    is_colored: BoolProperty(name="Is Colored", description="Values are shown as colors")
    title: StringProperty(name="Title", description="What the colors show")
    unit: StringProperty(name="Unit", description="Unit of the values")
    low: FloatProperty(name="Low", description="Value at the low end of the color bar")
    high: FloatProperty(name="High", description="Value at the high end of the color bar", default=1.0)
    ramp: EnumProperty(name="Colors", description="How values become colors", items=RAMP_ITEMS)
    ticks: StringProperty(name="Ticks", description="Values with words beside the bar; empty: round numbers")
    before: StringProperty(name="Before", description="What was on show before the colors")
    shows_other_ways: BoolProperty(
        name="Other Ways", description="Set points from the 3D cursor or from selected vertices"
    )
    shows_bar: BoolProperty(name="Color Bar", description="Draw what the colors mean", default=True)
    shows_lengths: BoolProperty(name="Check Lengths", description="Draw check lengths with their sizes", default=True)
    shows_pairs: BoolProperty(name="Point Pairs", description="Draw the pairs on both scans", default=True)
    shows_centers: BoolProperty(name="Load Centers", description="Write the depth at each load center", default=True)
