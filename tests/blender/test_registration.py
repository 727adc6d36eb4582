"""What a stage's folder holds is found there: a panel is one file, and a folder of a stage is all its buttons need."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

ENABLE = """
import json, sys
import bpy, addon_utils
repos = bpy.context.preferences.extensions.repos
repos.new(name="dev", module="dev", custom_directory=sys.argv[1], source="USER")
assert addon_utils.enable("bl_ext.dev.padwright", default_set=True) is not None
there = {name: hasattr(bpy.types, f"PADWRIGHT_{name}") for name in ("PT_trial", "OT_trial")}
there["PG_trial"] = any(each.__name__ == "PADWRIGHT_PG_trial" for each in bpy.types.PropertyGroup.__subclasses__())
writers = sorted(sys.modules["bl_ext.dev.padwright.blender.stage_work"].WRITERS)
if there["OT_trial"]:
    assert bpy.ops.padwright.trial() == {"FINISHED"}
addon_utils.disable("bl_ext.dev.padwright", default_set=True)
left = [name for name in dir(bpy.types) if "PADWRIGHT" in name.upper()]
print(json.dumps([there, writers, left]))
"""
ZIPPED = """
import json, sys
sys.path.insert(0, sys.argv[1])
import bpy
from padwright.blender import registration
print(json.dumps([each.__name__ for each in registration.CLASSES]))
"""

PANEL = '''"""A trial."""

import bpy

from ..panels import StagePanel


class PADWRIGHT_PT_trial(StagePanel, bpy.types.Panel):
    """A trial"""

    bl_label = "Trial"
'''
OPERATOR = '''"""A trial."""

import bpy

from ..button import Button
from ..stage_work import WRITERS


class PADWRIGHT_OT_trial(Button, bpy.types.Operator):
    """A trial"""

    bl_label = "Trial"

    def act(self, context, part):
        pass


WRITERS["trial"] = lambda context, result: ("", ())
'''
PROPERTIES = '''"""A trial."""

import bpy


class PADWRIGHT_PG_trial(bpy.types.PropertyGroup):
    """A trial"""

    size: bpy.props.FloatProperty(name="Size")
'''
A_PANEL = {"zones/panels_trial.py": PANEL}
A_FOLDER = {
    "trial/__init__.py": '"""A trial."""\n',
    "trial/properties_trial.py": PROPERTIES,
    "trial/operators_trial.py": OPERATOR,
    "trial/panels_trial.py": PANEL,
}


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """Return a copy of the add-on to plant files in."""
    shutil.copytree(ROOT / "addon", tmp_path / "addon", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "shared").symlink_to(ROOT / "shared")
    return tmp_path / "addon"


def run(script: str, place: Path, resources: Path) -> object:
    answer = subprocess.run(
        [sys.executable, "-c", script, str(place)],
        env={**os.environ, "BLENDER_USER_RESOURCES": str(resources), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(answer.stdout.splitlines()[-1])


@pytest.mark.parametrize(
    ("files", "brings"), [(A_PANEL, {"PT_trial"}), (A_FOLDER, {"PT_trial", "OT_trial", "PG_trial"})]
)
def test_what_is_put_into_a_folder_is_there_and_goes_with_it(tree, tmp_path, files, brings) -> None:
    places = [tree / "padwright" / "blender" / name for name in files]
    for place, text in zip(places, files.values(), strict=True):
        place.parent.mkdir(exist_ok=True)
        place.write_text(text, "utf-8")
    there, writers, left = run(ENABLE, tree, tmp_path / "resources")
    assert {name for name, is_there in there.items() if is_there} == brings
    assert ("trial" in writers) == (files is A_FOLDER)
    assert left == []
    for place in places:
        place.unlink()
    there, writers, left = run(ENABLE, tree, tmp_path / "resources")
    assert not any(there.values()) and "trial" not in writers and left == []


def test_the_same_is_found_in_a_zip_in_the_same_order(tmp_path, inside) -> None:
    archive = tmp_path / "padwright.zip"
    with zipfile.ZipFile(archive, "w") as packed:
        for path in sorted((ROOT / "addon").rglob("*.py"), reverse=True):
            packed.write(path, path.relative_to(ROOT / "addon"))
    (tmp_path / "shared").symlink_to(ROOT / "shared")
    found = run(ZIPPED, archive, tmp_path / "resources")
    assert found == [each.__name__ for each in inside("blender.registration").CLASSES]


def test_panels_come_after_what_they_stand_in_and_stages_in_their_order(inside) -> None:
    names = [each.__name__ for each in inside("blender.registration").CLASSES]
    stages = ["scans", "alignment", "impression", "pad", "zones", "regions", "load", "export"]
    order = [names.index(f"PADWRIGHT_PT_{name}") for name in ("part", *stages)]
    assert order == sorted(order)
    for each in inside("blender.registration").CLASSES:
        parent = getattr(each, "bl_parent_id", None)
        assert parent is None or names.index(parent) < names.index(each.__name__)
