"""Binary STL of one region, in the part frame and in mm."""

from __future__ import annotations

import numpy as np

from ..regions.bodies import Body

_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def write_stl(body: Body, part_number: str) -> bytes:
    """Return the region as a binary STL file.

    The format has no unit, so the 80-byte header says "mm" beside the part number and the region; it never starts
    with "solid", which readers take for the text kind. Coordinates are single floats: exact to 1e-4 mm up to 838 mm
    from the origin of the part frame (2**23 steps), to 1e-3 mm up to 8 m.

    Parameters
    ----------
    body : Body
    part_number : str
    """
    mesh = body.mesh
    header = f"{part_number} {body.id} mm, part frame".encode("ascii", "replace")
    if header[:5].lower() == b"solid":
        header = b"part " + header
    facets = np.zeros(len(mesh.faces), dtype=_FACET)
    facets["normal"] = mesh.face_normals
    facets["corners"] = mesh.triangles
    return header[:80].ljust(80) + len(facets).to_bytes(4, "little") + facets.tobytes()
