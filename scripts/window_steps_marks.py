"""The steps of the tour for marks of a pen: the same clay with two rings drawn on it, a color picked, a zone.

The rings are painted here onto a picture of the scan, so it is known, to the millimeter, where they lie.
"""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
from mathutils import Vector

from window_hands import Hands, Waits
from window_scene import inside, look_from, part, pixel, places, result, seat_axes, surface_below, work

FOLDER = Path("/tmp/home/marked")
PEN, OTHER, CLAY = (0.78, 0.12, 0.10), (0.10, 0.20, 0.70), (0.80, 0.72, 0.62)
# Across the press direction from the scan's middle: to the right and to the rear, outer radius, mm.
# The first lies clear of the load centers, whose zone comes before its own, and of a hole in the scan.
RINGS = ((PEN, -20.0, -42.0, 20.0), (OTHER, 55.0, -10.0, 18.0))
_PEN_MM = 3.0
_PIXELS, _PIXEL_MM = 1400, 0.3
_LEVELS = 1.5 / 255  # a color on the screen is rounded to whole levels
_SLIP_MM = 1.0  # the pad's own grid is a millimeter or two, its zone's border is rounded alike on all sides


def across(obj: bpy.types.Object) -> np.ndarray:
    """Return where an object's vertices lie, as the body presses: right and rear of the scan's middle, mm, (n, 2)."""
    right, rear, _ = (np.array(axis) for axis in seat_axes())
    away = places(obj) - places(part().impression).mean(axis=0)
    return 1000.0 * away @ np.stack([right, rear], axis=1)


def ring_place(right_mm: float, rear_mm: float) -> Vector:
    """Return where a place across the press direction is on the scan with clay, in the scene."""
    right, rear, up = seat_axes()
    over = Vector(places(part().impression).mean(axis=0)) + (right_mm * right + rear_mm * rear) / 1000.0 + 0.2 * up
    return surface_below(part().impression, over, -up)


def write_marked() -> None:
    """Write the impression scan with a picture on it, seen as the body presses, as a phone's program would."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    obj = part().impression
    on_picture = 0.5 + across(obj) / (_PIXELS * _PIXEL_MM)
    up, to_right = (np.mgrid[:_PIXELS, :_PIXELS] + 0.5) * _PIXEL_MM - 0.5 * _PIXELS * _PIXEL_MM
    pixels = np.ones((_PIXELS, _PIXELS, 4), dtype=np.float32)
    pixels[..., :3] = CLAY
    for color, right_mm, rear_mm, radius_mm in RINGS:
        away = np.hypot(to_right - right_mm, up - rear_mm)
        pixels[(away <= radius_mm) & (away > radius_mm - _PEN_MM), :3] = color
    picture = bpy.data.images.new("clay", _PIXELS, _PIXELS)
    picture.pixels.foreach_set(pixels.ravel())
    picture.filepath_raw, picture.file_format = str(FOLDER / "clay.png"), "PNG"
    picture.save()
    bpy.data.images.remove(picture)
    own = np.zeros(3 * len(obj.data.vertices), dtype=np.float32)
    obj.data.vertices.foreach_get("co", own)
    lines = ["mtllib clay.mtl", "usemtl clay"]
    lines += ["v {:.7g} {:.7g} {:.7g}".format(*each) for each in own.reshape(-1, 3).tolist()]
    lines += ["vt {:.7g} {:.7g}".format(*each) for each in on_picture.tolist()]
    corners = np.zeros(3 * len(obj.data.polygons), dtype=np.int32)
    obj.data.polygons.foreach_get("vertices", corners)
    lines += ["f {0}/{0} {1}/{1} {2}/{2}".format(*each) for each in (corners.reshape(-1, 3) + 1).tolist()]
    (FOLDER / "clay.obj").write_text("\n".join(lines) + "\n", "utf-8")
    (FOLDER / "clay.mtl").write_text("newmtl clay\nmap_Kd clay.png\n", "utf-8")


def import_marked(hands: Hands) -> Waits:
    """Import the scan that was drawn on in the place of the other, and make the pad of it."""
    write_marked()
    yield from hands.open_panel("Scans")
    yield from hands.press("padwright.import_scan(scan='impression')", wait=1.5)
    browser = hands.area("FILE_BROWSER").spaces.active
    browser.params.directory = str(FOLDER).encode()
    browser.params.filename = "clay.obj"
    yield 0.8
    yield from hands.press("file.execute", "EXECUTE", "FILE_BROWSER", wait=2.5)
    assert len(part().impression.data.uv_layers) == 1
    yield from hands.open_panel("Alignment")
    yield from work(hands, "padwright.align_scans")
    yield from hands.open_panel("Pad")
    yield from work(hands, "padwright.build_pad")


def pick_color(hands: Hands) -> Waits:
    """See the marks, pick a pen's color by the color field's own tool, and from the list; undo and redo."""
    yield from hands.open_panel("Zones")
    yield from hands.press("padwright.add_zone")
    zone = part().zones[part().zone_index]
    yield from hands.fill("name", "sore place")
    yield from hands.choose("source", 5)
    assert zone.source == "color_marks", zone.source
    yield from hands.press("padwright.show_scan_colors", wait=0.6)
    yield from look_from(hands, right=0.0, rear=-0.01, up=1.0)
    yield from hands.picture("marks-shown")
    color, right_mm, rear_mm, radius_mm = RINGS[0]
    line = ring_place(right_mm + radius_mm - _PEN_MM / 2, rear_mm)
    for key, keeps in (("RIGHTMOUSE", False), ("LEFTMOUSE", True)):
        before = tuple(zone.color)
        yield from hands.find("color")
        yield from hands.tap("E", wait=0.3)
        yield from hands.move(*pixel(hands, line))
        yield 0.3
        yield from hands.tap(key, wait=0.6)
        if not keeps:
            assert tuple(zone.color) == before, "stopped, it changes nothing"
    off = max(abs(a - b) for a, b in zip(zone.color, color, strict=True))
    print(f"      picked {[round(each, 3) for each in zone.color]}, off by {255 * off:.1f} of 255", flush=True)
    assert off <= _LEVELS, tuple(zone.color)
    yield from hands.press("padwright.find_colors", wait=0.8)
    found = {each.name: tuple(each.color) for each in part().scan_colors}
    assert list(found)[1:] == ["red", "blue"], found
    yield from hands.press("padwright.take_color(number=2)", wait=0.6)
    assert tuple(zone.color) == found["blue"]
    yield from hands.press("padwright.take_color(number=1)", wait=0.6)
    view = hands.region("WINDOW")
    yield from hands.move(view.x + 0.4 * view.width, view.y + 0.3 * view.height)
    for wanted, shift in (("blue", False), ("red", True)):
        yield from hands.tap("Z", ctrl=True, shift=shift, wait=0.8)
        assert tuple(part().zones["sore place"].color) == found[wanted]
    yield from hands.picture("marks-found")
    yield from hands.press("padwright.clear_colors", wait=0.8)


def plan_marks(hands: Hands) -> Waits:
    """Plan the zones: the marked one lies where it was drawn."""
    yield from work(hands, "padwright.plan_zones")
    yield from hands.picture("marks-planned")
    _, right_mm, rear_mm, radius_mm = RINGS[0]
    zone = part().zones["sore place"]
    # Seen as the body presses the ring surrounds so much; on the pad's slopes it is more, and its border is rounded.
    flat_cm2 = np.pi * radius_mm**2 / 100.0
    assert 0.95 * flat_cm2 < zone.area_cm2 < 1.3 * flat_cm2, (zone.area_cm2, flat_cm2)
    group = part().pad.vertex_groups[zone.group].index
    is_in = [any(g.group == group and g.weight >= 0.5 for g in v.groups) for v in part().pad.data.vertices]
    seen = across(part().pad)[np.array(is_in)]
    # The middle of its extent: vertices need not lie evenly.
    off_mm = np.hypot(*((seen.max(axis=0) + seen.min(axis=0)) / 2 - [right_mm, rear_mm]))
    print(f"      {zone.area_cm2:.1f} cm2, {off_mm:.2f} mm off where it was drawn", flush=True)
    assert off_mm < _SLIP_MM, off_mm
    assert "zones" in result("zones"), result("zones")
    assert not inside("blender.state").stale(part(), "zones")


STEPS = (
    ("a scan that was drawn on", import_marked),
    ("color of marks", pick_color),
    ("a zone of marks", plan_marks),
)
