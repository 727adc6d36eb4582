"""The benchmark's rows in the modeller, each beside its target; run by bench.py in a release's environment.

    .venv-blender-4.2/bin/python scripts/bench_modeller.py

The best of several runs counts: the machine's other work must not decide.
"""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
NAME = "bl_ext.dev.padwright"
SIDE = 447  # squared: 200,000 vertices

ENABLE = """
import sys, time
import bpy, addon_utils
repos = bpy.context.preferences.extensions.repos
repos.new(name="dev", module="dev", custom_directory=sys.argv[1], source="USER")
before = set(sys.modules)
start = time.perf_counter()
assert addon_utils.enable("bl_ext.dev.padwright", default_set=True) is not None
spent = time.perf_counter() - start
loaded = sorted({name.split(".")[0] for name in set(sys.modules) - before} & {"scipy", "igl", "manifold3d", "numpy"})
addon_utils.disable("bl_ext.dev.padwright", default_set=True)
print(1000 * spent, *loaded)
"""


def best_ms(work: Callable[[], object], runs: int) -> float:
    """Return the least time of some runs, ms."""
    spent = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        spent.append(1000 * (time.perf_counter() - start))
    return min(spent)


def processor_ms(work: Callable[[], object], runs: int) -> str:
    """Return the least processor time of some runs in words: where other work slows the machine, it tells more."""
    spent = []
    for _ in range(runs):
        start = time.process_time()
        work()
        spent.append(1000 * (time.process_time() - start))
    return f"processor time {min(spent):.0f} ms"


def enabling(resources: str) -> tuple[float, list[str]]:
    """Return what enabling takes in a new process, ms, and which libraries it loaded; the first start compiles."""
    found = []
    for _ in range(4):
        answer = subprocess.run(
            [sys.executable, "-c", ENABLE, str(ROOT / "addon")],
            env={
                **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
                "BLENDER_USER_RESOURCES": resources,
                "PYTHONPYCACHEPREFIX": str(Path(resources) / "compiled"),
            },
            capture_output=True,
            text=True,
            check=True,
        )
        found.append(answer.stdout.splitlines()[-1].split())
    return min(float(each[0]) for each in found[1:]), found[-1][1:]


class Layout:
    """Takes what a panel draws, as the modeller's layout does."""

    def __getattr__(self, _name: str) -> Callable[..., Any]:
        return lambda *_arguments, **_named: self

    def __setattr__(self, name: str, value: object) -> None:
        """Layouts take flags such as `enabled`; they change nothing here."""


def panels(bpy: Any) -> tuple[float, str]:
    """Return how long the slowest panel takes to draw in a scene with every stage done, ms, and which it is."""
    found = []
    for name in dir(bpy.types):
        if not name.startswith("PADWRIGHT_PT_"):
            continue
        kind = getattr(bpy.types, name)
        if hasattr(kind, "poll") and not kind.poll(bpy.context):
            continue
        panel = SimpleNamespace(layout=Layout())
        for base in reversed(kind.__mro__):
            for key, value in vars(base).items():
                if not key.startswith("__") and base.__module__.startswith(NAME):
                    setattr(panel, key, value.__get__(panel, kind) if hasattr(value, "__get__") else value)
        found.append((best_ms(lambda kind=kind, panel=panel: kind.draw(panel, bpy.context), 30), name))
    return max(found)


def bridge_rows(bpy: Any) -> list[dict[str, Any]]:
    """Return how long arrays of 200,000 vertices take into the modeller and back."""
    import numpy as np

    bridge = importlib.import_module(f"{NAME}.blender.bridge")
    attributes = importlib.import_module(f"{NAME}.blender.attributes")
    mesh_type = importlib.import_module(f"{NAME}.core.base.mesh").TriMesh
    x, y = (each.ravel() for each in np.meshgrid(np.arange(SIDE) * 0.5, np.arange(SIDE) * 0.5))
    corner = (np.arange(SIDE - 1)[:, None] * SIDE + np.arange(SIDE - 1)).ravel()
    faces = np.concatenate([
        np.column_stack([corner, corner + 1, corner + SIDE]),
        np.column_stack([corner + 1, corner + SIDE + 1, corner + SIDE]),
    ]).astype(np.int32)  # fmt: skip
    mesh = mesh_type(np.column_stack([x, y, np.sin(x / 9.0) * np.cos(y / 7.0)]), faces)
    obj = bpy.data.objects.new("bench", bridge.new_mesh("bench", mesh, 0.001))
    bpy.context.scene.collection.objects.link(obj)
    bpy.context.view_layer.update()
    values = np.linspace(0.0, 9.0, len(x))

    def both_ways() -> None:
        flat = bridge.read_mesh(obj).vertices
        obj.data.attributes["position"].data.foreach_set("vector", np.ascontiguousarray(flat, np.float32).ravel())
        attributes.write(obj.data, "padwright_test", values)
        attributes.read(obj.data, "padwright_test")

    def made() -> None:
        bpy.data.meshes.remove(bridge.new_mesh("made", mesh, 0.001))

    attributes.write_group(obj, "zone", np.clip(values - 4.0, 0.0, 1.0))

    def read() -> None:
        attributes.read_groups(obj, ["zone"])

    one, one_also = best_ms(read, 5), processor_ms(read, 3)
    for name in ("rest", "second", "third", "fourth"):  # so that most vertices are in several, the worst there is
        attributes.write_group(obj, name, np.clip(9.5 - values, 0.0, 1.0))
    count = f"{len(x):,} vertices"
    return [
        row(f"positions and an attribute both ways, {count}", best_ms(both_ways, 7), 50),
        row(f"a new mesh, {count}, {len(faces):,} triangles", best_ms(made, 5), 250, processor_ms(made, 3)),
        row(f"a painted group read, {count}, half of them in it", one, 300, one_also),
        row(
            f"a painted group read, {count}, five groups on the mesh",
            best_ms(read, 5),
            300,
            processor_ms(read, 3),
        ),
    ]


def row(work: str, spent_ms: float, target_ms: float, also: str = "") -> dict[str, Any]:
    """Return a row of the table."""
    return {"work": work, "ms": spent_ms, "target_ms": target_ms, "also": also}


def main() -> int:
    """Measure all rows and print them as one line of JSON."""
    with tempfile.TemporaryDirectory(prefix="padwright-bench-") as resources:
        os.environ["BLENDER_USER_RESOURCES"] = resources
        spent, loaded = enabling(resources)
        rows = [row("enabling, in a new process", spent, 50, f"loaded: {', '.join(loaded) or 'no library'}")]
        import bpy

        addon_utils = importlib.import_module("addon_utils")  # bpy puts it on the path

        repos = bpy.context.preferences.extensions.repos
        repos.new(name="dev", module="dev", custom_directory=str(ROOT / "addon"), source="USER")
        addon_utils.enable(NAME, default_set=True)
        rows += bridge_rows(bpy)
        sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "addon")]
        slowest, name = panels_of_a_whole_part(bpy, Path(resources))
        rows.append(row("drawing the slowest panel, every stage done", slowest, 0.5, name))
        addon_utils.disable(NAME, default_set=True)
        print("\n" + json.dumps({"release": bpy.app.version_string, "rows": rows}))
    return 0


def panels_of_a_whole_part(bpy: Any, folder: Path) -> tuple[float, str]:
    """Make a small part by its buttons, then draw every panel."""
    from scan_making import ply_bytes
    from support.cases import make_case

    case = make_case("seat", triangles=20_000, noise_mm=0.1, pose="small", turntable=False)
    for name in ("base", "impression"):
        mesh = getattr(case, name)
        (folder / f"{name}.ply").write_bytes(ply_bytes(mesh.vertices, mesh.faces))
    (folder / "job.toml").write_text(
        'schema = 1\n[part]\nname = "Seat"\nnumber = "SEAT-1"\nfamily = "seat_pad"\n'
        '[base]\nscan = "base.ply"\nunit = "mm"\n[impression]\nscan = "impression.ply"\nunit = "mm"\n'
        f"[body]\npress_direction = {[round(float(each), 6) for each in case.press_direction_in_base]}\n"
        "[load]\nbody_mass_kg = 70.0\n",
        "utf-8",
    )
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    bpy.ops.padwright.load_job(filepath=str(folder / "job.toml"))
    for stage in ("build_pad", "plan_zones", "cut_regions", "check_load"):
        getattr(bpy.ops.padwright, stage)()
    return panels(bpy)


if __name__ == "__main__":
    sys.exit(main())
