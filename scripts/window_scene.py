"""What the tour knows of the scene: the part, the work that is going on, and where things are in the viewport."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Matrix, Vector

from window_hands import Hands, Waits

SCANS = Path("/tmp/scans")
JOB = tomllib.loads((SCANS / "job.toml").read_text("utf-8"))
_ADDON = "bl_ext.user_default.padwright"
_LOG = Path("/tmp/out/window.log")


def part() -> Any:
    """Return the part of the scene."""
    return bpy.context.scene.padwright


def said() -> list[str]:
    """Return what the modeller has reported so far, line by line."""
    sys.stdout.flush()
    return _LOG.read_text("utf-8", "replace").splitlines()


def inside(name: str) -> Any:
    """Return a module of the add-on by its name inside it."""
    return sys.modules[f"{_ADDON}.{name}"]


def is_working() -> bool:
    """Say if long work is going on in the window."""
    return bool(inside("blender.long_work").LongWork.is_running)


def progress() -> float:
    """Return the share of the long work that is done."""
    running = inside("blender.state").running
    return running[0][0] if running else 0.0


def picking() -> Any:
    """Return the picking of places that is going on, or None."""
    current = inside("blender.scans.pick_session").current
    return current[0] if current else None


def until_done(limit_s: float = 240.0) -> Waits:
    """Wait until the long work has ended."""
    waited = 0.0
    while is_working():
        assert waited < limit_s, f"still working after {limit_s:.0f} s"
        waited += 0.1
        yield 0.1
    yield 0.3


def work(hands: Hands, button: str) -> Waits:
    """Press a stage's button and wait until it is done; an error it tells ends the tour."""
    before = len(said())
    yield from hands.press(button, wait=0.2)
    yield from until_done()
    yield 0.9  # to be drawn, panels slide to make room
    told = said()[before:]
    for line in told:
        if line.startswith(("Info:", "Warning:", "Error:")):
            print(f"      {line}", flush=True)
    wrong = [line for line in told if line.startswith("Error:")]
    assert not wrong, wrong


def result(stage: str) -> str:
    """Return what the panel says a stage found, first line."""
    found = part().stages.get(stage)
    assert found is not None, f"{stage} was not done"
    return found.lines.split("\n")[0]


def scene_place(obj: Any, numbers: list[float]) -> Vector:
    """Return a place given in a scan file's numbers, in the scene."""
    return obj.matrix_world @ Vector(numbers)


def scan_numbers(obj: Any, place: Vector) -> Vector:
    """Return a place of the scene in a scan file's numbers."""
    return obj.matrix_world.inverted() @ place


def surface_below(obj: Any, place: Vector, way: Vector) -> Vector:
    """Return where an object is first met from a place along a way, both of the scene."""
    back = obj.matrix_world.inverted()
    start = back @ place
    is_met, near, _, _ = obj.ray_cast(start, back @ (place + way) - start)
    assert is_met, "there is nothing of it along this way"
    return obj.matrix_world @ near


def seat_axes() -> tuple[Vector, Vector, Vector]:
    """Return the seat's axes in the scene: to its right, to its rear, and up, away from the seat."""
    base = part().base
    turn = base.matrix_world.to_quaternion() if base is not None else Matrix.Identity(3).to_quaternion()
    up = -(turn @ Vector(JOB["body"]["press_direction"]))
    across, along = (turn @ (Vector(length["to"]) - Vector(length["from"])) for length in JOB["base"]["check_lengths"])
    right = (across - across.dot(up) * up).normalized()
    rear = up.cross(right)
    return (right, rear, up) if rear.dot(along) > 0 else (-right, -rear, up)


def look_from(hands: Hands, *, right: float, rear: float, up: float, fill: float = 0.8) -> Waits:
    """Look at what is visible of the part from a direction along the seat's axes, as by orbiting, and frame it."""
    axes = seat_axes()
    back = (right * axes[0] + rear * axes[1] + up * axes[2]).normalized()
    above = axes[2] if abs(back.dot(axes[2])) < 0.99 else axes[1]
    side = above.cross(back).normalized()
    space = hands.area().spaces.active
    sight = space.region_3d
    sight.view_rotation = Matrix((side, back.cross(side), back)).transposed().to_quaternion()
    if sight.view_perspective == "CAMERA":
        sight.view_perspective = "PERSP"
    yield 0.2
    yield from frame(hands)
    sight.view_distance /= fill / 0.8
    yield 0.3


def frame(hands: Hands) -> Waits:
    """Press Home over the viewport: all that is visible fills it."""
    view = hands.region("WINDOW")
    yield from hands.move(view.x + 0.4 * view.width, view.y + 0.3 * view.height)
    yield from hands.tap("HOME", wait=0.8)


def pixel(hands: Hands, place: Vector) -> tuple[float, float]:
    """Return where a place of the scene is in the window."""
    view = hands.region("WINDOW")
    sight = hands.area().spaces.active.region_3d
    sight.update()  # a view that was moved is worked out when it is drawn next
    found = location_3d_to_region_2d(view, sight, place)
    assert found is not None, "the place lies behind the view"
    return view.x + found.x, view.y + found.y


def places(obj: Any) -> np.ndarray:
    """Return where an object's vertices are in the scene, (n, 3)."""
    flat = np.zeros(3 * len(obj.data.vertices), dtype=np.float32)
    obj.data.vertices.foreach_get("co", flat)
    matrix = np.array(obj.matrix_world)
    return flat.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]


def values(obj: Any, name: str) -> np.ndarray:
    """Return a mesh attribute's values, one a vertex."""
    data = obj.data.attributes[name].data
    found = np.zeros(len(data), dtype=np.float32)
    data.foreach_get("value", found)
    return found
