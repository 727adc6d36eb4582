"""Scans with drawn-on textures, from formulas: any surface, any paint, as OBJ, GLB and PLY as other programs do."""

from __future__ import annotations

import io
import json
import struct
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from PIL import Image

from padwright.core.base.mesh import TriMesh
from scan_making import Float

Paint = Callable[[Float], Float]  # places (k, 3) -> sRGB (k, 3), 0 to 255


@dataclass(frozen=True, eq=False)
class Textured:
    """A mesh on a picture: each triangle has a patch of its own, which is the worst an unwrapping can do."""

    mesh: TriMesh
    on_picture: Float  # (m, 3, 2), right and UP from the lower left, 0 to 1
    pixels: np.ndarray  # (rows, columns, 3) uint8

    def picture(self, kind: str = "PNG", **options: int) -> bytes:
        """Return the picture as a file."""
        file = io.BytesIO()
        Image.fromarray(self.pixels).save(file, kind, **({"compress_level": 1} if kind == "PNG" else {}), **options)
        return file.getvalue()


def textured(mesh: TriMesh, paint: Paint, texels: int = 12, *, seed: int = 0, noise: float = 0.0) -> Textured:
    """Return the mesh with its paint on a picture that is not square, `texels` along the short sides of each triangle.

    Noise is the standard deviation of each channel, of 255.
    """
    count, cell = len(mesh.faces), texels + 2
    columns = int(np.ceil(np.sqrt(1.7 * count)))
    rows = -(-count // columns)
    row, column = np.divmod(np.arange(count), columns)
    # The corners lie in the middle of their pixels, one pixel away from the patch's sides.
    corner = np.array([[1.5, 1.5], [texels + 0.5, 1.5], [1.5, texels + 0.5]])
    at = corner[None] + np.stack([column, row], axis=1)[:, None] * cell
    size = np.array([columns * cell, rows * cell])
    on_picture = at / size
    on_picture[..., 1] = 1.0 - on_picture[..., 1]
    y, x = (each.ravel() for each in np.mgrid[:cell, :cell] + 0.5)
    first, second = (x - 1.5) / (texels - 1.0), (y - 1.5) / (texels - 1.0)
    weights = np.stack([1.0 - first - second, first, second], axis=1)
    pixels = np.zeros((size[1], size[0], 3), dtype=np.float64)
    tiles = np.zeros((count, cell, cell, 3))
    for begin in range(0, count, 4000):
        part = slice(begin, min(begin + 4000, count))
        places = np.einsum("kc,mcd->mkd", weights, mesh.triangles[part])
        tiles[part] = paint(places.reshape(-1, 3)).reshape(-1, cell, cell, 3)
    for number in range(rows):
        here = tiles[number * columns : (number + 1) * columns]
        strip = here.transpose(1, 0, 2, 3).reshape(cell, -1, 3)
        pixels[number * cell : (number + 1) * cell, : strip.shape[1]] = strip
    if noise:
        pixels += np.random.default_rng(seed).normal(0.0, noise, pixels.shape)
    return Textured(mesh, on_picture, np.clip(np.rint(pixels), 0, 255).astype(np.uint8))


def obj_files(
    scan: Textured, picture: str = "clay.png", *, material: str = "clay", quality: int = 90
) -> dict[str, bytes]:
    """Return scan, material file and picture by name: `clay.obj`, `clay.mtl` and the picture's."""
    kind = "JPEG" if picture.lower().endswith(("jpg", "jpeg")) else "PNG"
    lines = ["# textured scan", "mtllib clay.mtl", f"usemtl {material}"]
    lines += ["v {:.9g} {:.9g} {:.9g}".format(*point) for point in scan.mesh.vertices.tolist()]
    lines += ["vt {:.9g} {:.9g}".format(*place) for place in scan.on_picture.reshape(-1, 2).tolist()]
    for number, face in enumerate((scan.mesh.faces + 1).tolist()):
        first = 3 * number + 1
        lines.append(f"f {face[0]}/{first} {face[1]}/{first + 1} {face[2]}/{first + 2}")
    return {
        "clay.obj": ("\n".join(lines) + "\n").encode(),
        "clay.mtl": f"newmtl {material}\nKd 1 1 1\nmap_Kd {picture}\n".encode(),
        picture: scan.picture(kind, quality=quality) if kind == "JPEG" else scan.picture(),
    }


def glb_file(scan: Textured, *, kind: str = "PNG", quality: int = 90, **changed: object) -> bytes:
    """Return a GLB file of the scan with its picture inside; its vertices are parted at each side of each patch."""
    picture = scan.picture(kind, quality=quality) if kind == "JPEG" else scan.picture(kind)
    points = scan.mesh.triangles.reshape(-1, 3).astype("<f4").tobytes()
    places = scan.on_picture.reshape(-1, 2).copy()
    places[:, 1] = 1.0 - places[:, 1]
    blocks = [points, places.astype("<f4").tobytes(), picture + b"\0" * (-len(picture) % 4)]
    begin = np.cumsum([0, *map(len, blocks)]).tolist()
    count = 3 * len(scan.mesh.faces)
    scene = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "TEXCOORD_0": 1}, "material": 0}]}],
        "materials": [{"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}}],
        "textures": [{"source": 0}],
        "images": [{"bufferView": 2, "mimeType": f"image/{kind.lower()}", "name": "clay"}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": count, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5126, "count": count, "type": "VEC2"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": begin[0], "byteLength": len(points)},
            {"buffer": 0, "byteOffset": begin[1], "byteLength": len(blocks[1])},
            {"buffer": 0, "byteOffset": begin[2], "byteLength": len(picture)},
        ],
        "buffers": [{"byteLength": begin[3]}],
    }
    text = json.dumps(scene | changed).encode()
    text += b" " * (-len(text) % 4)
    binary = b"".join(blocks)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(binary), 0x004E4942) + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def ply_files(scan: Textured, *, form: str = "ascii") -> dict[str, bytes]:
    """Return scan and picture as PLY with the place of each corner on the picture, as mesh programs write it."""
    head = (
        f"ply\nformat {form} 1.0\ncomment TextureFile clay.png\nelement vertex {len(scan.mesh.vertices)}\n"
        f"property float x\nproperty float y\nproperty float z\nelement face {len(scan.mesh.faces)}\n"
        "property list uchar int vertex_indices\nproperty list uchar float texcoord\nend_header\n"
    ).encode()
    places = scan.on_picture.reshape(-1, 6)
    if form == "ascii":
        rows = ["{:.9g} {:.9g} {:.9g}".format(*point) for point in scan.mesh.vertices.tolist()]
        rows += [
            "3 {} {} {} 6 {:.9g} {:.9g} {:.9g} {:.9g} {:.9g} {:.9g}".format(*face, *place)
            for face, place in zip(scan.mesh.faces.tolist(), places.tolist(), strict=True)
        ]
        return {"clay.ply": head + ("\n".join(rows) + "\n").encode(), "clay.png": scan.picture()}
    kind = np.dtype([("n", "u1"), ("c", "<i4", 3), ("k", "u1"), ("t", "<f4", 6)])
    table = np.zeros(len(places), dtype=kind)
    table["n"], table["c"], table["k"], table["t"] = 3, scan.mesh.faces, 6, places
    body = scan.mesh.vertices.astype("<f4").tobytes() + table.tobytes()
    return {"clay.ply": head + body, "clay.png": scan.picture()}


CLAY, RED, BLUE = (172.0, 150.0, 128.0), (176.0, 48.0, 42.0), (38.0, 62.0, 140.0)
"""A gray-brown clay and two pens on it as a camera sees them: ours, chosen to be no pure colors."""


def rings(*drawn: tuple[tuple[float, float], float, float, tuple[float, float, float]], shade: float = 0.3) -> Paint:
    """Return clay with pen rings: (center, radius of the line's middle, width, color), mm, seen along z.

    Shade is how much darker, of linear light, the clay's dark side is: it runs along x over 60 mm, as side light does.
    """

    def paint(places: Float) -> Float:
        colors = np.tile(np.array(CLAY), (len(places), 1))
        for center, radius, width, color in drawn:
            away = np.hypot(places[:, 0] - center[0], places[:, 1] - center[1])
            colors[np.abs(away - radius) <= width / 2.0] = color
        light = 1.0 - shade * (0.5 + 0.5 * np.sin(places[:, 0] * np.pi / 60.0))
        return colors * light[:, None] ** (1.0 / 2.2)  # sRGB is about the 2.2nd root of light

    return paint
