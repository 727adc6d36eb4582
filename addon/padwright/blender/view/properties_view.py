"""What the viewport shows of the part: values as colors with their scale, and which marks are drawn."""

from collections.abc import Callable
from typing import Any

import bpy
from bpy.props import BoolProperty, EnumProperty, FloatProperty, FloatVectorProperty, StringProperty

from .color_ramps import RAMP_ITEMS

MOVED: dict[str, Callable[[Any], None]] = {}
"""Property -> function (context) that shows what is seen after it was moved; each file adds its own."""


def _moved(name):
    return lambda _view, context: MOVED[name](context)


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
    inside: EnumProperty(
        name="Inside",
        description="What is shown of the printed shape",
        items=[
            ("whole", "Whole", "The shape as it is printed"),
            ("cutaway", "Cutaway", "The shape cut open"),
            ("layer", "Layer", "One layer of the print"),
        ],
    )
    up: FloatVectorProperty(name="Up", description="Up as it is printed, in the part frame", default=(0, 0, 1))
    body_way: FloatVectorProperty(
        name="Towards the Body", description="From the pad to the body, in the part frame", default=(0, 0, 1)
    )
    cut_normal: FloatVectorProperty(name="Cut", description="Across the cut, in the part frame", default=(0, -1, 0))
    cut_share: FloatProperty(
        name="Cut At",
        description="Where the shape is cut, from one side to the other",
        subtype="PERCENTAGE",
        min=0.0,
        max=100.0,
        default=50.0,
        precision=0,
        update=_moved("cut_share"),
    )
    is_cut_across: BoolProperty(
        name="Cut Across", description="Cut square to the line of the load centers", update=_moved("is_cut_across")
    )
    layer_mm: FloatProperty(name="Layer (mm)", description="Height of a layer", min=0.01, default=0.2)
    layer_share: FloatProperty(
        name="Height",
        description="How far up the layer lies that is shown",
        subtype="PERCENTAGE",
        min=0.0,
        max=100.0,
        default=40.0,
        precision=1,
        update=_moved("layer_share"),
    )
    layer_said: StringProperty(name="Layer Shown", description="Number of the layer on show, and its height")
    shows_other_ways: BoolProperty(
        name="Other Ways", description="Set points from the 3D cursor or from selected vertices"
    )
    shows_bar: BoolProperty(name="Color Bar", description="Draw what the colors mean", default=True)
    shows_lengths: BoolProperty(name="Check Lengths", description="Draw check lengths with their sizes", default=True)
    shows_pairs: BoolProperty(name="Point Pairs", description="Draw the pairs on both scans", default=True)
    shows_mat_places: BoolProperty(
        name="Places of the Mat", description="Draw the mat's places on its picture and on the scan", default=True
    )
    shows_run: BoolProperty(name="Rows of Walls", description="Draw the direction you chose for rows", default=True)
    shows_centers: BoolProperty(name="Load Centers", description="Write the depth at each load center", default=True)
