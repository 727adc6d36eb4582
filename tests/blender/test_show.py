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
    assert checked.legend.endswith(f"dark {shown.max():.3g} {unit}")
    assert f"light {min(0.0, shown.min()):.3g}" in checked.legend
    assert not pad.hide_get()
    assert all(obj.hide_get() for obj in bpy.data.collections["Regions"].objects)


def test_imprint_depth_is_shown_on_the_body_side(checked):
    bpy.ops.padwright.show_values(values="depth")
    assert not checked.body.hide_get() and checked.pad.hide_get()
    assert checked.legend.startswith("Imprint Depth: light ")


def test_values_that_are_not_there_yet_are_asked_for(part):
    with pytest.raises(RuntimeError, match="Build the pad first"):
        bpy.ops.padwright.show_values(values="pressure")
    bpy.ops.padwright.build_pad()
    with pytest.raises(RuntimeError, match="no values of pressure yet"):
        bpy.ops.padwright.show_values(values="pressure")


def test_colors_on_show_do_not_change_the_part(checked, inside):
    memory = inside("blender.stage_work").memory()
    bpy.ops.padwright.show_values(values="thickness")
    bpy.ops.padwright.check_load()
    assert memory.worked_out == []
