"""Read a scan file and say what it states, what it holds and what was odd about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import ScanError
from ..mesh import TriMesh
from .draft import AGAIN, Draft, check_indices, triangulate
from .read_glb import read_glb
from .read_ply import read_ply
from .read_stl import read_binary_stl, read_text_stl
from .read_text_meshes import read_obj, read_off
from .sniff import sniff_format

_READERS: dict[str, Callable[[bytes], Draft]] = {
    "stl binary": read_binary_stl,
    "stl text": read_text_stl,
    "ply": read_ply,
    "obj": read_obj,
    "off": read_off,
    "glb": read_glb,
}


@dataclass(frozen=True, eq=False)
class ReadScan:
    """A scan as its file has it.

    Attributes
    ----------
    mesh : TriMesh
        In the file's own numbers, not yet mm.
    file_format : str
        "stl binary", "stl text", "ply", "obj", "off" or "glb", told from the content.
    file_unit : str or None
        The unit the format lays down ("m" for GLB), None where it states none.
    declared : dict
        Counts the file states ("vertices", "faces"), as far as it does.
    real : dict
        Counts found ("vertices", "faces", "not_finite").
    notes : tuple of str
        What was odd and what was done about it.
    """

    mesh: TriMesh
    file_format: str
    file_unit: str | None
    declared: dict[str, int]
    real: dict[str, int]
    notes: tuple[str, ...]


def read_scan(data: bytes, name: str) -> ReadScan:
    """Read a scan from the bytes of its file.

    Parameters
    ----------
    data : bytes
        The whole file: STL (binary or text), OBJ, PLY, OFF or GLB.
    name : str
        The file's name, for messages and as a hint; the content decides the format.

    Returns
    -------
    ReadScan
        Equal corners of an STL are joined, since that format has no shared vertices; nothing else is changed.

    Raises
    ------
    ScanError
        When the file is empty, cut off, of another kind, states other counts than it holds, points past its
        vertices, or holds no triangle; it says what and where (line or byte).
    """
    kind = sniff_format(data, name)
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    draft = _READERS[kind](data)
    check_indices(draft)
    faces, notes = triangulate(draft)
    if kind in ("obj", "off") and not data.endswith((b"\n", b"\r")):
        notes += ("The file's last line has no line end; if the file was cut off there, this is the only sign.",)
    all_notes = list(draft.notes) + list(notes)
    if len(faces) == 0:
        raise ScanError(f'The scan file "{name}" holds {len(draft.points)} vertices and no triangle.', hint=AGAIN)
    is_finite = np.isfinite(draft.points).all(axis=1)
    not_finite = int(len(is_finite) - is_finite.sum())
    if not_finite == len(is_finite):
        raise ScanError(f'None of the {len(is_finite)} vertices of "{name}" has finite coordinates.', hint=AGAIN)
    if not_finite:
        all_notes.append(
            f"{not_finite} vertices have coordinates that are no finite number (the first: vertex "
            f"{int(np.flatnonzero(~is_finite)[0])}, counted from 0)."
        )
    extension = name.rsplit(".", 1)[-1].lower() if "." in name else ""
    if extension and not kind.startswith(extension):
        all_notes.append(
            f'The name ends in ".{extension}", but the content is {kind.upper()}; the content was believed.'
        )
    real = {"vertices": len(draft.points), "faces": len(faces), "not_finite": not_finite}
    mesh = TriMesh(draft.points, faces, draft.colors)
    return ReadScan(mesh, kind, draft.unit, draft.declared, real, tuple(all_notes))
