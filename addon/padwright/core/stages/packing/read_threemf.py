"""The bodies of a 3MF that `write_threemf` wrote, read again; it is no reader of other programs' files."""

from __future__ import annotations

import io
import re
import zipfile
import zlib

import numpy as np

from ...base.errors import InputError
from ...base.mesh import TriMesh
from .threemf import MODEL_PART

_VERTEX = re.compile(rb'<vertex x="([^"]+)" y="([^"]+)" z="([^"]+)"/>')
_TRIANGLE = re.compile(rb'<triangle v1="(\d+)" v2="(\d+)" v3="(\d+)"/>')
_REGION = re.compile(rb'name="pw:region"[^>]*>([^<]+)<')


def read_bodies(data: bytes, name: str) -> dict[str, TriMesh]:
    """Return the mesh of each region in the part frame, mm, by its id.

    Raises InputError when it is no 3MF of Padwright.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            text = package.read(MODEL_PART)
        found = {}
        for block in text.split(b"<object ")[1:]:
            region, vertices = _REGION.search(block), _VERTEX.findall(block)
            if region is None or not vertices:
                continue
            points = np.array(vertices, dtype="S").astype(np.float64)
            faces = np.array(_TRIANGLE.findall(block), dtype="S").astype(np.int32)
            if len(faces) == 0 or faces.max() >= len(points):
                raise ValueError
            found[region.group(1).decode()] = TriMesh(points, faces)
    except (zipfile.BadZipFile, zlib.error, KeyError, ValueError, NotImplementedError, EOFError):
        found = {}
    if not found:
        raise InputError(f'"{name}" holds no regions of Padwright.', hint="Make the part again with a run.")
    return found
