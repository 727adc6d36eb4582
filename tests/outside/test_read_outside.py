"""Reading against trimesh (an independent reader and writer): the same files give the same surface."""

from __future__ import annotations

import io

import numpy as np
import pytest
import trimesh

from padwright.core.base.progress import drain
from padwright.core.stages.scans.clean import clean_scan
from padwright.core.stages.scans.read import read_scan
from padwright.core.stages.scans.scan_facts import scan_facts
from support.scanned import board, soup, without

BODY = trimesh.creation.icosphere(subdivisions=3, radius=40.0)
BODY.apply_transform(trimesh.transformations.rotation_matrix(0.7, [1, 2, 3]))
BODY.visual.vertex_colors = np.random.default_rng(0).integers(0, 256, (len(BODY.vertices), 4)).astype(np.uint8)


def exported(kind: str, **options: object) -> bytes:
    data = BODY.export(file_type=kind, **options)
    return data.encode() if isinstance(data, str) else data


FILES = {
    "stl": exported("stl"),
    "stl_ascii": exported("stl_ascii"),
    "ply": exported("ply"),
    "ply text": exported("ply", encoding="ascii"),
    "obj": exported("obj"),
    "off": exported("off"),
    "glb": exported("glb"),
}


@pytest.mark.parametrize("kind", FILES)
def test_gives_the_surface_trimesh_wrote_and_reads(kind: str) -> None:
    extension = kind.split("_")[0].split(" ")[0]
    mesh = read_scan(FILES[kind], f"body.{extension}").mesh
    other = trimesh.load_mesh(io.BytesIO(FILES[kind]), file_type=extension, process=False)
    # Triangle for triangle as trimesh reads it; the text formats keep 8 digits, the binary ones 24 bits (6e-8).
    assert np.allclose(mesh.triangles, np.asarray(other.triangles), atol=40 * 2e-7, rtol=0)
    assert mesh.volume == pytest.approx(BODY.volume, rel=1e-6)
    assert mesh.area == pytest.approx(BODY.area, rel=1e-6)


@pytest.mark.parametrize("kind", ["ply", "ply text", "glb"])
def test_colors_agree_with_trimesh(kind: str) -> None:
    colors = read_scan(FILES[kind], f"body.{kind.split(' ')[0]}").mesh.colors
    assert np.array_equal(colors, BODY.visual.vertex_colors)


def test_a_scene_of_placed_parts_agrees_with_trimesh() -> None:
    scene = trimesh.Scene()
    pose = trimesh.transformations.compose_matrix(scale=[1, 2, 3], angles=[0.3, 0.2, 0.1], translate=[5, 6, 7])
    scene.graph.update(frame_to="arm", frame_from="world", matrix=pose)
    plain = trimesh.creation.box([1, 2, 3])
    scene.add_geometry(plain, node_name="hand", parent_node_name="arm", transform=pose)
    scene.add_geometry(plain, node_name="foot")
    mesh = read_scan(scene.export(file_type="glb"), "a.glb").mesh
    assert mesh.volume == pytest.approx(6.0 + 6.0 * 36.0, rel=1e-6)
    assert mesh.bounds == pytest.approx(scene.to_mesh().bounds, rel=1e-6)


def test_facts_and_welding_agree_with_trimesh() -> None:
    holed = without(board(), (0.0, 0.0, 0.0), 30.0)
    facts = scan_facts(soup(holed))
    other = trimesh.Trimesh(holed.vertices, holed.faces, process=False)
    assert facts.pieces == other.body_count
    assert facts.area == pytest.approx(other.area, rel=1e-12)
    # Edges on one face only, counted by trimesh's own grouping.
    single = trimesh.grouping.group_rows(other.edges_sorted, require_count=1)
    assert facts.open_edges == len(single)
    assert sum(hole.edge_count for hole in facts.holes) == len(single)
    length = np.linalg.norm(np.diff(other.vertices[other.edges[single]], axis=1), axis=2).sum()
    assert sum(hole.perimeter for hole in facts.holes) == pytest.approx(length, rel=1e-12)


def test_a_cleaned_body_is_a_volume_for_trimesh() -> None:
    is_over = np.arange(len(BODY.faces)) % 7 == 0
    faces = np.where(is_over[:, None], BODY.faces[:, ::-1], BODY.faces)
    data = trimesh.Trimesh(BODY.vertices, faces, process=False).export(file_type="stl")
    cleaned = drain(clean_scan(read_scan(data, "a.stl").mesh)).mesh
    other = trimesh.Trimesh(cleaned.vertices, cleaned.faces, process=False)
    assert other.is_volume
    assert other.volume == pytest.approx(BODY.volume, rel=1e-6)
