"""What the artist draws: reliefs."""

import bpy
from bpy.props import PointerProperty

from ..key_properties import of_key


class PADWRIGHT_PG_relief(bpy.types.PropertyGroup):
    """A place where the body must not be pressed."""

    name: of_key("pad.reliefs.name", "Name")
    kind: of_key(
        "pad.reliefs.kind",
        "Kind",
        words={
            "opening": ("Opening", "Through the pad, inside a closed curve"),
            "channel": ("Channel", "A groove in the body side, along the curve"),
        },
    )
    curve: PointerProperty(
        name="Curve", description="Outline of the opening or line of the channel", type=bpy.types.Object
    )
    width_mm: of_key("pad.reliefs.width_mm", "Width", default=8.0)
    depth_mm: of_key("pad.reliefs.depth_mm", "Depth", default=3.0)
    edge_radius_mm: of_key("pad.reliefs.edge_radius_mm", "Edges")
