"""The steps of the tour for a pressure mat: cells clicked in its picture and where they lay, and what goes wrong at it.

The mat is made here, from the imprint that was read: so it is known, to the cell, where it lay on the scan.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Vector

from window_hands import Hands, Waits
from window_scene import (
    inside,
    look_from,
    part,
    picking,
    pixel,
    places,
    result,
    scan_numbers,
    seat_axes,
    surface_below,
    values,
    work,
)

FILE = Path("/tmp/home/mat.csv")
ROWS, COLUMNS, PITCH_MM = 20, 22, 14.0
CELLS = ((8, 5), (8, 16), (14, 11))  # clicked, well apart
# Half a pixel of the screen is 0.3 to 0.5 mm on the scan, looked at from above, more where it is steep.
_SLIP_MM = 1.5
_SLIP_CELLS = 0.1  # a click is kept to a tenth of a cell


def cell_place(row: float, column: float) -> Vector:
    """Return where a cell lay, over the clay in the scene: rows go to the front, columns to the right."""
    right, rear, up = seat_axes()
    middle = Vector(places(part().impression).mean(axis=0)) + 0.2 * up
    step = PITCH_MM / 1000.0
    return middle + (column - (COLUMNS - 1) / 2) * step * right - (row - (ROWS - 1) / 2) * step * rear


def lay(row: float, column: float) -> Vector:
    """Return where a cell lay on the scan with clay, in the scene."""
    return surface_below(part().impression, cell_place(row, column), -seat_axes()[2])


def write_mat() -> None:
    """Write a mat's file: each cell has 1 kPa for each mm that the body went in there beyond 3 mm."""
    right, rear, _ = (np.array(axis) for axis in seat_axes())
    away = places(part().body) - np.array(cell_place(0, 0))
    column, row = (np.rint(away @ axis * 1000.0 / PITCH_MM).astype(int) for axis in (right, -rear))
    is_on = (row >= 0) & (row < ROWS) & (column >= 0) & (column < COLUMNS)
    deep = np.clip(values(part().body, "padwright_imprint_depth")[is_on] - 3.0, 0.0, None)
    cell = row[is_on] * COLUMNS + column[is_on]
    count = np.bincount(cell, minlength=ROWS * COLUMNS)
    kpa = np.bincount(cell, deep, minlength=ROWS * COLUMNS) / np.maximum(count, 1)
    rows = "\n".join(",".join(f"{each:.1f}" for each in line) for line in kpa.reshape(ROWS, COLUMNS))
    FILE.write_text(f"Unit: kPa\n{rows}\n", "utf-8")


def click(hands: Hands, place: Vector, *, wait: float = 0.3) -> Waits:
    """Click where a place of the scene is seen."""
    yield from hands.move(*pixel(hands, place))
    yield 0.1
    yield from hands.tap("LEFTMOUSE", wait=wait)


def click_cell(hands: Hands, row: int, column: int) -> Waits:
    """Click the middle of a cell in the mat's picture."""
    picture = part().mat_picture
    yield from click(hands, picture.matrix_world @ Vector((column, -row, 0.0)))


def choose_mat(hands: Hands) -> Waits:
    """Choose the mat's file, and see it beside the scan."""
    write_mat()
    yield from hands.open_panel("Pressure Mat")
    yield from hands.picture("mat-panel-empty")
    yield from hands.fill("mat_file", str(FILE))
    yield from hands.fill("mat_pitch_mm", f"{PITCH_MM:.0f}")
    assert part().mat_file == str(FILE)
    assert abs(part().mat_pitch_mm[0] - PITCH_MM) < 1e-6, tuple(part().mat_pitch_mm)
    yield from look_from(hands, right=0.0, rear=-0.01, up=1.0)
    yield from hands.press("padwright.show_mat_picture", wait=0.5)
    yield from hands.picture("mat-picture")
    yield from hands.press("padwright.hide_mat_picture", wait=0.5)
    assert part().mat_picture is None


def as_it_is() -> dict[str, Any]:
    """Return what picking must leave alone when it is stopped."""
    objects = {
        obj.name: (obj.hide_get(), obj.display_type, [round(x, 6) for row in obj.matrix_world for x in row])
        for obj in bpy.context.view_layer.objects
    }
    return {"objects": objects, "places": len(part().mat_places), "laid": part().mat_laid, "pose": part().mat_pose}


def go_wrong(hands: Hands) -> Waits:
    """Click beside the scan and on the wrong object, take back, look round, and stop: nothing has changed."""
    before = as_it_is()
    yield from hands.press("padwright.pick_mat_places", wait=0.6)
    yield from hands.picture("mat-picking")
    view = hands.region("WINDOW")
    yield from hands.move(view.x + 80, view.y + 120)  # beside all
    yield from hands.tap("LEFTMOUSE", wait=0.3)
    assert not picking().places
    yield from hands.picture("mat-beside")
    yield from click(hands, lay(*CELLS[0]))  # the scan, where a cell is wanted
    assert not picking().places
    yield from click_cell(hands, *CELLS[0])
    assert [each.scan for each in picking().places] == ["mat_picture"]
    yield from click_cell(hands, *CELLS[1])  # the picture, where the scan is wanted
    assert len(picking().places) == 1
    yield from hands.tap("RIGHTMOUSE", wait=0.3)
    assert not picking().places
    yield from click_cell(hands, *CELLS[0])
    yield from look_round(hands)
    yield from click(hands, lay(*CELLS[0]))
    assert len(picking().places) == 2
    yield from hands.picture("mat-turned")
    yield from hands.tap("ESC", wait=0.5)
    assert picking() is None
    assert as_it_is() == before, (as_it_is(), before)
    yield from hands.press("padwright.pick_mat_places", wait=0.6)
    yield from click_cell(hands, *CELLS[0])
    yield from hands.tap("RET", wait=0.5)  # half a place
    assert picking() is None
    assert as_it_is() == before, (as_it_is(), before)


def look_round(hands: Hands) -> Waits:
    """Turn the view by the middle button and zoom, while places are picked."""
    sight = hands.area().spaces.active.region_3d
    was = sight.view_rotation.copy(), sight.view_distance
    view = hands.region("WINDOW")
    x, y = view.x + 0.4 * view.width, view.y + 0.5 * view.height
    yield from hands.drag([(x, y), (x + 40, y + 60)], button="MIDDLEMOUSE")
    yield from hands.tap("WHEELUPMOUSE", wait=0.4)
    assert sight.view_rotation.rotation_difference(was[0]).angle > 0.05
    assert sight.view_distance < was[1]


def pick_places(hands: Hands) -> Waits:
    """Click two places and keep them, undo and redo, add the third: each is kept where it truly lay."""
    yield from look_from(hands, right=0.0, rear=-0.01, up=1.0)
    yield from hands.press("padwright.pick_mat_places", wait=0.6)
    for number, cell in enumerate(CELLS[:2]):
        yield from click_cell(hands, *cell)
        yield from hands.move(*pixel(hands, lay(*cell)))
        yield 0.3
        if number:
            yield from hands.picture("mat-pick-places")
        yield from hands.tap("LEFTMOUSE", wait=0.4)
    yield from hands.tap("RET", wait=0.6)
    check_places(2)
    yield from hands.picture("mat-places")
    view = hands.region("WINDOW")
    yield from hands.move(view.x + 0.4 * view.width, view.y + 0.3 * view.height)
    for left in (1, 0):
        yield from hands.tap("Z", ctrl=True, wait=0.8)
        assert len(part().mat_places) == left, len(part().mat_places)
    for again in (1, 2):
        yield from hands.tap("Z", ctrl=True, shift=True, wait=0.8)
        assert len(part().mat_places) == again, len(part().mat_places)
    check_places(2)
    yield from hands.press("padwright.pick_mat_places", wait=0.6)
    yield from click_cell(hands, *CELLS[2])
    yield from click(hands, lay(*CELLS[2]), wait=0.6)
    assert picking() is None, "the third place is the last"
    check_places(3)


def check_places(count: int) -> None:
    """Hold what was kept against where the cells truly are and lay."""
    assert len(part().mat_places) == count, len(part().mat_places)
    for place, cell in zip(part().mat_places, CELLS, strict=False):
        assert max(abs(a - b) for a, b in zip(place.cell, cell, strict=True)) <= _SLIP_CELLS + 1e-6, tuple(place.cell)
        true = scan_numbers(part().impression, lay(*cell))
        off_mm = 1000.0 * float(np.linalg.norm(np.subtract(place.point, true)))
        print(f"      cell {tuple(place.cell)}, {off_mm:.2f} mm off where it lay", flush=True)
        assert off_mm < _SLIP_MM, (cell, off_mm)


def lay_mat(hands: Hands) -> Waits:
    """Lay the mat by its places: it bears where the body went in; then take it away again."""
    yield from work(hands, "padwright.lay_mat")
    assert "agrees with the imprint" in result("mats"), result("mats")
    yield from work(hands, "padwright.show_values(values='mat')")
    assert "Pressure Mat" in part().legend, part().legend
    yield from look_from(hands, right=0.0, rear=-0.3, up=1.0)
    yield from hands.picture("mat-laid")
    shown, deep = values(part().body, "padwright_mat"), values(part().body, "padwright_imprint_depth")
    agree = float(np.corrcoef(shown, np.clip(deep - 3.0, 0.0, None))[0, 1])
    assert agree > 0.95, agree
    yield from hands.press("padwright.clear_colors", wait=0.8)
    if part().mat_picture is not None:
        yield from hands.press("padwright.hide_mat_picture", wait=0.5)
    yield from hands.fill("mat_file", "")
    assert not part().mat_file
    part().mat_places.clear()  # so that the guide's part goes on as if there were no mat
    assert not inside("blender.state").is_wanted(part(), "mats")


STEPS = (
    ("choose a mat", choose_mat),
    ("go wrong at its places", go_wrong),
    ("places of the mat", pick_places),
    ("lay the mat", lay_mat),
)
