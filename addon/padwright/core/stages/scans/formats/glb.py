"""Read the triangles of a GLB (binary glTF 2.0) and place them as its scene says."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ....base.errors import ScanError
from ....base.text import counted
from .draft import Draft, colors_as_bytes, damaged, texture_note
from .scan_format import ScanFormat

_COMPONENT = {5120: "i1", 5121: "u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTH = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}
_JSON_CHUNK, _BINARY_CHUNK = 0x4E4F534A, 0x004E4942
TRIANGLES, STRIP, FAN = 4, 5, 6
"""Numbers of the Khronos glTF 2.0 specification, sections 3.6, 3.7.2 and 4.4 (also ISO/IEC 12113:2022)."""
_DEEPEST = 64
_LARGEST_STEP = 1e12
_LEAST_ROOM = 10_000


class Budget:
    """How much a file may ask for: honest meshes hold a byte or more for every number of theirs, repeated ones none.

    Four points or corners a byte leave room for a mesh that is shown a few times.
    """

    def __init__(self, file_bytes: int) -> None:
        self.file_bytes = file_bytes
        self.left = _LEAST_ROOM + 4 * file_bytes

    def take(self, count: int) -> None:
        """Take room for points or corners before they are made.

        Raises ScanError when there is none left.
        """
        self.left -= count
        if self.left < 0:
            raise ScanError(
                f"The GLB file has {self.file_bytes} bytes and asks for far more points and corners than they can "
                "hold: it states counts without data, or shows one mesh again and again.",
                hint="Save the scan as one mesh.",
            )


def read_glb(data: bytes) -> Draft:
    """Read a GLB file; its unit is the meter (glTF 2.0, section 3.3), its numbers are kept as they are.

    Raises ScanError when lengths disagree, data lies outside the file or is packed by an extension, or no triangles are
    in it.
    """
    scene, binary = glb_chunks(data)
    with told_structure():
        refuse_packed(scene)
        budget, shown = Budget(len(data)), shown_meshes(scene)
        parts = [part for mesh, matrix in shown for part in _mesh_parts(scene, binary, mesh, matrix, budget)]
        notes = list(_picture_notes(scene))
    if not parts:
        raise _nothing_shown()
    offset = np.cumsum([0, *[len(part[0]) for part in parts]])
    points = np.concatenate([part[0] for part in parts])
    corners = np.concatenate([part[1] + start for part, start in zip(parts, offset, strict=False)]).ravel()
    colors = None
    if any(part[2] is not None for part in parts):
        white = [np.full((len(part[0]), 4), 255, dtype=np.uint8) if part[2] is None else part[2] for part in parts]
        colors = np.concatenate(white)
    if len(parts) > 1:
        notes.append(f"The GLB file's {len(parts)} meshes were joined.")
    notes.append("GLB files are in meters by their standard.")
    declared = {"vertices": len(points), "faces": len(corners) // 3}
    return Draft(points, np.full(len(corners) // 3, 3), corners, colors, "m", declared, tuple(notes))


def glb_counts(head: bytes, size: int) -> tuple[int | None, int | None]:
    """Return how many vertices and faces a GLB file shows by its scene description; None where it goes past the head.

    Raises ScanError when lengths disagree, the mesh is packed by an extension, or no triangles are shown.
    """
    length = _length(head, size)
    size_of_first, kind = (int.from_bytes(head[at : at + 4], "little") for at in (12, 16))
    if kind != _JSON_CHUNK or (20 + size_of_first > len(head) and 20 + size_of_first <= length):
        return None, None
    scene = _scene(head[20 : 20 + size_of_first])
    vertices = faces = 0
    with told_structure():
        refuse_packed(scene)
        for mesh, _ in shown_meshes(scene):
            for primitive in list_of(mesh, "primitives"):
                mode, accessors = primitive.get("mode", TRIANGLES), list_of(scene, "accessors")
                if mode not in (TRIANGLES, STRIP, FAN):
                    continue
                points = whole_of(item_of(accessors, primitive["attributes"]["POSITION"]), "count")
                corners = (
                    whole_of(item_of(accessors, primitive["indices"]), "count") if "indices" in primitive else points
                )
                vertices += points
                faces += corners // 3 if mode == TRIANGLES else max(corners - 2, 0)
    if not faces:
        raise _nothing_shown()
    return vertices, faces


@contextmanager
def told_structure() -> Iterator[None]:
    """Tell in words what a look into the scene description met that is not as it should be."""
    try:
        yield
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise damaged(f"The GLB file's structure is broken: {_in_words(error)}.") from None


def _nothing_shown() -> ScanError:
    return ScanError("The GLB file's scene shows no triangles.", hint="Save the scan's surface, not only its points.")


def refuse_packed(scene: dict[str, Any]) -> None:
    """Refuse meshes packed by an extension: Draco, meshopt."""
    required = [str(name) for name in list_of(scene, "extensionsRequired")]
    packed = [name for name in required if "draco" in name or "meshopt" in name]
    if packed:
        raise ScanError(f"The GLB file's mesh is packed by {packed[0]}.", hint="Save it without mesh compression.")


def _in_words(error: Exception) -> str:
    """Return what a look into the scene description met, without a program's words."""
    if isinstance(error, KeyError):
        return f'"{error.args[0]}" is missing or of no known kind'
    if isinstance(error, IndexError):
        return "it points to a part that is not there"
    return str(error) if isinstance(error, BrokenError) else "an entry is of the wrong kind"


class BrokenError(ValueError):
    """A fault of the scene description, told in words."""


def item_of(items: list[Any], index: object) -> Any:
    """Return an item by its number; a negative one points nowhere."""
    if isinstance(index, bool) or not isinstance(index, int):
        raise BrokenError("a number of a part is no whole number")
    if index < 0:
        raise IndexError
    return items[index]


def list_of(owner: dict[str, Any], name: str) -> list[Any]:
    """Return a list that may be missing."""
    found = owner.get(name, [])
    if not isinstance(found, list):
        raise BrokenError(f'"{name}" is no list')
    return found


def whole_of(owner: dict[str, Any], name: str, default: int | None = None) -> int:
    """Return a whole number, 0 or larger; a float counts where it is whole."""
    value = owner[name] if default is None else owner.get(name, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or value % 1 or not 0 <= value < 2**53:
        raise BrokenError(f'"{name}" is {str(value)[:20]}, no count')
    return int(value)


def _picture_notes(scene: dict[str, Any]) -> tuple[str, ...]:
    """Return what is to be said of pictures that lie on the surface."""
    images, materials = len(list_of(scene, "images")), len(list_of(scene, "materials"))
    primitives = [each for mesh in list_of(scene, "meshes") for each in list_of(mesh, "primitives")]
    is_laid_out = any("TEXCOORD_0" in each["attributes"] for each in primitives)
    if not images and not is_laid_out:
        return ()
    found = [counted(images, "picture")] if images else []
    found += ["texture coordinates"] if is_laid_out else []
    found += [counted(materials, "material")] if materials and images else []
    return (texture_note("GLB", found, has_colors=any("COLOR_0" in each["attributes"] for each in primitives)),)


def glb_chunks(data: bytes) -> tuple[dict[str, Any], bytes]:
    """Return the scene description and the binary data, their lengths checked."""
    length = _length(data, len(data))
    found: dict[int, bytes] = {}
    at = 12
    while at + 8 <= length:
        size, kind = (int.from_bytes(data[at + i : at + i + 4], "little") for i in (0, 4))
        if at + 8 + size > length:
            raise damaged(
                f"The GLB file's block at byte {at} states {size} bytes, {at + 8 + size - length} past its end."
            )
        found.setdefault(kind, data[at + 8 : at + 8 + size])
        at += 8 + size
    if _JSON_CHUNK not in found:
        raise damaged("The GLB file has no scene description.")
    return _scene(found[_JSON_CHUNK]), found.get(_BINARY_CHUNK, b"")


def _length(head: bytes, size: int) -> int:
    """Return the length a GLB file states, which is no more than its size."""
    if size < 20:
        raise damaged(f"The GLB file is {size} bytes long; its head alone takes 20.")
    version, length = (int.from_bytes(head[at : at + 4], "little") for at in (4, 8))
    if version != 2:
        raise ScanError(f"The GLB file is of version {version}; version 2 is read.", hint="Save it as glTF 2.0.")
    if length > size:
        raise damaged(f"The GLB file states {length} bytes but ends at byte {size}.")
    return length


def _scene(text: bytes) -> dict[str, Any]:
    try:
        scene = json.loads(text.decode("utf-8"), parse_int=_json_whole, parse_constant=_no_number)
    except RecursionError:
        raise damaged("The GLB file's scene description is nested too deeply.") from None
    except ValueError as error:
        raise damaged(f"The GLB file's scene description cannot be read ({error}).") from None
    if not isinstance(scene, dict):
        raise damaged("The GLB file's scene description is not an object.")
    return scene


def _json_whole(text: str) -> int:
    if len(text) > 20:  # no count has so many digits, and Python refuses thousands in words of its own
        raise ValueError(f"a number of {len(text)} digits")
    return int(text)


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number of this format")


_Part = tuple[NDArray[np.float64], NDArray[np.int64], "NDArray[np.uint8] | None"]


def shown_meshes(scene: dict[str, Any]) -> Iterator[tuple[dict[str, Any], NDArray[np.float64]]]:
    """Yield every mesh that the scene shows and the motion to its place, (4, 4)."""
    nodes = list_of(scene, "nodes")
    if scene.get("scenes"):
        roots = list_of(item_of(list_of(scene, "scenes"), scene.get("scene", 0)), "nodes")
    else:
        children = {child for node in nodes for child in list_of(node, "children")}
        roots = [index for index in range(len(nodes)) if index not in children]
    if not nodes:
        yield from ((mesh, np.eye(4)) for mesh in list_of(scene, "meshes"))
        return
    todo = [(index, np.eye(4), 0) for index in reversed(roots)]
    met: set[int] = set()
    while todo:
        index, outer, depth = todo.pop()
        if depth > _DEEPEST:
            raise BrokenError(f"node {index} lies more than {_DEEPEST} levels deep")
        # Nodes form trees, each with one parent at most (glTF 2.0, section 3.5.2): without the check forty nodes,
        # each the next one's parent twice, would ask for 2**40 meshes.
        if index in met:
            raise BrokenError(f"node {index} hangs in more than one place")
        met.add(index)
        node = item_of(nodes, index)
        matrix = outer @ _node_matrix(node)
        if not (np.abs(matrix) <= _LARGEST_STEP**2).all():
            raise BrokenError(f"the place of node {index} is no finite number of a scan")
        if "mesh" in node:
            yield item_of(list_of(scene, "meshes"), node["mesh"]), matrix
        todo += [(child, matrix, depth + 1) for child in reversed(list_of(node, "children"))]


def _node_matrix(node: dict[str, Any]) -> NDArray[np.float64]:
    """Return the node's motion: its matrix (column by column) or translation x rotation x scale."""
    if "matrix" in node:
        return _finite(node, "matrix", [0.0] * 16).reshape(4, 4).T
    x, y, z, w = _finite(node, "rotation", [0.0, 0.0, 0.0, 1.0])
    matrix = np.eye(4)
    matrix[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    matrix[:3, :3] *= _finite(node, "scale", [1.0, 1.0, 1.0])
    matrix[:3, 3] = _finite(node, "translation", [0.0, 0.0, 0.0])
    return matrix


def _finite(node: dict[str, Any], name: str, default: list[float]) -> NDArray[np.float64]:
    """Return as many numbers of a node as the default has; a product of several nodes' must stay finite."""
    values = np.array(node.get(name, default), dtype=np.float64)
    if values.shape != (len(default),):
        raise BrokenError(f'"{name}" has not {len(default)} numbers')
    if not (np.abs(values) <= _LARGEST_STEP).all():
        raise BrokenError(f'"{name}" of a node is no finite number of a scan')
    return values


def _mesh_parts(
    scene: dict[str, Any], binary: bytes, mesh: dict[str, Any], matrix: NDArray[np.float64], budget: Budget
) -> list[_Part]:
    """Return the triangle parts of one mesh."""
    parts: list[_Part] = []
    for primitive in list_of(mesh, "primitives"):
        mode = primitive.get("mode", TRIANGLES)
        if mode not in (TRIANGLES, STRIP, FAN):
            continue
        names = primitive["attributes"]
        points = accessor_values(scene, binary, names["POSITION"], budget).astype(np.float64)
        if points.shape[1] != 3:
            raise BrokenError("its places have not three coordinates")
        if "indices" in primitive:
            index = accessor_values(scene, binary, primitive["indices"], budget).reshape(-1)
            if index.dtype.kind != "u":
                raise BrokenError("its vertex numbers are no whole numbers")
            index = index.astype(np.int64)
        else:
            index = np.arange(len(points))
        if len(index) and index.max() >= len(points):
            raise damaged(f"The GLB file points to vertex {int(index.max())}, but the mesh has {len(points)} vertices.")
        triangles = to_triangles(index, mode)
        if np.linalg.det(matrix[:3, :3]) < 0:
            triangles = triangles[:, ::-1]
        colors = None
        if "COLOR_0" in names:
            colors = colors_as_bytes(accessor_values(scene, binary, names["COLOR_0"], budget))
            if len(colors) != len(points):
                raise BrokenError(f"it has {len(colors)} colors for {len(points)} vertices")
        parts.append((points @ matrix[:3, :3].T + matrix[:3, 3], triangles, colors))
    return parts


def to_triangles(index: NDArray[np.int64], mode: int) -> NDArray[np.int64]:
    """Return the triangles of a list, a strip or a fan (glTF 2.0, section 3.7.2.1)."""
    if mode == TRIANGLES:
        if len(index) % 3:
            raise damaged(f"The GLB file has {len(index)} corners, not a multiple of three.")
        return index.reshape(-1, 3)
    count = max(len(index) - 2, 0)
    step = np.arange(count)
    if mode == FAN:
        return np.stack([index[step + 1], index[step + 2], np.broadcast_to(index[:1], count)], axis=1)
    odd = step % 2
    return np.stack([index[step], index[step + 1 + odd], index[step + 2 - odd]], axis=1)


def accessor_values(scene: dict[str, Any], binary: bytes, number: int, budget: Budget) -> NDArray[Any]:
    """Return an accessor's values, (count, width), with every bound checked."""
    accessor = item_of(list_of(scene, "accessors"), number)
    kind = np.dtype(_COMPONENT[accessor["componentType"]])
    width, count = _WIDTH[accessor["type"]], whole_of(accessor, "count")
    budget.take(count)
    if "bufferView" in accessor:
        values = _view(scene, binary, accessor, kind, width, count, f"accessor {number}")
    else:
        values = np.zeros((count, width), dtype=kind)
    if "sparse" in accessor:
        sparse = accessor["sparse"]
        index_kind = np.dtype(_COMPONENT[sparse["indices"]["componentType"]])
        changed = whole_of(sparse, "count")
        at = _view(scene, binary, sparse["indices"], index_kind, 1, changed, f"accessor {number}")
        values = values.copy()
        values[at.reshape(-1)] = _view(scene, binary, sparse["values"], kind, width, changed, f"accessor {number}")
    if accessor.get("normalized") and accessor["type"] == "VEC3" and kind.kind == "i":
        return np.maximum(values / np.iinfo(kind).max, -1.0)
    return values


def _view(
    scene: dict[str, Any], binary: bytes, source: dict[str, Any], kind: np.dtype[Any], width: int, count: int, name: str
) -> NDArray[Any]:
    view = item_of(list_of(scene, "bufferViews"), source["bufferView"])
    buffer = item_of(list_of(scene, "buffers"), view.get("buffer", 0))
    if view.get("buffer", 0) != 0 or "uri" in buffer:
        raise ScanError(
            "The GLB file keeps its mesh in another file.", hint="Save it as one GLB file with everything inside."
        )
    begin = whole_of(view, "byteOffset", 0) + whole_of(source, "byteOffset", 0)
    item = kind.itemsize * width
    stride = whole_of(view, "byteStride", item)
    end = begin + stride * (count - 1) + item if count else begin
    limit = min(len(binary), whole_of(view, "byteOffset", 0) + whole_of(view, "byteLength"))
    if stride < item or end > limit:
        raise damaged(f"The GLB file's {name} asks for bytes up to {end}, but there are {limit}.")
    steps = (stride, kind.itemsize)
    rows: NDArray[Any] = np.ndarray((count, width), dtype=kind, buffer=binary, offset=begin, strides=steps)
    return rows.astype(kind.newbyteorder("="))


FORMATS = (
    ScanFormat(
        "glb",
        read_glb,
        start=b"glTF",
        is_marked=lambda look: look.head.startswith(b"glTF"),
        unit="m",
        counts=glb_counts,
    ),
)
