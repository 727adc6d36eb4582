"""Binary STL of one region, in mm, as it lies on the bed in its place among the others."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float
from ..printing.orientation import along
from ..regions.bodies import RegionBody

_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def write_stl(body: RegionBody, part_number: str, to_bed: Float, bed_scale: Float | None = None) -> bytes:
    """Return the region as a binary STL file.

    The format has no unit, so the 80-byte header says "mm" beside the part number and the region; it never starts
    with "solid", which readers take for the text kind. Coordinates are single floats: exact to 1e-4 mm up to 838 mm
    from the bed's corner (2**23 steps), to 1e-3 mm up to 8 m.

    Parameters
    ----------
    to_bed : (4, 4) float, mm
        The one motion of all regions of a part. Every point is moved by itself and summed in one order, so that points
        that two regions share are the same in both files.
    bed_scale : (3,) float, optional
        By what the file is multiplied along the bed's axes once it lies there.
    """
    mesh = body.mesh
    header = f"{part_number} {body.id} mm, on the bed".encode("ascii", "replace")
    if header[:5].lower() == b"solid":
        header = b"part " + header
    facets = np.zeros(len(mesh.faces), dtype=_FACET)
    normal = np.stack([along(mesh.face_normals, row[:3]) for row in to_bed[:3]], axis=1)
    places = np.stack([along(mesh.vertices, row[:3]) + row[3] for row in to_bed[:3]], axis=1)
    if bed_scale is not None and (bed_scale != 1.0).any():
        places, normal = places * bed_scale, normal / bed_scale  # a normal goes by the inverse
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    facets["normal"] = normal
    facets["corners"] = places[mesh.faces]
    return header[:80].ljust(80) + len(facets).to_bytes(4, "little") + facets.tobytes()
