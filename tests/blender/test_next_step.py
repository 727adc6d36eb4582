"""The first panel tells what comes next, from an empty scene to the files."""

from __future__ import annotations

import bpy


def test_each_button_is_named_in_turn_until_nothing_is_left(scene, job_file, inside):
    next_step = inside("blender.panels_part").next_step
    assert next_step(scene.padwright) == "Next: Start a part"
    bpy.ops.padwright.load_job(filepath=str(job_file))
    part = scene.padwright
    for operator, label in (
        ("prepare_scans", "Clean and Scale Scans"),
        ("align_scans", "Align Scans"),
        ("read_impression", "Read Impression"),
        ("build_pad", "Build Pad"),
        ("plan_zones", "Plan Zones"),
        ("cut_regions", "Cut Regions"),
        ("check_load", "Check Load"),
    ):
        assert next_step(part) == f"Next: {label}"
        assert getattr(bpy.types, f"PADWRIGHT_OT_{operator}").bl_label == label
        getattr(bpy.ops.padwright, operator)()
    assert next_step(part).startswith("Next: Export Part")
    part.fit_gap_mm += 0.1
    assert next_step(part) == "Next: Build Pad again. Settings of the pad changed since"


def test_what_is_missing_comes_before_the_button(part, inside):
    next_step = inside("blender.panels_part").next_step
    part.impression = None
    assert next_step(part).startswith("Next: Choose or import the impression scan")
