"""The colors of a GLB file: the pictures inside it, or its vertex colors."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

from ....base.errors import ScanError
from ....base.mesh import Float, Int
from .draft import Draft, colors_as_bytes, damaged
from .glb import (
    FAN,
    STRIP,
    TRIANGLES,
    BrokenError,
    Budget,
    accessor_values,
    glb_chunks,
    item_of,
    list_of,
    refuse_packed,
    shown_meshes,
    to_triangles,
    told_structure,
    whole_of,
)
from .painted import Beside, PaintedScan, PaintFormat, PictureFile, beside_name

_GLOSSY = "KHR_materials_pbrSpecularGlossiness"
_MOVED = "KHR_texture_transform"
_BASIS = "KHR_texture_basisu"
_OTHER_SOURCES = ("EXT_texture_webp",)
"""Extensions of the Khronos registry: an older place of the color's picture, its motion, pictures of other formats."""


def glb_companions(data: bytes, _: Beside) -> Iterator[str]:
    """Yield the names of the pictures that a GLB file keeps in files of their own."""
    scene, _binary = glb_chunks(data)
    for image in list_of(scene, "images"):
        uri = image.get("uri") if isinstance(image, dict) else None
        if isinstance(uri, str) and not uri.startswith("data:"):
            yield beside_name(unquote(uri))


def paint_glb(data: bytes, beside: Beside, _: Draft | None = None) -> PaintedScan:
    """Return a GLB scan with its colors: those of its pictures where it has any, else its vertex colors.

    Raises ScanError when its structure is broken, or a picture is not there, is packed for graphics cards, or has no
    place on the surface; it says what to save.
    """
    scene, binary = glb_chunks(data)
    with told_structure():
        refuse_packed(scene)
        budget = Budget(len(data))
        parts = [
            _primitive(scene, binary, primitive, matrix, budget)
            for mesh, matrix in shown_meshes(scene)
            for primitive in list_of(mesh, "primitives")
            if primitive.get("mode", TRIANGLES) in (TRIANGLES, STRIP, FAN)
        ]
        if not parts:
            raise ScanError("The GLB file's scene shows no triangles.", hint="Save the scan's surface.")
        used = sorted({part.image for part in parts if part.image >= 0})
        pictures = tuple(_picture(scene, binary, number, beside) for number in used)
    offset = np.cumsum([0, *[len(part.points) for part in parts]])
    colors = None
    if all(part.colors is not None for part in parts):
        colors = np.concatenate([part.colors for part in parts if part.colors is not None])
    if not used and colors is None and list_of(scene, "images"):
        raise ScanError(
            "The GLB file has a picture, but no face lies on it: texture coordinates or a material that names it are "
            "missing.",
            hint="Save it with texture coordinates (UV) and its material.",
        )
    on_picture = np.concatenate([part.on_picture for part in parts])
    picture_of = np.concatenate([np.full(len(part.faces), _number(used, part.image), dtype=np.int32) for part in parts])
    picture_of[~np.isfinite(on_picture).all(axis=(1, 2))] = -1
    faces = np.concatenate([part.faces + start for part, start in zip(parts, offset, strict=False)])
    return PaintedScan(
        np.concatenate([part.points for part in parts]),
        faces.astype(np.int32),
        colors,
        on_picture,
        picture_of,
        pictures,
    )


def _number(used: list[int], image: int) -> int:
    return used.index(image) if image >= 0 else -1


@dataclass(frozen=True, eq=False)
class _Primitive:
    """Some triangles in the scene's place, and where they lie on which image."""

    points: Float  # (n, 3)
    faces: Int  # (m, 3)
    on_picture: Float  # (m, 3, 2)
    image: int  # -1 where they lie on none
    colors: NDArray[np.uint8] | None  # (n, 4)


def _primitive(
    scene: dict[str, Any], binary: bytes, primitive: dict[str, Any], matrix: Float, budget: Budget
) -> _Primitive:
    names = primitive["attributes"]
    points = accessor_values(scene, binary, names["POSITION"], budget).astype(np.float64)
    if points.shape[1] != 3:
        raise BrokenError("its places have not three coordinates")
    if "indices" in primitive:
        index = accessor_values(scene, binary, primitive["indices"], budget).reshape(-1).astype(np.int64)
    else:
        index = np.arange(len(points))
    if len(index) and (index.max() >= len(points) or index.min() < 0):
        raise damaged(f"The GLB file points to vertex {int(index.max())}, but the mesh has {len(points)} vertices.")
    faces = to_triangles(index, primitive.get("mode", TRIANGLES))
    colors: NDArray[np.uint8] | None = None
    if "COLOR_0" in names:
        colors = colors_as_bytes(accessor_values(scene, binary, names["COLOR_0"], budget))
        if len(colors) != len(points):
            raise BrokenError(f"it has {len(colors)} colors for {len(points)} vertices")
    image, layer, motion = _base_color(scene, primitive)
    on_picture = np.full((len(faces), 3, 2), np.nan)
    if image >= 0 and f"TEXCOORD_{layer}" in names:
        raw = accessor_values(scene, binary, names[f"TEXCOORD_{layer}"], budget)
        if raw.shape != (len(points), 2):
            raise BrokenError(f"it has {len(raw)} texture coordinates for {len(points)} vertices")
        scale = np.iinfo(raw.dtype).max if raw.dtype.kind in "iu" else 1.0
        on_picture = _moved_on_picture(raw.astype(np.float64) / scale, motion)[faces]
    else:
        image = -1
    return _Primitive(points @ matrix[:3, :3].T + matrix[:3, 3], faces.astype(np.int32), on_picture, image, colors)


def _base_color(scene: dict[str, Any], primitive: dict[str, Any]) -> tuple[int, int, dict[str, Any]]:
    """Return the image of a primitive's color, -1 for none, its layer of coordinates, and its motion."""
    if "material" not in primitive:
        return -1, 0, {}
    material = item_of(list_of(scene, "materials"), primitive["material"])
    found = material.get("pbrMetallicRoughness", {}).get("baseColorTexture")
    if found is None:
        found = material.get("extensions", {}).get(_GLOSSY, {}).get("diffuseTexture")
    if found is None:
        return -1, 0, {}
    texture = item_of(list_of(scene, "textures"), found["index"])
    extensions = texture.get("extensions", {})
    sources = [extensions[name]["source"] for name in _OTHER_SOURCES if name in extensions]
    source = texture.get("source", sources[0] if sources else None)
    if source is None:
        if _BASIS in extensions:
            raise ScanError(
                "The GLB file's picture is KTX (compressed for graphics cards, KHR_texture_basisu).",
                hint="Save it with its texture as PNG or JPEG.",
            )
        raise BrokenError("a texture names no image that is read")
    item_of(list_of(scene, "images"), source)
    motion = found.get("extensions", {}).get(_MOVED, {})
    return int(source), whole_of(motion, "texCoord", whole_of(found, "texCoord", 0)), motion


def _moved_on_picture(place: Float, motion: dict[str, Any]) -> Float:
    """Return places on a picture, (n, 2), after its motion (KHR_texture_transform: scale, then turn, then shift)."""
    if not motion:
        return place
    scale = np.array(motion.get("scale", [1.0, 1.0]), dtype=np.float64)
    shift = np.array(motion.get("offset", [0.0, 0.0]), dtype=np.float64)
    turn = float(motion.get("rotation", 0.0))
    if scale.shape != (2,) or shift.shape != (2,) or not np.isfinite([*scale, *shift, turn]).all():
        raise BrokenError("a texture's motion is no finite one")
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray((place * scale) @ matrix.T + shift)


def _picture(scene: dict[str, Any], binary: bytes, number: int, beside: Beside) -> PictureFile:
    """Return an image: out of the file's binary part, out of its text, or from beside it."""
    image = item_of(list_of(scene, "images"), number)
    name = str(image.get("name") or f"image {number}")
    if "bufferView" in image:
        view = item_of(list_of(scene, "bufferViews"), image["bufferView"])
        begin = whole_of(view, "byteOffset", 0)
        end = begin + whole_of(view, "byteLength")
        if end > len(binary):
            raise damaged(f'The GLB file\'s picture "{name}" ends at byte {end} of {len(binary)}.')
        return PictureFile(name, binary[begin:end])
    uri = image["uri"]
    if not isinstance(uri, str):
        raise BrokenError("an image's uri is no text")
    if uri.startswith("data:"):
        try:
            return PictureFile(name, base64.b64decode(uri.partition(",")[2], validate=True))
        except binascii.Error:
            raise damaged(f'The GLB file\'s picture "{name}" is no base64 text.') from None
    return PictureFile(beside_name(unquote(uri)), beside(beside_name(unquote(uri))))


PAINTS = (PaintFormat("glb", paint_glb, glb_companions),)
