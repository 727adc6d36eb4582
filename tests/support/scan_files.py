"""Small scan files made byte by byte: one tetrahedron in every format that is read."""

from __future__ import annotations

import json
import struct

import numpy as np

# A tetrahedron with a right angle at the origin: volume 1 x 2 x 3 / 6 = 1.
POINTS = np.array([[0, 0, 0], [1, 0, 0], [0, 2, 0], [0, 0, 3]], dtype=float)
FACES = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
COLORS = np.array([[255, 0, 0, 255], [0, 255, 0, 255], [0, 0, 255, 255], [10, 20, 30, 255]])


def binary_stl(faces: np.ndarray = FACES, points: np.ndarray = POINTS, header: bytes = b"scan") -> bytes:
    record = np.zeros(len(faces), dtype=[("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    record["c"] = points[faces]
    return header.ljust(80) + struct.pack("<I", len(faces)) + record.tobytes()


def text_stl() -> str:
    facets = "".join(
        "facet normal 0 0 0\n outer loop\n"
        + "".join("  vertex {:g} {:g} {:g}\n".format(*POINTS[corner]) for corner in face)
        + " endloop\nendfacet\n"
        for face in FACES
    )
    return f"solid a facet and a vertex in the name\n{facets}endsolid\n"


def ply(order: str = "ascii", *, points: np.ndarray = POINTS, faces: list | np.ndarray = FACES) -> bytes:
    head = (
        f"ply\nformat {order} 1.0\ncomment made by hand\nelement vertex {len(points)}\nproperty double x\n"
        "property float quality\nproperty double y\nproperty double z\nproperty uchar red\nproperty uchar green\n"
        f"property uchar blue\nelement face {len(faces)}\nproperty uchar flags\n"
        "property list uchar int vertex_indices\nproperty float area\nend_header\n"
    ).encode()
    if order == "ascii":
        rows = [f"{p[0]:g} 7.5 {p[1]:g} {p[2]:g} {c[0]} {c[1]} {c[2]}" for p, c in zip(points, COLORS, strict=False)]
        rows += [f"1 {len(face)} {' '.join(map(str, face))} 2.5" for face in faces]
        return head + ("\n".join(rows) + "\n").encode()
    sign = "<" if "little" in order else ">"
    body = b"".join(
        struct.pack(f"{sign}dfddBBB", p[0], 7.5, p[1], p[2], *map(int, c[:3]))
        for p, c in zip(points, COLORS, strict=False)
    )
    for face in faces:
        body += struct.pack(f"{sign}BB{len(face)}if", 1, len(face), *map(int, face), 2.5)
    return head + body


def obj() -> bytes:
    lines = ["# a comment", "mtllib x.mtl", "o part"]
    lines += [
        "v {:g} {:g} {:g} {:.6f} {:.6f} {:.6f}".format(*p, *(c[:3] / 255)) for p, c in zip(POINTS, COLORS, strict=True)
    ]
    lines += ["vt 0 0", "vn 0 0 1"] + ["f " + " ".join(f"{i + 1}/1/1" for i in face) for face in FACES]
    return "\n".join(lines).encode()


def off(head: str = "OFF") -> bytes:
    rows = [f"{head}  # a comment", "4 4 6"] + ["{:g} {:g} {:g}".format(*p) for p in POINTS]
    rows += [f"3 {a} {b} {c} 255 0 0" for a, b, c in FACES]
    return "\n".join(rows).encode()


def glb(*, matrix: list | None = None, index_type: int = 5123, **changed: object) -> bytes:
    position = POINTS.astype("<f4").tobytes()
    index = FACES.astype({5121: "u1", 5123: "<u2", 5125: "<u4"}[index_type]).tobytes()
    color = COLORS.astype("u1").tobytes()
    binary = position + color + index
    binary += b"\0" * (-len(binary) % 4)
    node = {"mesh": 0} | ({"matrix": matrix} if matrix else {})
    scene = {
        "asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}], "nodes": [node],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0, "COLOR_0": 1}, "indices": 2}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5121, "count": 4, "type": "VEC4", "normalized": True},
            {"bufferView": 2, "componentType": index_type, "count": 12, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": 48}, {"buffer": 0, "byteOffset": 48, "byteLength": 16},
            {"buffer": 0, "byteOffset": 64, "byteLength": len(index)},
        ],
        "buffers": [{"byteLength": len(binary)}],
    }  # fmt: skip
    text = json.dumps(scene | changed).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(binary), 0x004E4942) + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks
