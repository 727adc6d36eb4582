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
addon_utils.disable("bl_ext.dev.padwright", default_set=True)
print(json.dumps({"ms": 1000 * spent, "wheels": wheels}))
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


def test_enabling_takes_at_most_50_ms_and_loads_no_wheel(tmp_path: Path) -> None:
    # Processor time, the least of three: the machine's other work must not decide. The first start of all compiles.
    enable_in_a_new_process(tmp_path)
    found = [enable_in_a_new_process(tmp_path) for _ in range(3)]
    assert found[0]["wheels"] == []
    assert min(each["ms"] for each in found) <= 50.0


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
    assert inside("blender.properties").FAMILIES == inside("core.job_schema").FAMILIES


def test_a_library_that_does_not_load_is_named_with_what_to_do(part, inside, monkeypatch) -> None:
    monkeypatch.setattr(inside("blender.stage_work"), "_memory", None)
    monkeypatch.setitem(sys.modules, "scipy", None)
    with pytest.raises(RuntimeError, match=r"cannot be loaded: .*scipy.*Install the Padwright zip"):
        bpy.ops.padwright.prepare_scans()


def test_an_old_library_of_another_add_on_is_refused(part, inside, monkeypatch) -> None:
    import scipy

    monkeypatch.setattr(inside("blender.stage_work"), "_memory", None)
    monkeypatch.setattr(scipy, "__version__", "1.9.3")
    with pytest.raises(RuntimeError, match=r"scipy 1\.9\.3; Padwright needs 1\.11"):
        bpy.ops.padwright.prepare_scans()
