"""Scan files as objects of the scene: the mesh keeps the file's own numbers, the object's scale does the unit."""

from __future__ import annotations

from pathlib import Path

import bpy

from ...core.base.errors import InputError, ScanError
from ...core.base.notes import to_look_at
from ...core.base.units import mm_per_unit
from ...core.stages.scans.read import ReadScan, read_scan
from ...core.stages.scans.scale import choose_unit
from .. import bridge, state
from . import textures

_WORDS = {"base": "base scan", "impression": "impression scan"}


def read_file(path: Path) -> ReadScan:
    """Return the scan of a file.

    Raises InputError when the file cannot be read; ScanError when it is damaged; the message says where.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f'"{path}" cannot be read: {error.strerror}.', hint="Choose another file.") from None
    return read_scan(data, path.name)


def bring_in(
    context: bpy.types.Context, read: ReadScan, scan: str, unit: str | None, name: str, path: Path | None = None
) -> tuple[str, ...]:
    """Make an object of a scan that was read, let the part use it, and return notes.

    Of an impression the texture comes as well, where its path is given: marks of a pen may be on it.
    """
    part = context.scene.padwright
    unit, notes = choose_unit(read.file_unit, unit, _WORDS[scan])
    obj = bpy.data.objects.new(name, bridge.new_mesh(name, read.mesh))
    state.collection(context.scene).objects.link(obj)
    size = mm_per_unit(unit) / bridge.mm_per_scene_unit(context.scene)
    obj.scale = (size, size, size)
    context.view_layer.update()
    bridge.adopt_scan(obj, (1.0, 1.0, 1.0))
    before = getattr(part, scan)
    setattr(part, f"{scan}_unit", unit)
    setattr(part, scan, obj)
    if before is not None and before not in (part.base, part.impression) and not state.is_gone(before):
        state.hide(before, True)  # both would lie in one place
        notes = (*notes, f'"{before.name}" was the {scan} scan until now; it is hidden.')
    if path is not None and scan == "impression":
        notes = (*notes, *_texture_notes(obj, path))
    dropped = len(read.mesh.faces) - len(obj.data.polygons)
    if dropped:
        notes = (*notes, f"{dropped} faces of {name} name a vertex or face twice and were left out.")
    return (*read.notes, *notes)


def _texture_notes(obj: bpy.types.Object, path: Path) -> tuple[str, ...]:
    """Lay a file's texture on its object, and return what is to be said: a scan without its picture is still one."""
    try:
        painted = textures.read_texture(path)
    except ScanError as error:
        return (to_look_at(f"Its texture cannot be read. {error}"),)
    if painted is not None and not textures.lay_on(obj, painted):
        return (to_look_at("Its texture was left out: some faces of the scan were."),)
    return painted.notes if painted is not None else ()


def adopt_object(context: bpy.types.Context, obj: bpy.types.Object, scan: str, unit: str | None) -> None:
    """Let the part use an object that is there; with a unit its coordinates count as a file's numbers.

    Without one the object has the size the scene shows; with one it is scaled so that the scene shows that size.
    """
    part = context.scene.padwright
    if unit is None:
        unit = "mm"
        bridge.adopt_scan(obj, bridge.world_scale(obj) * bridge.mm_per_scene_unit(context.scene))
    else:
        bridge.adopt_scan(obj, bridge.world_scale(obj))
        bridge.show_at_true_size(obj, context.scene, mm_per_unit(unit), 1.0)
        context.view_layer.update()
    setattr(part, f"{scan}_unit", unit)
    setattr(part, scan, obj)
