"""The panels of footprint, reliefs, envelope and part frame: drawn in every state, short enough, quick."""

from __future__ import annotations

import textwrap
import time
from types import SimpleNamespace

import bpy
import pytest

ICONS = bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items


class Layout:
    """Takes what a panel draws, and fails where the modeller would."""

    def __init__(self, texts):
        self.texts = texts

    def row(self, **_):
        return Layout(self.texts)

    column = row

    def label(self, text="", icon="NONE"):
        assert icon in ICONS
        self.texts.append(text)

    def prop(self, data, name, text=None, icon="NONE", emboss=True):
        assert icon in ICONS
        prop = data.bl_rna.properties[name]
        assert len(prop.name if text is None else text) <= 15 or prop.type == "BOOLEAN", prop.name
        self.texts.append(f"[{name}]")

    def operator(self, idname, text=None, icon="NONE"):
        assert icon in ICONS
        module, name = idname.split(".")
        found = getattr(getattr(bpy.ops, module), name).get_rna_type()
        self.texts.append(f"<{idname}>")

        class Values:
            def __setattr__(self, key, value):
                assert value in found.properties[key].enum_items

        return Values()

    def template_list(self, kind, _id, data, listed, holder, index, **_):
        assert hasattr(bpy.types, kind)
        assert listed in data.bl_rna.properties and index in holder.bl_rna.properties
        self.texts.append(f"[{listed}]")


def draw(name):
    texts: list[str] = []
    kind = getattr(bpy.types, f"PADWRIGHT_PT_{name}")
    assert kind.poll(bpy.context) and "DEFAULT_CLOSED" in kind.bl_options
    panel = SimpleNamespace(layout=Layout(texts))
    for own in ("draw_all", "_draw_relief"):
        if hasattr(kind, own):
            setattr(panel, own, getattr(kind, own).__get__(panel))
    kind.draw(panel, bpy.context)
    assert (
        max(len(text) for text in texts if text[:1] not in "[<") <= 33
        if any(text[:1] not in "[<" for text in texts)
        else True
    )
    return texts


def test_nothing_is_drawn_without_a_part(scene):
    assert not bpy.types.PADWRIGHT_PT_reliefs.poll(bpy.context)
    assert not bpy.types.PADWRIGHT_PT_datum.poll(bpy.context)


def test_six_points_are_asked_for_only_when_they_count(part):
    assert "<padwright.set_datum_point>" not in draw("datum")
    part.datum = "points"
    assert draw("datum").count("<padwright.set_datum_point>") == 6
    bpy.ops.padwright.set_datum_point(place="4")
    assert draw("datum").count("<padwright.set_datum_point>") == 6


def test_a_channel_shows_width_and_depth_and_an_opening_does_not(part):
    assert "<padwright.edit_curve>" not in draw("reliefs")
    bpy.ops.padwright.add_relief(kind="channel")
    assert {"[width_mm]", "[depth_mm]", "[edge_radius_mm]"} <= set(draw("reliefs"))
    part.reliefs[0].kind = "opening"
    texts = draw("reliefs")
    assert "[width_mm]" not in texts
    assert "is open" in " ".join(texts)  # the channel's curve is a line
    part.reliefs[0].curve = None
    assert "has no curve" in " ".join(draw("reliefs"))


def test_the_list_of_reliefs_draws_its_rows(part):
    for kind in ("opening", "channel"):
        bpy.ops.padwright.add_relief(kind=kind)
        texts: list[str] = []
        bpy.types.PADWRIGHT_UL_reliefs.draw_item(
            None, bpy.context, Layout(texts), part, part.reliefs[-1], 0, part, "relief_index"
        )
        assert texts[0] == "[name]" and len(texts) == 2


@pytest.mark.parametrize("fault", ["open", "several", "gone"])
def test_what_is_wrong_stands_in_the_pad_panel_before_the_button_is_pressed(part, inside, fault):
    bpy.ops.padwright.draw_footprint()
    bpy.ops.object.mode_set(mode="OBJECT")
    state = inside("blender.state")
    assert state.missing(part, "pad") == ""
    if fault == "open":
        part.footprint.data.splines[0].use_cyclic_u = False
    elif fault == "several":
        part.footprint.data.splines.new("POLY")
    else:
        bpy.data.collections["Outlines"].objects.unlink(part.footprint)
    said = state.missing(part, "pad")
    assert said.startswith("Footprint: ") and not said.endswith(".")
    assert {"open": "is open", "several": "has 2 splines", "gone": "is not in this scene"}[fault] in said
    assert all(len(line) <= 33 for line in textwrap.wrap(said, 33))
    assert state.missing(part, "alignment") == ""


def test_telling_what_is_stale_is_quick_with_many_curves(part, inside):
    state = inside("blender.state")
    for _ in range(5):
        bpy.ops.padwright.add_relief(kind="opening")
    bpy.ops.padwright.build_pad()
    spent = []
    for _ in range(15):
        start = time.process_time()
        state.stale(part, "pad")
        state.missing(part, "pad")
        spent.append(time.process_time() - start)
    assert min(spent) <= 0.005  # half a ms is aimed for; ten times that is not reached by a busy machine
