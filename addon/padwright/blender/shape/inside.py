"""What is seen inside the printed shape: a copy of it cut open, or one layer; the shape itself stays as it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
import numpy as np

from ...core.base.mesh import Bool, Float, TriMesh
from ...core.geometry.cross_sections import cross_section
from ...core.geometry.cut_faces import cut_face, cut_open
from .. import bridge, state
from ..regions import hand_edits
from ..stage_work import result_object

if TYPE_CHECKING:
    from ...core.run.parts import MadePart

WORDS = {
    "whole": "The shape as it is printed",
    "cutaway": "A copy of the shape is cut open; move the cut with its slider",
    "layer": "One layer of the print; go through them with its slider",
}
_SKIN = ("Padwright shape", (0.61, 0.62, 0.57, 1.0))
_FACE = ("Padwright cut", (0.20, 0.62, 0.78, 1.0))  # linear light; the picture of the part cut open has it darker


def keep(part: Any, result: MadePart) -> None:
    """Keep with the scene where to cut and how high a layer is, for after it was saved and opened again."""
    from ...core.run.cutaway import part_cut
    from ...core.stages.folds.layout import FoldLayout

    plane, view = part_cut(result), part.view
    layout, firmness = result.of(FoldLayout), result.firmness
    assert plane is not None and firmness is not None
    view.inside = "whole"
    view.up = layout.to_plane[2, :3]
    view.cut_normal = plane.normal
    view.layer_mm = min(each.settings.layer_thickness_mm for each in firmness.chosen.values())
    mesh = _solid(part)
    low, high = _span(mesh, plane.normal)
    view.is_cut_across = False
    view.cut_share = 100.0 * float((plane.point @ plane.normal - low) / (high - low))


def show(context: bpy.types.Context, what: str) -> None:
    """Show the shape "whole", or its "cutaway" or one "layer" in its place."""
    part = context.scene.padwright
    part.view.inside = what
    if what != "whole":
        look_again(context)
    shown = part.solid if what == "whole" else part.inside
    for obj in (*hand_edits.regions(context.scene).values(), *state.made(part)):
        state.hide(obj, obj != shown)
    for area in context.screen.areas if context.screen is not None else ():
        if area.type == "VIEW_3D" and area.spaces.active.shading.color_type in ("SINGLE", "RANDOM", "VERTEX"):
            area.spaces.active.shading.color_type = "MATERIAL"


def look_again(context: bpy.types.Context) -> None:
    """Cut anew where the sliders stand now."""
    part = context.scene.padwright
    view = part.view
    if view.inside == "whole" or part.solid is None or state.is_gone(part.solid):
        return
    mesh = _solid(part)
    if view.inside == "cutaway":
        normal = np.array(view.cut_normal)
        if view.is_cut_across:
            normal = np.cross(np.array(view.up), normal)
        low, high = _span(mesh, normal)
        opened = cut_open(mesh, (low + (high - low) * view.cut_share / 100.0) * normal, normal)
        _put(context, opened.mesh, opened.is_face)
        return
    up = np.array(view.up)
    low, high = _span(mesh, up)
    count = max(1, round((high - low) / view.layer_mm))
    number = min(count, 1 + int(count * view.layer_share / 100.0))
    height = low + (number - 0.5) * view.layer_mm  # through the middle of its lines
    face = cut_face(cross_section(mesh, height * up, up), up)
    view.layer_said = f"{number} of {count}, {number * view.layer_mm:.1f} mm up"
    _put(context, face, np.ones(len(face.faces), dtype=bool))


def dress(obj: bpy.types.Object) -> None:
    """Give an object the colors of skin and cut."""
    for place, (name, color) in enumerate((_SKIN, _FACE)):
        found = bpy.data.materials.get(name) or bpy.data.materials.new(name)
        found.diffuse_color = color
        if place < len(obj.data.materials):
            obj.data.materials[place] = found
        else:
            obj.data.materials.append(found)
    obj.color = _SKIN[1]


def _put(context: bpy.types.Context, mesh: TriMesh, is_face: Bool) -> None:
    part = context.scene.padwright
    name = f"{part.number} Inside"
    part.inside = result_object(context, part.inside, name, mesh, part.solid.matrix_world)
    dress(part.inside)
    part.inside.data.polygons.foreach_set("material_index", is_face.astype(np.int32))
    part.inside.data.update()


def _solid(part: Any) -> TriMesh:
    """Return the shape as the scene has it, mm, part frame."""
    return bridge.read_mesh(part.solid).scaled(bridge.mm_per_scene_unit(part.id_data))


def _span(mesh: TriMesh, way: Float) -> tuple[float, float]:
    along = mesh.vertices @ np.asarray(way)
    return float(along.min()), float(along.max())
