"""Textures against trimesh with Pillow (independent writer and reader), and color differences against colorspacious."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image

from padwright.core.base.perceived import color_difference, lab_of
from padwright.core.stages.scans.painted_read import read_painted
from padwright.core.stages.scans.surface_colors import SurfaceColors
from support.color_spaces import colorspacious
from support.painted import glb_file, obj_files, rings, textured
from support.scanned import grid


def unwrapped() -> trimesh.Trimesh:
    """Return a sphere with a texture of noise that is not square, laid on by longitude and latitude."""
    mesh = trimesh.creation.uv_sphere(radius=30.0, count=[16, 24])
    angle = np.arctan2(mesh.vertices[:, 1], mesh.vertices[:, 0])
    places = np.column_stack([0.5 + angle / (2 * np.pi), 0.5 + mesh.vertices[:, 2] / 60.0]) * 0.98 + 0.01
    pixels = np.random.default_rng(4).integers(0, 255, (37, 91, 3), dtype=np.uint8)
    material = trimesh.visual.material.PBRMaterial(baseColorTexture=Image.fromarray(pixels))
    mesh.visual = trimesh.visual.TextureVisuals(uv=places, material=material)
    return mesh


@pytest.mark.parametrize("kind", ["glb", "obj"])
def test_every_face_has_the_pixel_that_trimesh_gives_it(kind: str) -> None:
    mesh = unwrapped()
    if kind == "glb":
        data, files = mesh.export(file_type="glb"), {}
    else:
        visual = mesh.visual.copy()
        visual.material = visual.material.to_simple() if hasattr(visual.material, "to_simple") else visual.material
        text, files = trimesh.exchange.obj.export_obj(mesh, return_texture=True)
        data = text.encode()
    painted = read_painted(data, f"ball.{kind}", lambda name: files[name])
    surface = SurfaceColors(painted.points, painted)
    assert np.allclose(painted.points[painted.faces], mesh.triangles, atol=1e-5)
    pixels = np.asarray(mesh.visual.material.baseColorTexture)
    places = mesh.visual.uv[mesh.faces].mean(axis=1)
    column, row = (places * [pixels.shape[1], 0]).astype(int)[:, 0], ((1 - places[:, 1]) * pixels.shape[0]).astype(int)
    found = surface.at(np.arange(len(mesh.faces)), np.full((len(mesh.faces), 3), 1 / 3))
    near = places * [pixels.shape[1], pixels.shape[0]] % 1.0
    is_clear = ((near > 1e-3) & (near < 1 - 1e-3)).all(axis=1)  # on the line between two pixels either will do
    assert is_clear.mean() > 0.9 and np.array_equal(found[is_clear], pixels[row, column, :3][is_clear])


def test_trimesh_reads_the_tests_own_scans_as_we_do(tmp_path: Path) -> None:
    """So that the writer in `support.painted` and our readers do not share a fault."""
    steps = np.arange(0.0, 31.0, 6.0)
    scan = textured(grid(steps, steps, lambda x, y: 0.1 * x), rings(((15, 15), 8, 3.0, (200.0, 20.0, 30.0))), 16)
    files = obj_files(scan)
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "clay.glb").write_bytes(glb_file(scan))
    for name in ("clay.obj", "clay.glb"):
        other = trimesh.load_mesh(tmp_path / name, process=False)
        painted = read_painted((tmp_path / name).read_bytes(), name, lambda name: files[name])
        theirs = other.visual.uv[other.faces]
        ours = np.stack([painted.on_picture[..., 0], 1.0 - painted.on_picture[..., 1]], axis=2)  # type: ignore[index]
        assert np.allclose(other.triangles, painted.points[painted.faces], atol=1e-5)
        assert np.allclose(theirs, ours, atol=1e-6)


def test_colors_are_those_of_colorspacious() -> None:
    colors = np.random.default_rng(2).integers(0, 256, (500, 3))
    labs = lab_of(colors)
    # Their white point is that of the 1931 observer in more digits.
    assert np.abs(labs - colorspacious.cspace_convert(colors, "sRGB255", "CIELab")).max() < 0.05
    flat = labs * [0.5, 1, 1]
    assert np.allclose(color_difference(labs, labs[0]), np.linalg.norm(flat - flat[0], axis=1) / 100)
    black, white = lab_of(np.array([[0, 0, 0], [255, 255, 255]]))
    assert color_difference(black[None], white)[0] == pytest.approx(0.5, abs=1e-3)
