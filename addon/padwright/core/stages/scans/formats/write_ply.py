"""Write a mesh as PLY, so that what lies in a modeller's scene can go the same way as a scan file."""

from __future__ import annotations

import numpy as np

from ....base.mesh import TriMesh


def write_ply(mesh: TriMesh, *, comment: str = "") -> bytes:
    """Return the mesh as a binary PLY file with 64-bit coordinates as they are, and vertex colors where it has them.

    The comment is one line of ASCII for whoever opens the file.

    Notes
    -----
    Turk 1994, "The PLY Polygon File Format": little endian, properties x y z, red green blue alpha, vertex_indices.
    """
    fields: list[tuple[str, str]] = [("x", "<f8"), ("y", "<f8"), ("z", "<f8")]
    if mesh.colors is not None:
        fields += [(name, "u1") for name in ("red", "green", "blue", "alpha")]
    points = np.zeros(len(mesh.vertices), dtype=fields)
    for axis, name in enumerate("xyz"):
        points[name] = mesh.vertices[:, axis]
    if mesh.colors is not None:
        for channel, name in enumerate(("red", "green", "blue", "alpha")):
            points[name] = mesh.colors[:, channel]
    faces = np.zeros(len(mesh.faces), dtype=[("count", "u1"), ("corner", "<i4", (3,))])
    faces["count"], faces["corner"] = 3, mesh.faces
    kinds = {"<f8": "double", "u1": "uchar"}
    head = [
        "ply",
        "format binary_little_endian 1.0",
        *([f"comment {comment}"] if comment else []),
        f"element vertex {len(points)}",
        *(f"property {kinds[kind]} {name}" for name, kind in fields),
        f"element face {len(faces)}",
        "property list uchar int vertex_indices",
        "end_header",
    ]
    return "\n".join(head).encode("ascii") + b"\n" + points.tobytes() + faces.tobytes()
