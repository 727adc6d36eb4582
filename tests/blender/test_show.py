"""Results as colors, with a legend that tells the truth about them."""

from __future__ import annotations

import bpy
import numpy as np
import pytest


@pytest.fixture
def checked(part):
    for stage in ("build_pad", "plan_zones", "cut_regions", "check_load"):
        getattr(bpy.ops.padwright, stage)()
    return part


def lightness(mesh):
    colors = np.zeros(4 * len(mesh.vertices), dtype=np.float32)
    mesh.color_attributes["padwright_shown"].data.foreach_get("color_srgb", colors)
    return colors.reshape(-1, 4)[:, :3] @ [0.2126, 0.7152, 0.0722]  # ITU-R BT.709 weights


@pytest.mark.parametrize(
    ("values", "attribute", "unit"),
    [("thickness", "padwright_thickness", "mm"), ("pressure", "padwright_pressure", "kPa")],
)
def test_more_is_darker_and_the_legend_has_the_ends(checked, inside, values, attribute, unit):
    assert bpy.ops.padwright.show_values(values=values) == {"FINISHED"}
    pad = checked.pad
    shown = inside("blender.attributes").read(pad.data, attribute)
    order = np.argsort(shown)
    # Colors are kept in 255 steps, so neighbors may stand a step apart.
    assert np.diff(lightness(pad.data)[order]).max() <= 1.5 / 255
    top = np.percentile(shown[shown > 0.0], 99.5) if values == "pressure" else shown.max()
    assert checked.legend.endswith(f"dark {top:.3g} {unit}")
    assert f"light {min(0.0, shown.min()):.3g}" in checked.legend
    assert not pad.hide_get()
    assert all(obj.hide_get() for obj in bpy.data.collections["Regions"].objects)


def test_imprint_depth_is_shown_on_the_body_side(checked):
    bpy.ops.padwright.show_values(values="depth")
    assert not checked.body.hide_get() and checked.pad.hide_get()
    assert checked.legend.startswith("Imprint Depth: light ")


def test_values_that_are_not_there_yet_are_asked_for(part):
    with pytest.raises(RuntimeError, match="Align the scans or build the pad first"):
        bpy.ops.padwright.show_values(values="pressure")
    bpy.ops.padwright.align_scans()
    with pytest.raises(RuntimeError, match="There is no pad to show"):
        bpy.ops.padwright.show_values(values="pressure")
    bpy.ops.padwright.build_pad()
    with pytest.raises(RuntimeError, match="no values of pressure yet"):
        bpy.ops.padwright.show_values(values="pressure")


def test_colors_on_show_do_not_change_the_part(checked, inside):
    memory = inside("blender.stage_memory").memory()
    bpy.ops.padwright.show_values(values="thickness")
    bpy.ops.padwright.check_load()
    assert memory.worked_out == []


def test_clearing_puts_the_view_back_as_it_was(checked, inside):
    regions = bpy.data.collections["Regions"].objects
    before = {obj.name: (obj.hide_get(), obj.display_type) for obj in bpy.context.view_layer.objects}
    assert any(not obj.hide_get() for obj in regions)
    for values in ("thickness", "depth", "least"):
        bpy.ops.padwright.show_values(values=values)
    assert checked.view.is_colored and checked.view.ramp == "least"
    assert bpy.ops.padwright.clear_colors() == {"FINISHED"}
    assert {obj.name: (obj.hide_get(), obj.display_type) for obj in bpy.context.view_layer.objects} == before
    assert "padwright_shown" not in checked.pad.data.attributes
    assert checked.legend == "" and not checked.view.is_colored
    with pytest.raises(RuntimeError, match="No values are shown"):
        bpy.ops.padwright.clear_colors()


def spaces():
    return [area.spaces.active for area in bpy.context.screen.areas if area.type == "VIEW_3D"]


@pytest.mark.parametrize("values", ["thickness", "firmness"])
def test_a_pad_built_anew_is_seen_as_a_pad_alone(checked, values):
    own = [space.shading.color_type for space in spaces()]
    bpy.ops.padwright.show_values(values=values)
    assert "VERTEX" in [space.shading.color_type for space in spaces()]
    checked.fit_gap_mm += 0.1
    bpy.ops.padwright.build_pad()
    # Without its colors it would be burnt white, and regions of the old pad would lie over it.
    assert [space.shading.color_type for space in spaces()] == own
    assert not checked.view.is_colored and checked.legend == "" and not checked.view.before
    assert checked.pad.visible_get()
    assert not any(obj.visible_get() for obj in bpy.data.collections["Regions"].objects)


def test_firmness_on_show_is_that_of_the_new_plan(checked, inside):
    bpy.ops.padwright.show_values(values="firmness")
    before = lightness(checked.pad.data)
    checked.zones["rest"].level = 1.0
    bpy.ops.padwright.plan_zones()
    assert checked.view.is_colored and checked.legend == "Firmness: light 1 relief, dark 4 firm"
    assert np.abs(lightness(checked.pad.data) - before).max() > 0.1


def test_colors_stay_where_nothing_is_made_anew(checked):
    bpy.ops.padwright.show_values(values="thickness")
    bpy.ops.padwright.plan_zones()
    assert checked.view.is_colored


def test_clearing_leaves_what_was_changed_since(checked):
    bpy.ops.padwright.show_values(values="thickness")
    checked.pad.hide_set(True)  # the artist hides it
    bpy.ops.padwright.clear_colors()
    assert checked.pad.hide_get()


def test_what_is_at_the_least_is_marked(checked, inside):
    bpy.ops.padwright.show_values(values="least")
    assert inside("blender.view.value_colors").ticks_of(checked.view)[0] == (
        0.0,
        f"{checked.least_thickness_mm:.3g} least",
    )
    view, thickness = checked.view, inside("blender.attributes").read(checked.pad.data, "padwright_thickness")
    assert view.low == pytest.approx(checked.least_thickness_mm)
    colors = np.zeros(4 * len(thickness), dtype=np.float32)
    checked.pad.data.color_attributes["padwright_shown"].data.foreach_get("color_srgb", colors)
    is_brick = colors.reshape(-1, 4)[:, 0] - colors.reshape(-1, 4)[:, 2] > 0.4
    assert is_brick.any() and not is_brick.all()
    assert thickness[is_brick].max() <= thickness[~is_brick].min()


def test_colors_of_the_scan_come_back_and_are_never_mistaken(part, inside):
    bridge = inside("blender.bridge")
    mesh = part.base.data
    own = mesh.color_attributes.new("Pen", "BYTE_COLOR", "POINT")
    own.data.foreach_set("color_srgb", np.tile(np.float32([0.2, 0.4, 0.6, 1.0]), len(mesh.vertices)))
    mesh.color_attributes.active_color = mesh.color_attributes["Pen"]
    before = bridge.read_mesh(part.base).colors
    part.base.modifiers.new("Still", "WELD").merge_threshold = 0.0
    inside("blender.view.value_colors").show(
        bpy.context, part.base, np.linspace(-1.0, 1.0, len(mesh.vertices)), title="T", unit="mm", low=-1, ramp="two_way"
    )
    assert mesh.color_attributes.active_color.name == "padwright_shown"
    for depsgraph in (None, bpy.context.evaluated_depsgraph_get()):
        assert np.array_equal(bridge.read_mesh(part.base, depsgraph).colors, before)
    bpy.ops.padwright.clear_colors()
    assert mesh.color_attributes.active_color.name == "Pen" and len(mesh.color_attributes) == 1


def test_the_bar_has_round_numbers_or_the_words_it_was_given(checked, inside):
    ticks_of = inside("blender.view.value_colors").ticks_of
    view = checked.view
    view.low, view.high = 0.0, 23.7
    assert [words for _, words in ticks_of(view)] == ["0", "5", "10", "15", "20"]
    assert [share for share, _ in ticks_of(view)] == pytest.approx([0, 5 / 23.7, 10 / 23.7, 15 / 23.7, 20 / 23.7])
    bpy.ops.padwright.show_values(values="firmness")
    assert ticks_of(view) == [(0.0, "1 relief"), (1 / 3, "2 soft"), (2 / 3, "3 medium"), (1.0, "4 firm")]


def test_distances_are_shown_on_the_impression_and_its_own_colors_come_back(part, inside, case):
    bpy.ops.padwright.align_scans()
    assert bpy.ops.padwright.show_values(values="distance") == {"FINISHED"}
    obj = part.impression
    assert obj.data.color_attributes.active_color.name == "padwright_shown"
    assert obj.visible_get() and not part.base.visible_get()
    assert part.view.ramp == "two_way" and part.view.low == -part.view.high and part.view.unit == "mm"
    # Against the truth: an impression in its true pose, straight up from the base where nothing was pressed.
    distances = inside("core.stages.alignment.distances").distances_to_base
    truth = distances(case.base_mm, case.impression_aligned.vertices, type("Agreed", (), {"rms_mm": 0.1}))
    light = lightness(obj.data)
    assert len(light) == len(truth.values_mm)
    is_clay = (truth.values_mm > part.view.high + 1.0) & ~truth.is_beyond
    is_bare = (np.abs(truth.values_mm) < 0.1) & ~truth.is_beyond
    assert is_clay.sum() > 100 and light[is_clay].max() < 0.2  # ink
    # Cream, and at most a third of the way to sea or brick; cleaning may take a few faces off the base's border.
    assert np.quantile(light[is_bare], 0.005) > 0.65
    bpy.ops.padwright.clear_colors()
    assert "padwright_shown" not in obj.data.attributes and part.base.visible_get()


def test_distances_after_a_change_are_those_of_the_new_alignment(part, inside):
    bpy.ops.padwright.align_scans()
    memory = inside("blender.stage_memory").memory()
    bpy.ops.padwright.show_values(values="distance")
    assert memory.worked_out == []
    part.lengths[0].measured_mm *= 1.001
    before = part.stages["alignment"].settings
    bpy.ops.padwright.show_values(values="distance")
    assert memory.worked_out == ["scans", "alignment"]
    assert part.stages["alignment"].settings != before and inside("blender.state").stale(part, "alignment") == ""


def test_the_viewport_s_own_shading_comes_back(checked, inside):
    value_colors = inside("blender.view.value_colors")
    space = next(area.spaces.active for area in bpy.context.screen.areas if area.type == "VIEW_3D")
    shading = space.shading
    shading.type, shading.light, shading.color_type, shading.show_cavity = "WIREFRAME", "MATCAP", "OBJECT", False
    thickness = inside("blender.attributes").read(checked.pad.data, "padwright_thickness")
    for title in ("One", "Two"):
        value_colors.show(bpy.context, checked.pad, thickness, title=title, unit="mm")
        # Flat, so that what is seen are the colors of the bar.
        assert (shading.type, shading.light, shading.color_type) == ("SOLID", "FLAT", "VERTEX")
    bpy.ops.padwright.clear_colors()
    assert shading.type == "WIREFRAME"
    shading.type = "SOLID"
    assert (shading.light, shading.color_type, shading.show_cavity) == ("MATCAP", "OBJECT", False)
