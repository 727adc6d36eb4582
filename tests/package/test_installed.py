"""The zip as a person gets it: valid, installed by the modeller, used after a restart with its own libraries."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from support.cases import make_case

from .conftest import SITE, here

INSTALL = """
bpy.ops.extensions.package_install_files(filepath=sys.argv[1], repo="user_default", enable_on_install=True)
assert "bl_ext.user_default.padwright" in bpy.context.preferences.addons.keys()
addon_utils.disable("bl_ext.user_default.padwright")
"""

USE = """
import json
# As on a start with the add-on in the preferences; reading those ends the 4.2 module with a crash.
assert addon_utils.enable("bl_ext.user_default.padwright", default_set=True) is not None
before = [name for name in ("scipy", "manifold3d", "igl", "PIL") if name in sys.modules]
bpy.ops.wm.read_homefile(use_empty=True)
bpy.ops.padwright.load_job(filepath=sys.argv[1])
part = bpy.context.scene.padwright
bpy.ops.padwright.build_pad()
bpy.ops.padwright.plan_zones()
bpy.ops.padwright.cut_regions()
part.folder = sys.argv[2]
bpy.ops.padwright.export_part()
import igl, manifold3d, PIL, scipy
places = {each.__name__: each.__file__ for each in (igl, manifold3d, PIL, scipy)}
print("\\n" + json.dumps({"before": before, "places": places, "stages": [each.name for each in part.stages]}))
addon_utils.disable("bl_ext.user_default.padwright")
"""


USE_BROKEN = """
import json, pathlib, shutil, sys
assert addon_utils.enable("bl_ext.user_default.padwright", default_set=True) is not None
bpy.ops.wm.read_homefile(use_empty=True)
bpy.ops.padwright.load_job(filepath=sys.argv[1])
said = ""
try:
    bpy.ops.padwright.prepare_scans()
except RuntimeError as error:
    said = str(error)
print("\\n" + json.dumps({"said": said, "stages": [each.name for each in bpy.context.scene.padwright.stages]}))
addon_utils.disable("bl_ext.user_default.padwright")
"""


@pytest.fixture(scope="module")
def job_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from scan_making import ply_bytes

    case = make_case("seat", triangles=20_000, noise_mm=0.1, pose="small", turntable=False)
    folder = tmp_path_factory.mktemp("job")
    for name in ("base", "impression"):
        mesh = getattr(case, name)
        (folder / f"{name}.ply").write_bytes(ply_bytes(mesh.vertices, mesh.faces))
    (folder / "job.toml").write_text(
        'schema = 1\n[part]\nname = "Seat"\nnumber = "SEAT-1"\nfamily = "seat_pad"\n'
        '[base]\nscan = "base.ply"\nunit = "mm"\n[impression]\nscan = "impression.ply"\nunit = "mm"\n'
        f"[body]\npress_direction = {[round(float(each), 6) for each in case.press_direction_in_base]}\n",
        "utf-8",
    )
    return folder / "job.toml"


def test_the_modeller_finds_nothing_wrong_with_it(zip_file):
    tool = next(SITE.glob("bpy/*/scripts/addons_core/*/cli/blender_ext.py"))
    answer = subprocess.run(
        [sys.executable, str(tool), "validate", str(zip_file)], capture_output=True, text=True, check=False
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr
    assert "rror" not in answer.stdout


def test_its_tags_are_those_the_modeller_knows(zip_file):
    known = next(SITE.glob("bpy/*/scripts/modules/_bpy_internal/extensions/tags.py"))
    words: dict = {}
    exec(compile(known.read_text("utf-8"), str(known), "exec"), words)
    tags = words["addons"] if "addons" in words else words["ADDONS"]
    with zipfile.ZipFile(zip_file) as archive:
        manifest = tomllib.loads(archive.read("blender_manifest.toml").decode())
    assert set(manifest["tags"]) <= set(tags)
    assert manifest["platforms"] == [here()]
    assert set(manifest["permissions"]) == {"files"}


def test_it_holds_what_it_should_and_no_more(zip_file):
    with zipfile.ZipFile(zip_file) as archive:
        names = set(archive.namelist())
        manifest = tomllib.loads(archive.read("blender_manifest.toml").decode())
        assert archive.testzip() is None
    assert {name.removeprefix("./") for name in manifest["wheels"]} == {n for n in names if n.endswith(".whl")}
    assert {"__init__.py", "LICENSE", "shared/families/seat_pad.toml", "shared/materials/tpu_85a.toml"} <= names
    assert not [name for name in names if name.endswith((".pyc", ".part")) or "tests" in name]
    wheels = ("scipy-1.15.3", "scipy-1.17.1", "manifold3d-3.5.4", "libigl-2.6.0+core.of.2.6.3", "pillow-13.0.0")
    for wheel in wheels:
        assert [name for name in names if name.startswith(f"licenses/{wheel}/")], wheel


def test_it_works_after_a_restart_with_its_own_libraries(zip_file, in_a_new_process, resources, job_file, tmp_path):
    in_a_new_process(INSTALL, str(zip_file))
    found = json.loads(in_a_new_process(USE, str(job_file), str(tmp_path)).splitlines()[-1])
    assert found["before"] == []  # enabled, and still no library loaded
    for name, place in found["places"].items():
        assert Path(place).is_relative_to(resources / "extensions" / ".local"), name
    assert found["stages"][-1] == "regions"
    assert (tmp_path / "SEAT-1.run.json").exists() and (tmp_path / "SEAT-1.project.3mf").exists()


@pytest.mark.parametrize(
    ("library", "pattern"), [("scipy", "scipy"), ("manifold3d", "manifold3d*"), ("igl", "igl"), ("PIL", "PIL")]
)
def test_a_library_lost_after_installing_is_named_with_what_to_do(
    zip_file, in_a_new_process, resources, job_file, library, pattern
):
    """As when something else has cleared the folder, or an update was cut short: runs after the zip was installed."""
    site_packages = next((resources / "extensions" / ".local" / "lib").glob("python3*")) / "site-packages"
    for place in site_packages.glob(pattern):
        place.rename(place.with_name(f"away-{place.name}"))
    try:
        found = json.loads(in_a_new_process(USE_BROKEN, str(job_file)).splitlines()[-1])
    finally:
        for place in site_packages.glob(f"away-{pattern}"):
            place.rename(place.with_name(place.name.removeprefix("away-")))
    assert "A library that Padwright needs cannot be loaded" in found["said"] and library in found["said"]
    assert "Install the Padwright zip made for this system again and restart" in found["said"]
    assert "Traceback" not in found["said"]
    assert found["stages"] == []


def test_a_broken_library_is_named_with_what_to_do(zip_file, in_a_new_process, resources, job_file):
    """As when a file came over damaged; one cut short ends the process on Linux, which no one can catch."""
    site_packages = next((resources / "extensions" / ".local" / "lib").glob("python3*")) / "site-packages"
    library = next(each for each in site_packages.glob("manifold3d*") if each.suffix in (".so", ".pyd"))
    whole = library.read_bytes()
    library.unlink()  # not written over: it may be mapped
    library.write_bytes(b"no library" * 1000)
    try:
        found = json.loads(in_a_new_process(USE_BROKEN, str(job_file)).splitlines()[-1])
    finally:
        library.unlink()
        library.write_bytes(whole)
    assert "A library that Padwright needs cannot be loaded" in found["said"]
