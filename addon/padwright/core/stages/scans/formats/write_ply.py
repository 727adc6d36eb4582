"""Write a mesh as PLY, so that what lies in a modeller's scene can go the same way as a scan file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ....base.mesh import Float, Int, TriMesh


@dataclass(frozen=True, eq=False)
class OnPictures:
    """Where the faces of a mesh lie on pictures, by the names of their files beside it."""

    places: Float  # (m, 3, 2); right and down, 0 to 1
    picture_of: Int  # (m,); number of the picture, -1 where a face lies on none
    names: tuple[str, ...]


def write_ply(mesh: TriMesh, *, comment: str = "", pictures: OnPictures | None = None) -> bytes:
    """Return the mesh as a binary PLY file with 64-bit coordinates as they are, and vertex colors where it has them.

    The comment is one line of ASCII for whoever opens the file. Pictures are named by comments, and each face says
    where its corners lie on which, as mesh programs have it: "texcoord", counted from the lower left, and "texnumber".

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
    rows: list[tuple[str, str] | tuple[str, str, tuple[int]]] = [("count", "u1"), ("corner", "<i4", (3,))]
    if pictures is not None:
        rows += [("six", "u1"), ("place", "<f8", (6,)), ("picture", "<i4")]
    faces = np.zeros(len(mesh.faces), dtype=rows)
    faces["count"], faces["corner"] = 3, mesh.faces
    if pictures is not None:
        up = np.stack([pictures.places[..., 0], 1.0 - pictures.places[..., 1]], axis=2)
        faces["six"], faces["place"], faces["picture"] = 6, up.reshape(-1, 6), pictures.picture_of
    kinds = {"<f8": "double", "u1": "uchar"}
    head = [
        "ply",
        "format binary_little_endian 1.0",
        *([f"comment {comment}"] if comment else []),
        *(f"comment TextureFile {name}" for name in (pictures.names if pictures is not None else ())),
        f"element vertex {len(points)}",
        *(f"property {kinds[kind]} {name}" for name, kind in fields),
        f"element face {len(faces)}",
        "property list uchar int vertex_indices",
        *(["property list uchar double texcoord", "property int texnumber"] if pictures is not None else []),
        "end_header",
    ]
    return "\n".join(head).encode("ascii") + b"\n" + points.tobytes() + faces.tobytes()
