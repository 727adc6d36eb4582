"""Enabling: cheap, clean, as often as one likes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import addon_utils
import bpy
import pytest

ROOT = Path(__file__).resolve().parents[2]
NAME = "bl_ext.dev.padwright"

FRESH = """
import json, sys, time
import bpy, addon_utils
repos = bpy.context.preferences.extensions.repos
repos.new(name="dev", module="dev", custom_directory=sys.argv[1], source="USER")
before = set(sys.modules)
start = time.process_time()
assert addon_utils.enable("bl_ext.dev.padwright", default_set=True) is not None
spent = time.process_time() - start
libraries = ("scipy", "igl", "manifold3d", "trimesh", "numpy")
wheels = [name for name in set(sys.modules) - before if name.split(".")[0] in libraries]
own = sorted(name.removeprefix("bl_ext.dev.padwright.") for name in set(sys.modules) - before if "padwright" in name)
addon_utils.disable("bl_ext.dev.padwright", default_set=True)
print(json.dumps({"ms": 1000 * spent, "wheels": wheels, "own": own}))
"""


def enable_in_a_new_process(tmp_path: Path) -> dict:
    answer = subprocess.run(
        [sys.executable, "-c", FRESH, str(ROOT / "addon")],
        env={
            **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
            "BLENDER_USER_RESOURCES": str(tmp_path / "resources"),
            "PYTHONPYCACHEPREFIX": str(tmp_path / "compiled"),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(answer.stdout.splitlines()[-1])


def test_enabling_is_quick_and_loads_no_wheel(tmp_path: Path) -> None:
    # Processor time, the least of three: the machine's other work must not decide. The first start of all compiles.
    enable_in_a_new_process(tmp_path)
    found = [enable_in_a_new_process(tmp_path) for _ in range(3)]
    assert found[0]["wheels"] == []
    assert "core.job.schema" not in found[0]["own"]  # its many tables take as long to load as half of all the rest
    # 50 ms is the aim, and scripts/bench.py prints how far it is met (36 ms, idle); a slow machine may take more.
    assert min(each["ms"] for each in found) <= 150.0


def test_it_can_be_disabled_and_enabled_again() -> None:
    assert hasattr(bpy.types.Scene, "padwright")
    addon_utils.disable(NAME, default_set=True)
    try:
        assert not hasattr(bpy.types.Scene, "padwright")
        assert "start_part" not in dir(bpy.ops.padwright)
        assert not hasattr(bpy.types, "PADWRIGHT_PT_part")
    finally:
        addon_utils.enable(NAME, default_set=True)
    assert bpy.ops.padwright.start_part(family="grip", part_name="G", number="G-1") == {"FINISHED"}


def test_families_are_those_of_the_core(inside) -> None:
    items = inside("blender.properties").FAMILY_ITEMS
    assert tuple(item[0] for item in items) == inside("core.job.schema").FAMILIES
    numbers = {"seat_pad": 0, "insole": 1, "grip": 2, "liner_pad": 3, "nose_pad": 4}  # scenes saved so far hold these
    assert numbers.items() <= {item[0]: item[3] for item in items}.items()


def traces() -> dict[str, list[str]]:
    """Return what an add-on can leave behind in the modeller: classes, handlers, timers, keys, data on the scene."""
    keys = bpy.context.window_manager.keyconfigs.addon
    maps = keys.keymaps if keys else ()
    return {
        "classes": sorted(name for name in dir(bpy.types) if "PADWRIGHT" in name.upper()),
        "operators": [name for name in dir(bpy.ops.padwright)],
        "handlers": sorted(
            f"{kind}: {each.__module__}.{each.__qualname__}"
            for kind in dir(bpy.app.handlers)
            for each in (getattr(bpy.app.handlers, kind) if isinstance(getattr(bpy.app.handlers, kind), list) else ())
            if "padwright" in each.__module__
        ),
        "keys": [item.idname for each in maps for item in each.keymap_items if "padwright" in item.idname],
        "data": [
            f"{kind.__name__}.{name}"
            for kind in (bpy.types.Scene, bpy.types.Object, bpy.types.Mesh, bpy.types.WindowManager)
            for name in kind.bl_rna.properties.keys()
            if "padwright" in name
        ],
    }


class Counted:
    """Counts what is put into the modeller and taken out again by a pair of functions."""

    def __init__(self, monkeypatch, holder: object, put: str, take: str) -> None:
        self.there: list = []
        plain_put, plain_take = getattr(holder, put), getattr(holder, take)

        def counted_put(*arguments, **named):
            handle = plain_put(*arguments, **named)
            self.there.append(handle)
            return handle

        def counted_take(handle, *rest):
            self.there.remove(handle)
            return plain_take(handle, *rest)

        monkeypatch.setattr(holder, put, counted_put)
        monkeypatch.setattr(holder, take, counted_take)


def test_nothing_is_left_behind_however_often_it_is_enabled(inside, monkeypatch) -> None:
    registration, overlay = inside("blender.registration"), inside("blender.view.overlay")
    there = traces()
    assert len(overlay._handle) == 1
    assert there["classes"] and there["data"] == ["Scene.padwright"]
    registration.unregister()
    try:
        assert traces() == {name: [] for name in there}
        commands = Counted(monkeypatch, bpy.utils, "register_cli_command", "unregister_cli_command")
        timers: list = []
        monkeypatch.setattr(bpy.app.timers, "register", lambda function, **_: timers.append(function))
        monkeypatch.setattr(bpy.app.timers, "unregister", timers.remove)
        for _ in range(2):
            registration.register()
            assert traces() == there and len(overlay._handle) == 1
            registration.unregister()
            assert traces() == {name: [] for name in there}
            assert commands.there == timers == overlay._handle == []
    finally:
        monkeypatch.undo()
        registration.register()
    assert traces() == there


@pytest.mark.parametrize("library", ["scipy", "manifold3d", "igl"])
def test_a_library_that_does_not_load_is_named_with_what_to_do(part, inside, monkeypatch, library) -> None:
    monkeypatch.setattr(inside("blender.stage_memory"), "_memory", None)
    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(RuntimeError, match=rf"cannot be loaded: .*{library}.*Install the Padwright zip"):
        bpy.ops.padwright.prepare_scans()


def test_an_old_library_of_another_add_on_is_refused(part, inside, monkeypatch) -> None:
    import scipy

    monkeypatch.setattr(inside("blender.stage_memory"), "_memory", None)
    monkeypatch.setattr(scipy, "__version__", "1.9.3")
    with pytest.raises(RuntimeError, match=r"scipy 1\.9\.3; Padwright needs 1\.11"):
        bpy.ops.padwright.prepare_scans()
