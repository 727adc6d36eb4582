"""What the artist changed by hand in the pad or a region, told by a fingerprint that was kept when it was written.

Moving and turning an object is looking at it; its points, faces, size and modifiers are the part.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import bpy

from ...core.base.errors import ExportError
from .. import state

if TYPE_CHECKING:
    from ...core.stages.regions.regions import Region

WRITTEN = "padwright_written"
REGION = "padwright_region"  # a region's id, on its object
NAME = "padwright_name"  # the name its object was given: a copy has another
COLLECTION = "Regions"
_SIZE = 1e-3
_BUTTONS = {"pad": "Build Pad", "regions": "Cut Regions", "shape": "Make Shape"}


def sign(obj: bpy.types.Object) -> None:
    """Keep the fingerprint of an object's mesh as it is now, as that of what Padwright wrote."""
    obj.data[WRITTEN] = _fingerprint(obj.data)


def name_region(obj: bpy.types.Object, region_id: str) -> None:
    """Say which region an object shows, and sign it."""
    obj[REGION], obj[NAME] = region_id, obj.name
    sign(obj)


def _fingerprint(mesh: bpy.types.Mesh) -> str:
    import numpy as np  # here, as enabling the add-on loads no library

    from .. import bridge

    points = np.zeros(3 * len(mesh.vertices), dtype=np.float32)
    corners = np.zeros(len(mesh.loops), dtype=np.int32)
    if len(points):
        mesh.attributes["position"].data.foreach_get("vector", points)
    if len(corners):
        mesh.attributes[bridge.CORNERS].data.foreach_get("value", corners)
    return _digest(points.tobytes(), corners.tobytes())


def _digest(points: bytes, corners: bytes) -> str:
    return hashlib.blake2b(points + corners, digest_size=12).hexdigest()


def older(scene: bpy.types.Scene, made: Iterable[Region]) -> list[str]:
    """Return the ids of the regions that were made otherwise than the scene shows, e.g. after more paint.

    One that the scene lacks was deleted by the artist, unless the scene shows one that was not made.
    """
    import numpy as np

    from .. import bridge

    made = list(made)
    shown, factor = regions(scene), 1.0 / bridge.mm_per_scene_unit(scene)
    is_other = bool(set(shown) - {region.id for region in made})
    found = []
    for region in made:
        obj = shown.get(region.id)
        points = np.ascontiguousarray(region.mesh.vertices * factor, dtype=np.float32)
        corners = np.ascontiguousarray(region.mesh.faces, dtype=np.int32)
        signature = _digest(points.tobytes(), corners.tobytes())
        if is_other if obj is None else obj.data.get(WRITTEN) != signature:
            found.append(region.id)
    return found


def is_edited(obj: bpy.types.Object | None) -> bool:
    """Say if an object is no longer what Padwright wrote; of one that it did not sign nobody knows."""
    if obj is None or obj.type != "MESH" or WRITTEN not in obj.data:
        return False
    if obj.mode == "EDIT" or obj.modifiers:
        return True
    is_sized = any(abs(each - 1.0) > _SIZE for each in obj.matrix_world.to_scale())
    return is_sized or _fingerprint(obj.data) != obj.data[WRITTEN]


def regions(scene: bpy.types.Scene) -> dict[str, bpy.types.Object]:
    """Return the regions' objects by region id, as Cut Regions made them; the artist's copies are not among them."""
    found: dict[str, bpy.types.Object] = {}
    for obj in state.objects_in(scene, COLLECTION):
        if REGION in obj and (obj[REGION] not in found or obj.name == obj[NAME]):
            found[obj[REGION]] = obj
    return found


def edited(scene: bpy.types.Scene, *, with_regions: bool = True) -> list[tuple[bpy.types.Object, str]]:
    """Return the objects that were changed by hand, each with the stage that makes it anew."""
    part: Any = scene.padwright
    shown = [(part.pad, "pad")]
    if with_regions and part.fill_kind == "folds":
        shown.append((part.solid, "shape"))
    elif with_regions:
        shown += [(obj, "regions") for obj in regions(scene).values()]
    return [(obj, stage) for obj, stage in shown if is_edited(obj)]


def refuse(scene: bpy.types.Scene, *, with_regions: bool = True) -> None:
    """Refuse to go on from objects that were changed by hand.

    Raises ExportError when there is one; changes by hand are not carried into later stages or files.
    """
    found = edited(scene, with_regions=with_regions)
    if found:
        obj, stage = found[0]
        names = f'"{obj.name}" was' if len(found) == 1 else f'"{obj.name}" and {len(found) - 1} more were'
        raise ExportError(
            f"{names} changed by hand, and that would not be in the result.",
            hint=f"To keep the change duplicate the object; then press {_BUTTONS[stage]} again.",
        )
