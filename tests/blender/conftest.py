"""The add-on enabled in the modeller as a Python module, and a small part to work on."""

from __future__ import annotations

import importlib
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

_RESOURCES = tempfile.TemporaryDirectory(prefix="padwright-modeller-")
os.environ["BLENDER_USER_RESOURCES"] = _RESOURCES.name  # before the first import of bpy, so that no one's own are read
os.environ["SOURCE_DATE_EPOCH"] = "1700000000"

import bpy  # noqa: E402, I001 - it puts addon_utils on the path
import addon_utils  # noqa: E402
import numpy as np  # noqa: E402

from support.cases import Case, make_case  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
NAME = "bl_ext.dev.padwright"


@pytest.fixture(scope="session", autouse=True)
def enabled() -> Iterator[None]:
    """Enable the add-on from this checkout the way the modeller does it; disable it at the end."""
    repos = bpy.context.preferences.extensions.repos
    repos.new(name="dev", module="dev", custom_directory=str(ROOT / "addon"), source="USER")
    assert addon_utils.enable(NAME, default_set=True) is not None
    yield
    addon_utils.disable(NAME, default_set=True)


@pytest.fixture(scope="session")
def inside() -> Callable[[str], Any]:
    """Import a module of the add-on by its name inside it: `inside("blender.bridge")`."""
    return lambda name: importlib.import_module(f"{NAME}.{name}")


@pytest.fixture(autouse=True)
def scene() -> Any:
    """Start from an empty scene."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    return bpy.context.scene


@pytest.fixture(scope="session")
def case() -> Case:
    """Return a small seat with both scans slightly moved and 1 % too long."""
    return make_case("seat", triangles=20_000, noise_mm=0.1, base_scale_error=1.01, pose="small", turntable=False)


@pytest.fixture(scope="session")
def job_file(case: Case, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the case as a job with both scans, check lengths and pairs beside it."""
    from scan_making import ply_bytes

    folder = tmp_path_factory.mktemp("job")
    for name in ("base", "impression"):
        mesh = getattr(case, name)
        (folder / f"{name}.ply").write_bytes(ply_bytes(mesh.vertices, mesh.faces))
    press = [round(float(each), 6) for each in case.press_direction_in_base]
    lines = [
        'schema = 1\n[part]\nname = "Small seat"\nnumber = "SEAT-1"\nfamily = "seat_pad"',
        f'[base]\nscan = "base.ply"\nunit = "{case.unit}"',
    ]
    for length in case.lengths:
        ends = [[float(f"{each:.6g}") for each in point] for point in (length.base_from, length.base_to)]
        lines.append(
            f'[[base.check_lengths]]\nname = "{length.name}"\nmeasured_mm = {length.measured_mm:.2f}\n'
            f"from = {ends[0]}\nto = {ends[1]}"
        )
    lines.append(f'[impression]\nscan = "impression.ply"\nunit = "{case.unit}"\nscale = "as base"')
    lines.append(f"[body]\npress_direction = {press}")
    lines.append('[[zones]]\nname = "bones"\nlevel = 4\nsource = "load_centers"\nradius_mm = 28.0')
    lines.append('[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"')
    lines.append("[load]\nbody_mass_kg = 70.0")
    path = folder / "job.toml"
    path.write_text("\n".join(lines) + "\n", "utf-8")
    return path


@pytest.fixture
def part(scene: Any, job_file: Path) -> Any:
    """Load the small part into the scene."""
    bpy.ops.padwright.load_job(filepath=str(job_file))
    return scene.padwright


@pytest.fixture
def array_of() -> Callable[[Any], np.ndarray]:
    """Return the places of an object's vertices in the scene, mm."""

    def places(obj: Any) -> np.ndarray:
        flat = np.zeros(3 * len(obj.data.vertices), dtype=np.float32)
        obj.data.vertices.foreach_get("co", flat)
        bpy.context.view_layer.update()
        matrix = np.array(obj.matrix_world)
        return (
            (flat.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3])
            * 1000
            * bpy.context.scene.unit_settings.scale_length
        )

    return places
