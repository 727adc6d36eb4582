"""What the modeller is told of on enabling, and takes back on disabling: what the folders of the stages hold.

Each class of the modeller's in a file called `properties_*`, `operators_*` or `panels_*` is found; nothing names it.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType
from typing import Any

import bpy

from . import mesh_prints, properties
from .packing import command
from .state import STAGES
from .view import overlay

_KINDS = ("properties", "operators", "panels")  # each may name what those before it brought


def modules(kind: str) -> list[ModuleType]:
    """Return the files of one kind: those of this folder, then of the stages in their order, then of all others."""
    package, _, _ = __name__.rpartition(".")
    return [
        import_module(f"{name}.{file}")
        for name, path in [(package, _path(package)), *_folders(package)]
        for file in sorted(each.name for each in iter_modules(path))
        if file.split("_")[0] == kind
    ]


def _path(package: str) -> Any:
    return import_module(package).__path__


def _folders(package: str) -> Iterator[tuple[str, Any]]:
    """Give (name, path) of the folders, those of stages first; so a file is found in a zip as well as on the disk."""
    found = [each.name for each in iter_modules(_path(package)) if each.ispkg]
    for name in sorted(found, key=lambda each: (STAGES.index(each) if each in STAGES else len(STAGES), each)):
        yield f"{package}.{name}", _path(f"{package}.{name}")


def _defined_in(module: ModuleType) -> list[type]:
    """Return the modeller's classes that a file defines, from top to bottom; what they have in common is none."""
    found = [each for each in vars(module).values() if isinstance(each, type) and each.__module__ == module.__name__]
    return [each for each in found if issubclass(each, bpy.types.bpy_struct)]


def classes() -> tuple[type, ...]:
    """Return the classes of all files, in the order in which the modeller takes them."""
    found = {kind: [each for module in modules(kind) for each in _defined_in(module)] for kind in _KINDS}
    found["properties"].sort(key=lambda each: each is properties.PADWRIGHT_PG_part)  # it points to all others
    found["panels"].sort(key=lambda each: hasattr(each, "bl_parent_id"))  # a panel comes before those inside it
    return tuple(each for kind in _KINDS for each in found[kind])


CLASSES = classes()


def register() -> None:
    """Register every class, then hang the part's data on the scene."""
    for each in CLASSES:
        bpy.utils.register_class(each)
    bpy.types.Scene.padwright = bpy.props.PointerProperty(type=properties.PADWRIGHT_PG_part, name="Padwright")
    mesh_prints.start()
    overlay.start()
    command.register()


def unregister() -> None:
    """Undo `register`, last first."""
    command.unregister()
    overlay.stop()
    mesh_prints.stop()
    del bpy.types.Scene.padwright
    for each in reversed(CLASSES):
        bpy.utils.unregister_class(each)
