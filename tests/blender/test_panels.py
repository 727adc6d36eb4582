"""Panels: drawn in every state with a layout that checks each property and operator they name."""

from __future__ import annotations

import time
from pathlib import Path
from types import SimpleNamespace

import blf
import bpy
import pytest

PANELS = [
    *("part", "scans", "alignment", "impression", "pad", "zones", "fill"),
    *("regions", "load", "shape", "export", "trials"),
]


# At the default width of the sidebar a label beside its field has so much room, in the interface's font at size 12: in
# the window "Rim Radius (mm)", 98 pixels, was seen whole and "Depth from (mm)", 99, was cut.
LABEL_PX = 98


def pixels(text: str) -> float:
    """Return how wide a text is."""
    blf.size(0, 12)
    return blf.dimensions(0, text)[0]


class Layout:
    """Takes what a panel draws, and fails where the modeller would."""

    def __init__(self, texts: list[str]) -> None:
        self.texts = texts

    def row(self, **_):
        return Layout(self.texts)

    column = split = box = row

    def label(self, text="", icon="NONE"):
        assert icon in bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items
        self.texts.append(text)

    def progress(self, factor, text):
        assert 0.0 <= factor <= 1.0
        self.texts.append(f"{text}...")

    def prop(self, data, name, text=None, icon="NONE", emboss=True, placeholder="", slider=False, expand=False):
        prop = data.bl_rna.properties[name]
        assert icon in bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items
        is_beside = prop.type != "BOOLEAN" and text != "" and not expand
        assert not is_beside or pixels(prop.name if text is None else text) <= LABEL_PX, prop.name
        self.texts.append(f"[{name}]")

    def operator(self, idname, text=None, icon="NONE", emboss=True, depress=False):
        module, name = idname.split(".")
        found = getattr(getattr(bpy.ops, module), name).get_rna_type()
        self.texts.append(f"<{idname}>")

        class Values:
            def __setattr__(self, key, value):
                prop = found.properties[key]
                assert value in prop.enum_items if prop.type == "ENUM" else isinstance(value, int)

        return Values()

    def operator_menu_enum(self, idname, values, text):
        module, name = idname.split(".")
        assert values in getattr(getattr(bpy.ops, module), name).get_rna_type().properties
        return self.operator(idname, text)

    def template_list(self, kind, _id, data, listed, holder, index, **_):
        assert hasattr(bpy.types, kind)
        assert listed in data.bl_rna.properties and index in holder.bl_rna.properties
        self.texts.append(f"[{listed}]")


class Silent:
    """Takes what a panel draws and looks at nothing: what is timed then is the panel."""

    def row(self, **_):
        return self

    column = split = box = row

    def label(self, **_):
        pass

    def prop(self, *_, **__):
        pass

    progress = template_list = prop

    def operator(self, *_, **__):
        return SimpleNamespace()

    operator_menu_enum = operator


def draw(name: str, layout=None) -> list[str]:
    texts: list[str] = []
    kind = getattr(bpy.types, f"PADWRIGHT_PT_{name}")
    kind.draw(_bound(kind, layout or Layout(texts)), bpy.context)
    return texts


def _bound(kind, layout):
    """Stand in for the panel the modeller would make: its methods with our layout."""
    panel = SimpleNamespace(layout=layout, stage=getattr(kind, "stage", ""), does=getattr(kind, "does", ""))
    for each in reversed(kind.__mro__[:-1]):
        if not each.__module__.startswith("bpy"):
            for name, method in vars(each).items():
                if callable(method) and "draw" in name:
                    setattr(panel, name, method.__get__(panel))
    return panel


@pytest.fixture
def finished(part):
    """Do every stage, with relief as the aim."""
    part.goal, part.zones[0].is_relieved = "relieve", True
    for stage in ("build_pad", "plan_zones", "cut_regions", "check_load"):
        getattr(bpy.ops.padwright, stage)()
    return part


def test_panels_stand_in_the_order_of_the_work():
    kinds = [getattr(bpy.types, f"PADWRIGHT_PT_{name}") for name in PANELS]
    assert [kind.bl_order for kind in kinds] == [10 * number for number in range(len(PANELS))]
    assert {kind.bl_category for kind in kinds} == {"Padwright"}


@pytest.mark.parametrize("name", PANELS)
def test_an_empty_scene_draws_and_says_what_to_do(scene, name):
    texts = " ".join(draw(name))
    assert "Start" in texts


def test_each_stage_says_what_is_missing_then_what_was_found(part):
    assert "Build the pad first" in draw("zones")
    assert "Plan the zones first" in draw("regions")
    bpy.ops.padwright.build_pad()
    assert "Plan the zones first" in draw("regions")
    assert "Build the pad first" not in draw("zones")
    for name, found in (
        ("pad", "The pad has "),
        ("alignment", "The scans agree to "),
        ("impression", "The body bears"),
    ):
        assert any(text.startswith(found) for text in draw(name))
    part.rim_radius_mm += 0.5
    assert "Settings of the pad changed since; do this stage again" in " ".join(draw("pad"))
    assert "changed since" not in " ".join(draw("alignment"))


def test_the_keys_of_folded_walls_are_there_where_they_are_chosen(part):
    assert "[fill_layout]" not in draw("fill")
    assert "<padwright.lay_out_walls>" not in draw("fill")
    part.fill_kind = "folds"
    shown = draw("fill")
    for name in (
        *("fill_layout", "rows_run", "wall_folds", "wall_beads", "wall_pitch_mm", "skin_layers"),
        *("most_slope_deg", "longest_bridge_mm", "least_core_mm", "voids"),
    ):
        assert f"[{name}]" in shown
    assert "[run_vector]" not in shown
    part.rows_run = "given"
    assert "[run_vector]" in draw("fill")
    part.fill_layout = "rings"
    assert "[rows_run]" not in draw("fill")
    part.fill_layout, part.rows_run = "rows", "across"
    assert "<padwright.lay_out_walls>" in shown
    assert "Theory so far" in " ".join(shown)
    assert "<padwright.make_shape>" in draw("shape")
    for what, slider in (("cutaway", "[cut_share]"), ("layer", "[layer_share]")):
        part.view.inside = what
        assert slider in draw("shape")
    part.view.inside = "whole"
    assert "[cut_share]" not in draw("shape")


def test_a_note_of_a_trial_asks_in_the_wearers_words(part, tmp_path):
    assert "<padwright.begin_trial>" in draw("trials")
    part.trials.folder = str(tmp_path)
    bpy.ops.padwright.begin_trial()
    shown = draw("trials")
    assert shown.count("[feels]") == len(part.zones) and "[than_last]" not in shown
    assert "Stop wearing it" not in " ".join(shown)
    part.trials.pain, part.trials.before = 4, "1"
    shown = draw("trials")
    assert "Stop wearing it" in " ".join(shown) and shown.count("[than_last]") == len(part.zones)
    part.trials.answers[0].feels = "right"
    part.trials.before = ""
    bpy.ops.padwright.save_trial()
    assert "<padwright.save_trial>" not in draw("trials")
    assert "right" in " ".join(draw("trials"))


def test_what_follows_from_the_notes_is_drawn_line_by_line(part):
    trials, found = part.trials, part.compare
    for name, button in (("revise", "propose_revision"), ("changes", "compare_prints"), ("compare", "compare_print")):
        assert f"<padwright.{button}>" in draw(name)
    row = trials.changes.add()
    row.name, row.said, row.why, row.watch = "bones", "softer by 18 %", "Too firm twice.", "The tail bone."
    trials.stop, trials.told, trials.proposed_of = "It hurts.", "It prints 14 h.", "0"
    shown = draw("revise")
    for words in ("bones", "Softer by 18 %", "Too firm twice.", "The tail bone.", "It hurts.", "It prints 14 h."):
        assert words in shown
    assert f"Of print 0; this is print {part.revision}." in shown and "<padwright.take_revision>" in shown
    trials.changed_of, trials.changed_said = "1 and 2", "Thickness: as before."
    for kind, name in (("Settings", "fill share"), ("Felt", "bones")):
        row = trials.changed.add()
        row.kind, row.name, row.before, row.now, row.change = kind, name, "26 %", "21 %", "x 0.81"
    shown = draw("changes")
    assert shown.count("Settings") == shown.count("Felt") == 1
    assert "fill share: 26 % to 21 %" in " ".join(shown)
    found.said, found.of, found.facts = "Within 0.3 mm.", part.revision, "x of the bed: 1 % smaller"
    found.corrections, found.keys, found.doubts = "Flow 105 %: lighter", "[]", "Left or right?"
    off = found.worst.add()
    off.name, off.off_mm = "rim", -0.8
    shown = draw("compare")
    for words in (
        "Within 0.3 mm.",
        "x of the bed: 1 % smaller",
        "-0.8 mm, rim",
        "Flow 105 %: lighter",
        "Left or right?",
    ):
        assert words in shown
    assert "<padwright.take_corrections>" in shown


def test_notes_wait_until_they_are_asked_for(part):
    bpy.ops.padwright.prepare_scans()
    found = part.stages["scans"]
    assert "[is_open]" in draw("scans")
    closed = len(draw("scans"))
    found.is_open = True
    assert len(draw("scans")) > closed


def test_the_family_s_cautions_are_shown(part, inside):
    texts: list[str] = []
    kind = bpy.types.PADWRIGHT_PT_cautions
    assert kind.poll(bpy.context) and kind.bl_parent_id == "PADWRIGHT_PT_part"
    kind.draw(_bound(kind, Layout(texts)), bpy.context)
    shown = " ".join(texts)
    cautions = inside("core.job.cards").load_family("seat_pad").cautions
    assert {each.severity for each in cautions} == {"note", "caution"}
    for caution in cautions:
        assert shown.count(" ".join(caution.text.split()[:4])) == 1, caution.code
    at_export = " ".join(draw("export"))
    for caution in cautions:
        assert at_export.count(" ".join(caution.brief.split()[:3])) == 1, caution.code


def test_every_zone_source_draws_and_says_what_it_needs(part):
    part.zone_index = 0
    zone = part.zones[0]
    said = {
        "load_centers": "[radius_mm]",
        "imprint_depth": "[to_mm]",
        "outline": "<padwright.draw_zone_outline>",
        "paint": "Paint it on the pad, then plan.",
        "rest": "Takes what no other zone claims.",
        "color_marks": "The impression scan has no colors",
        "pressed_foil": "The impression scan has no colors",
        "kept": "Pressures of a grid",
        "pressure_grid": "There is no mat",
    }
    zone.kept = '{"source": "pressure_grid", "file": "grid.csv"}'
    assert set(said) == {item.identifier for item in zone.bl_rna.properties["source"].enum_items}
    for source, words in said.items():
        zone.source = source
        assert words in " ".join(draw("zones")), source
    zone.source = "color_marks"
    part.impression.data.color_attributes.new("marks", "BYTE_COLOR", "POINT")
    assert "has no colors" not in " ".join(draw("zones")) and "[color]" in draw("zones")
    zone.is_painted = True
    assert "<padwright.drop_paint>" in draw("zones") and "[source]" not in draw("zones")


def test_a_zone_shows_its_target_and_what_was_found_of_it(finished, inside):
    card = inside("core.job.cards").load_family("seat_pad")
    finished.zone_index = 0
    texts = draw("zones")
    assert texts[texts.index("Target") + 1] == f"{card.target_modulus_kpa(4.0):.0f} kPa"
    assert texts[texts.index("Area") + 1] == f"{finished.zones[0].area_cm2:.1f} cm2"
    assert texts[texts.index("Bears") + 1] == finished.zones[0].bears
    assert texts[texts.index("Before Tuning") + 1] == finished.zones[0].bore


def test_the_load_says_force_numbers_tuning_and_its_cautions(finished):
    texts = draw("load")
    shown = " ".join(texts)
    assert texts[texts.index("Posture") + 1] == "sitting" and texts[texts.index("Force") + 1].endswith(" N")
    for row in finished.found.cases[0].rows:
        assert texts[texts.index(row.name) + 1] == row.now
    row = finished.found.tuning[0]
    assert texts[texts.index(row.name) + 1 :][:2] == [row.before, row.now]
    assert "they judge nobody's health" in shown and "Stop and change the shape if you feel numbness" in shown
    assert "<padwright.show_load>" in texts


def test_the_regions_say_what_is_printed(finished):
    finished.found.region_index = 0
    row = finished.found.regions[0]
    shown = " ".join(draw("regions"))
    assert row.kpa in shown and row.settings[1:12] in shown and f"{row.level:g}, {row.level_name}" in shown


def test_lists_draw_their_rows(finished):
    for kind, rows, words in (
        ("zones", finished.zones, "firm"),
        ("cases", finished.found.cases, "sitting"),
        ("regions", finished.found.regions, "<padwright.select_region>"),
    ):
        texts: list[str] = []
        draw_item = getattr(bpy.types, f"PADWRIGHT_UL_{kind}").draw_item
        draw_item(None, bpy.context, Layout(texts), None, rows[0], 0, None, "", 0)
        assert words in texts
    finished.zones[0].level = 2.5
    texts = []
    bpy.types.PADWRIGHT_UL_zones.draw_item(None, bpy.context, Layout(texts), None, finished.zones[0], 0, None, "", 0)
    assert "2.5" in texts


def test_an_empty_folder_says_where_the_files_go(part, monkeypatch, tmp_path, inside):
    said = []
    monkeypatch.setattr(Layout, "prop", lambda _self, _data, name, **more: said.append((name, more.get("placeholder"))))
    draw("export")
    assert ("folder", "choose one") in said
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "scene.blend"), check_existing=False)
    draw("export")
    shown = dict(said)["folder"]
    assert Path(bpy.path.abspath(shown)) == inside("blender.scene").target_folder("")


def test_what_must_be_acted_on_is_seen_without_opening_the_notes(finished, inside):
    acting = inside("core.base.notes").to_act_on("Look at it closely.")
    inside("blender.state").mark(finished, "pad", ["The pad is built", "How it came.", acting])
    texts = draw("pad")
    assert "Look at it closely." in texts and "How it came." not in texts
    assert finished.stages["pad"].acting == 1 and "[is_open]" in texts


def test_a_check_length_leaves_the_room_to_its_name_until_there_are_more_numbers(part):
    def row():
        texts: list[str] = []
        bpy.types.PADWRIGHT_UL_lengths.draw_item(
            None, bpy.context, Layout(texts), part, part.lengths[0], 0, None, "", 0
        )
        return texts

    by_hand = f"{part.lengths[0].measured_mm:.1f}"
    for length in part.lengths:
        length.is_fitted = False
    assert row() == ["[name]", by_hand]
    assert {"Name", "Hand"} <= set(draw("scans")) and "Left" not in draw("scans")
    part.lengths[0].is_fitted = True
    assert len(row()) == 4 and {"Name", "Hand", "Scan", "Left"} <= set(draw("scans"))


def test_lines_are_no_wider_than_the_sidebar(finished):
    # At the default width of 290 pixels 33 letters stand beside an icon: seen in the window.
    longest = max((text for name in PANELS for text in draw(name)), key=len)
    assert len(longest) <= 33, longest


def test_long_work_is_shown_with_the_way_to_stop_it(part, inside):
    running = inside("blender.state").running
    running.append((0.4, "aligning"))
    try:
        assert "aligning..." in draw("part")
        assert "Press Esc to stop." in draw("part")
    finally:
        running.clear()


def test_drawing_is_quick(finished):
    for name in PANELS:
        draw(name)
    best = {}
    for name in PANELS:
        spent = []
        for _ in range(15):
            start = time.process_time()
            draw(name, Silent())
            spent.append(time.process_time() - start)
        best[name] = 1000 * min(spent)
    # 0.5 ms a panel is the aim, and scripts/bench.py prints how far it is met; 0.3 to 1.4 ms were seen here with other
    # work on the machine. A busy machine does not reach ten times the aim; a panel that works things out does.
    assert max(best.values()) <= 5.0, best
