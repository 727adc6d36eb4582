"""The material that shows a firmness level, and an object in it."""

import bpy


def dress(obj, family, level):
    """Give an object the color of a level."""
    found = material(family, level)
    if len(obj.data.materials):
        obj.data.materials[0] = found
    else:
        obj.data.materials.append(found)
    obj.color = found.diffuse_color


def material(family, level):
    """Return the material that shows a level, made when it is not there."""
    from ...core.stages.packing.thumbnail import firmness_color

    name = f"Padwright {family.id} {level:g}"
    found = bpy.data.materials.get(name)
    if found is None:
        found = bpy.data.materials.new(name)
        text = firmness_color(level)
        encoded = [int(text[start : start + 2], 16) / 255.0 for start in (1, 3, 5)]
        # The modeller takes linear light; IEC 61966-2-1 tells how sRGB is encoded.
        linear = [each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in encoded]
        found.diffuse_color = (*linear, 1.0)
    return found
