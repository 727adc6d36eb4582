"""The steps of the tour in order: what is pressed, what must be there then, and the picture of it."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
from mathutils import Vector

import window_steps_folds
import window_steps_marks
import window_steps_mats
import window_steps_trials
from window_hands import Hands, Waits
from window_scene import (
    JOB,
    SCANS,
    frame,
    is_working,
    look_from,
    part,
    pixel,
    places,
    progress,
    result,
    scene_place,
    seat_axes,
    until_done,
    values,
    work,
)

FILES = Path("/tmp/out/files")
SAVED = Path("/tmp/home/tour.blend")
# The dialog's rows, in pixels below the mouse that opened it at interface scale 1: popups hide what is in them.
_DIALOG = {"family": 9, "part_name": 35, "number": 61, "unit": 87}


def prepare(hands: Hands) -> Waits:
    """Open the sidebar at the tab."""
    hands.area().spaces.active.show_region_ui = True
    yield 0.4
    hands.region().active_panel_category = "Padwright"
    hands.area().tag_redraw()
    yield 0.4


def settle(hands: Hands) -> Waits:
    """After a step that did not hold, stop what may be going on, so that the next one can begin."""
    for _ in range(2):
        yield from hands.tap("ESC", wait=0.3)
    yield from until_done()
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")


def empty_scene(hands: Hands) -> Waits:
    """Delete what a new scene holds."""
    view = hands.region("WINDOW")
    yield from hands.move(view.x + 0.4 * view.width, view.y + 0.3 * view.height)
    yield from hands.tap("A", wait=0.3)
    yield from hands.tap("DEL", wait=0.5)
    assert not bpy.context.scene.objects
    yield from hands.picture("empty-scene")


def start_part(hands: Hands) -> Waits:
    """Fill in the dialog."""
    yield from hands.press("padwright.start_part", wait=0.6)
    x, y = hands.at
    yield from hands.move(x, y - _DIALOG["part_name"])
    yield from hands.fill_here(JOB["part"]["name"].lower())
    yield from hands.move(x, y - _DIALOG["number"])
    yield from hands.fill_here("demo-1")
    yield from hands.move(x, y - _DIALOG["unit"])
    yield from hands.choose_here(3)
    yield 0.6  # for the menu to close
    yield from hands.picture("start-part")
    yield from hands.tap("RET", wait=0.5)
    assert part().is_started
    assert (part().part_name, part().number, part().base_unit) == ("sculler seat pad", "demo-1", "m"), (
        part().part_name,
        part().number,
        part().base_unit,
    )
    yield from hands.fill("part_name", JOB["part"]["name"])
    yield from hands.fill("number", JOB["part"]["number"])
    assert part().number == "DEMO-1"


def import_scans(hands: Hands) -> Waits:
    """Import both scan files through the file browser."""
    yield from hands.open_panel("Scans")
    for scan in ("base", "impression"):
        yield from hands.press(f"padwright.import_scan(scan='{scan}')", wait=1.5)
        browser = hands.area("FILE_BROWSER").spaces.active
        browser.params.directory = str(SCANS).encode()
        browser.params.filename = f"{scan}.ply"
        yield 0.8
        if scan == "base":
            yield from hands.picture("import-scan")
        yield from hands.press("file.execute", "EXECUTE", "FILE_BROWSER", wait=2.0)
        obj = getattr(part(), scan)
        assert obj is not None
        assert len(obj.data.polygons) > 40_000
    yield from look_from(hands, right=0.5, rear=-1, up=0.8)
    yield from hands.picture("scans")


def check_lengths(hands: Hands) -> Waits:
    """Pick both lengths on the base by clicking their ends, and type what was measured."""
    yield from look_from(hands, right=0.0, rear=-0.3, up=1.0)
    for number, given in enumerate(JOB["base"]["check_lengths"]):
        yield from hands.press("padwright.pick_length(scan='base')", wait=0.6)
        for end in ("from", "to"):
            yield from hands.move(*pixel(hands, scene_place(part().base, given[end])))
            yield 0.2
            if number == 0 and end == "to":
                yield from hands.picture("pick-length")
            yield from hands.tap("LEFTMOUSE", wait=0.4)
        assert len(part().lengths) == number + 1
        row = part().lengths[number]
        for end, found in (("from", row.start), ("to", row.end)):
            off_mm = 1000.0 * float(np.linalg.norm(np.subtract(found, given[end])))
            assert off_mm < 1.0, f"{end} is {off_mm:.1f} mm off"
        yield from hands.fill("measured_mm", f"{given['measured_mm']:.1f}")
        assert abs(row.measured_mm - given["measured_mm"]) < 0.01
    yield from hands.picture("check-lengths")


def clean_and_scale(hands: Hands) -> Waits:
    """Clean both scans and correct their size: they are 2 % too large."""
    yield from work(hands, "padwright.prepare_scans")
    size = part().base.matrix_world.to_scale().x
    assert abs(size - 1 / 1.02) < 0.005, size
    assert "scaled by 0.98" in result("scans"), result("scans")
    assert all(row.is_fitted for row in part().lengths)
    yield from look_from(hands, right=0.5, rear=-1, up=0.8)
    yield from hands.picture("clean-and-scale")


def stop_with_escape(hands: Hands) -> Waits:
    """Start aligning, look at the progress, stop it: nothing has changed."""
    yield from hands.open_panel("Alignment")
    before = part().impression.matrix_world.copy()
    yield from hands.press("padwright.align_scans", wait=0.1)
    for _ in range(200):
        if progress() > 0.1:
            break
        yield 0.05
    yield 0.9  # to be drawn, panels slide to make room
    assert is_working()
    yield from hands.picture("progress", most_looks=3)  # the bar never stands still
    yield from hands.tap("ESC", wait=0.4)
    assert not is_working()
    assert part().impression.matrix_world == before
    assert part().stages.get("alignment") is None


def align(hands: Hands) -> Waits:
    """Align the scans by themselves."""
    yield from work(hands, "padwright.align_scans")
    assert "agree to 0." in result("alignment"), result("alignment")
    yield from look_from(hands, right=0.5, rear=-1, up=0.8)
    yield from hands.picture("align")


def distances(hands: Hands) -> Waits:
    """Color the impression by its distance to the base, and clear the colors again."""
    yield from work(hands, "padwright.show_values(values='distance')")
    assert "Distance to Base" in part().legend, part().legend
    yield from hands.picture("distances")
    yield from hands.press("padwright.clear_colors", wait=0.8)
    assert not part().view.is_colored


def read_impression(hands: Hands) -> Waits:
    """Read what the body left."""
    yield from hands.open_panel("Impression")
    yield from hands.fill("clay_thickness_mm", "30")
    yield from hands.fill("spacing_mm", "118")
    yield from work(hands, "padwright.read_impression")
    assert "2 load centers" in result("reading"), result("reading")
    apart = float(result("reading").split(" mm apart")[0].split()[-1])
    assert abs(apart - 118.0) < 3.0, apart
    yield from hands.picture("read-impression")


def build_pad(hands: Hands) -> Waits:
    """Build the pad and look at its thickness."""
    yield from hands.open_panel("Pad")
    yield from work(hands, "padwright.build_pad")
    pad = part().pad
    assert pad is not None and pad.visible_get()
    least = float(result("pad").split("at least ")[1].split(" mm")[0])  # the rim, rounded to nothing, left out
    assert part().least_thickness_mm <= least < float(values(pad, "padwright_thickness").max())
    yield from look_from(hands, right=0.5, rear=-1, up=0.8)
    yield from hands.picture("build-pad")
    yield from work(hands, "padwright.show_values(values='thickness')")
    assert "Pad Thickness" in part().legend, part().legend
    yield from look_from(hands, right=0.2, rear=-0.7, up=1.0)
    yield from hands.picture("thickness")
    yield from hands.press("padwright.clear_colors", wait=0.8)


def paint_zone(hands: Hands) -> Waits:
    """Add a zone for the tail bone and paint it with the modeller's own brush."""
    yield from hands.open_panel("Zones")
    yield from hands.press("padwright.add_zone")
    index = part().zone_index
    yield from hands.fill("level", "1")
    yield from hands.fill("name", "tail relief")
    assert part().zones[index].name == "tail relief"
    yield from hands.press("padwright.paint_zone", wait=0.8)
    assert bpy.context.mode == "PAINT_WEIGHT"
    yield from have_brush(hands)
    yield from look_from(hands, right=0.0, rear=-0.3, up=1.0)
    right, rear, up = seat_axes()
    spots = places(part().pad)
    middle = Vector(spots.mean(axis=0)) + 0.03 * rear + 0.05 * up
    stroke = [pixel(hands, middle + s * 0.012 * right + t * rear) for t in (0.0, 0.012, 0.024) for s in (-1, 1)]
    yield from hands.drag(stroke)
    group = part().pad.vertex_groups["tail relief"]
    count = sum(any(g.group == group.index and g.weight > 0.3 for g in v.groups) for v in part().pad.data.vertices)
    assert count > 100, count
    yield from hands.picture("paint-zone")
    yield from hands.press("padwright.end_painting", wait=0.5)
    assert bpy.context.mode == "OBJECT"


def have_brush(hands: Hands) -> Waits:
    """Make a brush where Debian's package has none: it leaves out the modeller's brush files."""
    settings = bpy.context.tool_settings.weight_paint
    if settings.brush is None:
        bpy.data.brushes.new("Draw", mode="WEIGHT_PAINT").asset_mark()
        with bpy.context.temp_override(window=hands.window, area=hands.area(), region=hands.region("WINDOW")):
            bpy.ops.brush.asset_activate(asset_library_type="LOCAL", relative_asset_identifier="Brush/Draw")
    yield 0.3
    assert settings.brush is not None


def plan_zones(hands: Hands) -> Waits:
    """Plan the zones: what was painted stays."""
    yield from work(hands, "padwright.plan_zones")
    assert "3 zones" in result("zones"), result("zones")
    assert part().zones["tail relief"].is_painted
    yield from work(hands, "padwright.show_values(values='firmness')")
    assert "Firmness" in part().legend, part().legend
    yield from hands.picture("plan-zones")
    yield from hands.press("padwright.clear_colors", wait=0.8)


def cut_regions(hands: Hands) -> Waits:
    """Cut the pad into regions."""
    yield from hands.open_panel("Regions")
    yield from work(hands, "padwright.cut_regions")
    yield from look_from(hands, right=0.5, rear=-1, up=0.8)
    yield from hands.picture("cut-regions")


def check_load(hands: Hands) -> Waits:
    """Press the body on it and look at the pressure."""
    yield from hands.open_panel("Load")
    yield from hands.fill("body_mass_kg", "74")
    yield from hands.fill("share", "0.6")
    yield from work(hands, "padwright.check_load")
    assert "435 N" in result("load"), result("load")
    yield from look_from(hands, right=0.2, rear=-0.7, up=1.0)
    yield from hands.picture("check-load")


def tune(hands: Hands) -> Waits:
    """Aim for even pressure."""
    yield from hands.choose("goal", 2)
    assert part().goal == "even"
    yield from work(hands, "padwright.check_load")
    assert part().found.tuning_said
    yield from hands.picture("tune")
    yield from work(hands, "padwright.show_load(values='pressure')")
    assert "Pressure" in part().legend and "kPa" in part().legend, part().legend
    yield from hands.picture("pressure")
    yield from hands.press("padwright.clear_colors", wait=0.8)


def export(hands: Hands) -> Waits:
    """Write the files, and check that they are there."""
    yield from hands.open_panel("Export")
    yield from hands.fill("folder", "/tmp/out/files/")
    yield from work(hands, "padwright.export_part")
    names = sorted(path.name for path in FILES.iterdir())
    for wanted in ("DEMO-1.project.3mf", "DEMO-1.run.json", "DEMO-1.settings.json"):
        assert wanted in names, names
    assert sum(name.endswith(".stl") for name in names) >= 3, names
    yield from hands.picture("export")


def undo(hands: Hands) -> Waits:
    """Undo the last steps."""
    yield from frame(hands)
    before = result("load")
    for _ in range(12):
        yield from hands.tap("Z", ctrl=True, wait=0.8)
        if part().goal == "levels":
            break
    assert part().goal == "levels", part().goal
    assert result("load") != before
    for _ in range(12):
        yield from hands.tap("Z", ctrl=True, shift=True, wait=0.8)
        if part().goal == "even" and result("load") == before:
            break
    assert result("load") == before


def reopen(hands: Hands) -> Waits:
    """Save the scene and open it again: what was chosen and what the stages found are there."""
    before = choices_and_results()
    bpy.ops.wm.save_as_mainfile(filepath=str(SAVED))
    bpy.ops.wm.open_mainfile(filepath=str(SAVED))
    yield 1.5
    assert choices_and_results() == before
    yield from hands.picture("reopen")


def choices_and_results() -> dict[str, object]:
    """Return every choice of the part and its zones, and what each stage says."""
    rows = [part(), *part().zones]
    chosen = [[getattr(row, each.identifier) for each in row.bl_rna.properties if each.type == "ENUM"] for row in rows]
    return {"chosen": chosen, **{stage.name: stage.lines for stage in part().stages}}


STEPS = (
    ("empty scene", empty_scene),
    ("start part", start_part),
    ("import scans", import_scans),
    ("check lengths", check_lengths),
    ("clean and scale", clean_and_scale),
    ("stop with Esc", stop_with_escape),
    ("align", align),
    ("distances", distances),
    ("read impression", read_impression),
    *window_steps_mats.STEPS,
    ("build pad", build_pad),
    ("paint a zone", paint_zone),
    ("plan zones", plan_zones),
    ("cut regions", cut_regions),
    ("check load", check_load),
    ("tune", tune),
    ("export", export),
    ("undo", undo),
    ("reopen", reopen),
    *window_steps_folds.STEPS,
    *window_steps_trials.STEPS,
    *window_steps_marks.STEPS,
)
