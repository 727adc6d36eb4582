"""Whether a scan in the scene has colors of its own: all that a panel asks of them."""

from __future__ import annotations

import bpy


def has_colors(obj: bpy.types.Object | None) -> bool:
    """Say if a scan has colors of its own: at its vertices, or of a material's picture on it."""
    from ..bridge import SHOWN  # not on enabling: it needs numpy

    if obj is None or obj.type != "MESH":
        return False
    if any(each.domain == "POINT" and each.name != SHOWN for each in obj.data.color_attributes):
        return True
    materials = (
        [slot.material for slot in obj.material_slots if slot.material is not None] if obj.data.uv_layers else []
    )
    nodes = [node for each in materials if each.node_tree is not None for node in each.node_tree.nodes]
    return any(node.type == "TEX_IMAGE" and node.image is not None for node in nodes)
