"""Drawing on a part that wraps around its base, in a scan unit and on a scan other than the usual."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest

from support.cases import make_case


@pytest.fixture(scope="session")
def grip_job(tmp_path_factory) -> Path:
    from scan_making import ply_bytes

    case = make_case("grip", triangles=20_000, noise_mm=0.1, unit="m", pose="none", turntable=False)
    folder = tmp_path_factory.mktemp("grip")
    for name in ("base", "impression"):
        mesh = getattr(case, name)
        (folder / f"{name}.ply").write_bytes(ply_bytes(mesh.vertices, mesh.faces))
    path = folder / "job.toml"
    path.write_text(
        'schema = 1\n[part]\nname = "Grip"\nnumber = "GRIP-1"\nfamily = "grip"\n'
        '[base]\nscan = "base.ply"\nunit = "m"\n[impression]\nscan = "impression.ply"\nunit = "m"\n'
        '[body]\npress_direction = "inward"\n[[zones]]\nname = "rest"\nlevel = 2\nsource = "rest"\n'
    )
    return path


@pytest.fixture
def grip(scene, grip_job):
    bpy.ops.padwright.load_job(filepath=str(grip_job))
    assert scene.padwright.press == "inward"
    return scene.padwright


def volume(part):
    return float(part.stages["pad"].lines.split(" has ")[1].split(" cm3")[0])


@pytest.mark.parametrize("kind", ["channel", "opening"])
def test_a_relief_on_a_grip_lies_on_it_and_takes_a_little_of_one_side(grip, array_of, kind):
    part = grip
    bpy.ops.padwright.build_pad()
    before, places = volume(part), array_of(part.pad)
    top = places[np.argmax(places[:, 2])]
    bpy.context.scene.cursor.location = top / 1000.0
    assert bpy.ops.padwright.add_relief(kind=kind) == {"FINISHED"}
    curve = part.reliefs[0].curve
    bpy.context.view_layer.update()
    points = 1000 * np.array([curve.matrix_world @ each.co for each in curve.data.splines[0].bezier_points])
    apart = np.linalg.norm(points[:, None] - places[None], axis=2).min(axis=1)
    assert np.sort(apart)[:-1].max() < 2.5  # on the surface, to about a grid step; an end may lie over the rounded rim
    assert apart.max() < 5.0
    assert np.linalg.norm(points.mean(axis=0) - top) < 15.0
    bpy.ops.padwright.build_pad()
    assert 0.002 * before < before - volume(part) < 0.15 * before


def test_points_of_the_impression_scan_stay_on_it(scene, job_file, inside, tmp_path, case):
    size = 1.0 / case.mm_per_unit
    points = [[20 * size, 0.0, 5 * size], [0.0, 25 * size, 5 * size], [-20 * size, -4 * size, 5 * size]]
    text = f'[pad]\nfootprint_on = "impression"\nfootprint = {points}\n'
    path = job_file.with_name("on_impression.toml")
    path.write_text(job_file.read_text("utf-8") + text, "utf-8")
    bpy.ops.padwright.load_job(filepath=str(path))
    part = scene.padwright
    assert part.footprint.parent == part.impression
    read = inside("blender.scene").read_scene
    found = read(bpy.context, tmp_path).pad
    assert found.footprint_on == "impression"
    assert np.allclose(found.footprint, points, rtol=1e-6)
    bpy.ops.padwright.align_scans()  # moves and scales the impression's object, and the curve with it
    assert read(bpy.context, tmp_path).pad == found
