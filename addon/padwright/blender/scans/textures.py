"""Textures of scans in the scene: pictures of a file as materials of its object, and those of an object as files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ...core.base.errors import InputError
from ...core.geometry.raster import png_bytes
from ...core.stages.scans.formats.painted import PaintedScan, PictureFile
from ...core.stages.scans.formats.write_ply import OnPictures
from ...core.stages.scans.painted_read import companion_files, folder_beside, read_painted
from ...core.stages.scans.surface_colors import SurfaceColors
from .. import bridge

_LAYER = "Scan"
_IMAGES, _HEAD = b'"images"', 1 << 24
"""What a GLB file's description says of pictures inside it, and how far it is looked for."""
_COLOR_SOCKETS = ("Base Color", "Color")


def read_texture(path: Path) -> PaintedScan | None:
    """Return the scan of a file with its colors, None where it names and holds no picture.

    Raises ScanError when a picture that it names cannot be read.
    """
    data, beside = path.read_bytes(), folder_beside(path.parent, path.name)
    if _IMAGES not in data[:_HEAD] and not companion_files(data, path.name, beside):
        return None
    return read_painted(data, path.name, beside)


def lay_on(obj: bpy.types.Object, painted: PaintedScan) -> bool:
    """Give an object the pictures of the scan that it was made of; say if they fit its faces."""
    mesh = obj.data
    if painted.on_picture is None or painted.picture_of is None or not painted.has_picture:
        return True
    if len(mesh.polygons) != len(painted.faces):
        return False
    layer = mesh.uv_layers.new(name=_LAYER)
    places = np.nan_to_num(painted.on_picture.reshape(-1, 2)).astype(np.float32)
    places[:, 1] = 1.0 - places[:, 1]
    layer.data.foreach_set("uv", places.ravel())
    for picture in painted.pictures:
        mesh.materials.append(_material(picture))
    if (painted.picture_of < 0).any():
        mesh.materials.append(None)
    of_face = np.where(painted.picture_of < 0, len(painted.pictures), painted.picture_of)
    mesh.polygons.foreach_set("material_index", of_face.astype(np.int32))
    mesh.update()
    return True


def _material(picture: PictureFile) -> bpy.types.Material:
    image: Any = bpy.data.images.new(Path(picture.name).name, 8, 8)
    image.pack(data=picture.data, data_len=len(picture.data))
    image.source = "FILE"
    made = bpy.data.materials.new(Path(picture.name).stem)
    made.use_nodes = True
    nodes, links = made.node_tree.nodes, made.node_tree.links
    shader = next((each for each in nodes if each.type == "BSDF_PRINCIPLED"), None)
    if shader is None:
        shader = nodes.new("ShaderNodeBsdfPrincipled")
    texture: Any = nodes.new("ShaderNodeTexImage")
    texture.image, texture.location = image, (shader.location[0] - 320, shader.location[1])
    links.new(texture.outputs["Color"], shader.inputs["Base Color"])
    nodes.active = texture  # what the viewport shows of a material
    return made


def image_of(material: Any) -> bpy.types.Image | None:
    """Return the image of a material's color: that which leads to a shader's color, else its only or active one."""
    if material is None or material.node_tree is None:
        return None
    nodes = [each for each in material.node_tree.nodes if each.type == "TEX_IMAGE" and each.image is not None]
    for node in nodes:
        for link in node.outputs["Color"].links:
            if link.to_socket.name in _COLOR_SOCKETS:
                return node.image
    if nodes and material.node_tree.nodes.active in nodes:
        return material.node_tree.nodes.active.image
    return nodes[0].image if len(nodes) == 1 else None


def pictures_of(
    obj: bpy.types.Object, context: bpy.types.Context, stem: str
) -> tuple[OnPictures, dict[str, bytes]] | None:
    """Return where an object's triangles lie on the pictures of its materials, and those as files; None without any.

    The triangles are those of `bridge.read_mesh`, modifiers counted; the files are called as `stem` says.

    Raises InputError when a picture is neither packed nor there, as the file it was is gone.
    """
    depsgraph = context.evaluated_depsgraph_get()
    evaluated = obj.evaluated_get(depsgraph) if obj.modifiers else obj
    mesh: Any = evaluated.to_mesh() if obj.modifiers else obj.data
    try:
        layer = next((each for each in mesh.uv_layers if each.active_render), None)
        images = [image_of(slot.material) for slot in obj.material_slots]
        if layer is None or all(each is None for each in images):
            return None
        places, slot = _corners(mesh, layer)
    finally:
        if obj.modifiers:
            evaluated.to_mesh_clear()
    used = list(dict.fromkeys(each for each in images if each is not None))
    of_slot = np.array([used.index(each) if each is not None else -1 for each in images] or [-1])
    picture_of = of_slot[np.clip(slot, 0, len(of_slot) - 1)].astype(np.int32)
    files = {}
    for number, image in enumerate(used):
        data = _file_of(image)
        files[f"{stem}.{number + 1}.{_ending(data)}"] = data
    places[..., 1] = 1.0 - places[..., 1]
    return OnPictures(places, picture_of, tuple(files)), files


def _corners(mesh: bpy.types.Mesh, layer: Any) -> tuple[np.ndarray, np.ndarray]:
    """Return the place on the picture of each corner of each triangle, (m, 3, 2), and its material's number, (m,)."""
    flat = np.zeros(2 * len(mesh.loops), dtype=np.float32)
    layer.data.foreach_get("uv", flat)
    places = flat.reshape(-1, 2).astype(np.float64)
    if len(mesh.loops) == 3 * len(mesh.polygons):
        slot = np.zeros(len(mesh.polygons), dtype=np.int32)
        mesh.polygons.foreach_get("material_index", slot)
        return places.reshape(-1, 3, 2), slot
    mesh.calc_loop_triangles()
    corner = np.zeros(3 * len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("loops", corner)
    slot = np.zeros(len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("material_index", slot)
    return places[corner].reshape(-1, 3, 2), slot


def _file_of(image: Any) -> bytes:
    """Return an image as a picture file: as it was packed or lies on the disk, or its pixels once painted on."""
    if not image.is_dirty and image.source == "FILE":
        if image.packed_file is not None:
            return bytes(image.packed_file.data)
        path = Path(bpy.path.abspath(image.filepath, library=image.library))
        if path.is_file():
            return path.read_bytes()
    width, height = image.size
    if width == 0 or height == 0:
        raise InputError(
            f'The image "{image.name}" of the scan\'s material has no pixels; its file is not at "{image.filepath}".',
            hint="Put the file back, or choose it anew in the material.",
        )
    values = np.zeros(width * height * image.channels, dtype=np.float32)
    image.pixels.foreach_get(values)
    values = values.reshape(height, width, image.channels)
    color = values[::-1, :, :3] if image.channels >= 3 else np.repeat(values[::-1, :, :1], 3, axis=2)
    if image.is_float:
        color = np.where(color <= 0.0031308, 12.92 * color, 1.055 * np.maximum(color, 1e-9) ** (1 / 2.4) - 0.055)
    return png_bytes(np.rint(255.0 * np.clip(color, 0.0, 1.0)).astype(np.uint8))


def _ending(data: bytes) -> str:
    return "jpg" if data.startswith(b"\xff\xd8") else "webp" if data[8:12] == b"WEBP" else "png"


def colors_of(obj: bpy.types.Object, context: bpy.types.Context, mm_per_unit: float) -> SurfaceColors:
    """Return an object's surface with its colors, mm by a factor from its own coordinates.

    Raises InputError when it has none.
    """
    mesh = bridge.read_mesh(obj, context.evaluated_depsgraph_get())
    found = pictures_of(obj, context, "scan")
    if found is None and mesh.colors is None:
        raise InputError(
            f'"{obj.name}" has no colors.', hint="Import the scan as GLB, or as OBJ with its material file and picture."
        )
    points = mesh.vertices * mm_per_unit
    if found is None:
        return SurfaceColors(points, PaintedScan(points, mesh.faces, mesh.colors))
    on, files = found
    pictures = tuple(PictureFile(name, data) for name, data in files.items())
    return SurfaceColors(points, PaintedScan(points, mesh.faces, mesh.colors, on.places, on.picture_of, pictures))
