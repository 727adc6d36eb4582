"""Corners that differ by rounding are joined, in every format, and nothing that is a shape of its own is."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.scans.clean import CleanScan, clean_scan
from padwright.core.stages.scans.near_corners import weld_near
from padwright.core.stages.scans.read import read_scan
from padwright.core.stages.scans.scan_facts import scan_facts
from support.scanned import board, grid, joined, moved, soup, sphere
from support.writers import write_scan

SPHERE = sphere()


def loosened(mesh: TriMesh, apart: float, seed: int = 5) -> TriMesh:
    """Return the triangles each with corners of its own, at most `apart` from each other where one corner was."""
    loose = soup(mesh)
    away = np.random.default_rng(seed).normal(size=loose.vertices.shape)
    away *= 0.5 * apart / np.linalg.norm(away, axis=1, keepdims=True)
    return TriMesh(loose.vertices + away, loose.faces)


def glb_of(mesh: TriMesh) -> bytes:
    """Return a GLB of triangles without vertex numbers, three places each."""
    places = mesh.triangles.astype("<f4").tobytes()
    scene = {
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "type": "VEC3", "count": 3 * len(mesh.faces)}],
        "bufferViews": [{"buffer": 0, "byteLength": len(places)}],
        "buffers": [{"byteLength": len(places)}],
    }
    text = json.dumps(scene).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(places), 0x004E4942) + places
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def cleaned(mesh: TriMesh) -> CleanScan:
    return drain(clean_scan(mesh))


@pytest.mark.parametrize("apart", [1e-7, 1e-6, 1e-5, 1e-4, 1e-3])
@pytest.mark.parametrize("edge", [0.2, 1.0, 5.0])
def test_corners_a_little_apart_are_one(apart: float, edge: float) -> None:
    true = sphere().scaled(edge / 2.2)  # its typical edge is 2.2 mm
    scan = cleaned(loosened(true, apart))
    assert scan.mesh.is_closed and len(scan.mesh.faces) == len(true.faces)
    assert len(scan.mesh.vertices) == len(true.vertices)
    assert abs(scan.mesh.volume / true.volume - 1.0) < 4 * apart / edge  # a corner moves by half of that at most
    (note,) = [note for note in scan.notes if "share their corners" in note]
    assert note.startswith(f"Joined: {3 * len(true.faces) - len(true.vertices)} vertices up to ")
    assert scan.before.near_gap <= apart * 1.001


@pytest.mark.parametrize("file_format", ["stl", "stl ascii", "obj", "ply", "ply big", "off", "glb"])
def test_it_holds_for_every_format(file_format: str, tmp_path: Path) -> None:
    loose = loosened(SPHERE, 1e-3)
    data = glb_of(loose) if file_format == "glb" else write_scan(loose, tmp_path, "scan", file_format).read_bytes()
    scan = cleaned(read_scan(data, "scan").mesh)
    assert scan.mesh.is_closed and len(scan.mesh.vertices) == len(SPHERE.vertices)


def test_a_fine_surface_with_open_borders_keeps_every_point() -> None:
    # One sheet whose rows lie 0.2 to 20 000 times as near as its typical edge, open all around.
    x = np.concatenate([np.geomspace(1e-4, 20, 60), np.arange(22, 60, 2.0)])
    fine = grid(x, np.arange(0, 60, 2.0), lambda across, along: 3 * np.sin(across / 9) * np.cos(along / 7))
    facts = scan_facts(fine)
    assert facts.near_points == 0 and facts.triangles == len(fine.faces)
    assert len(cleaned(fine).mesh.vertices) == len(fine.vertices)


@pytest.mark.parametrize("shrunk", [1e-3, 1e-2])
def test_a_small_triangle_among_large_ones_stays(shrunk: float) -> None:
    mesh = board()
    corners = mesh.vertices.copy()
    face = mesh.faces[0]  # at the border: pull its corners together to some hundredths of the typical edge or less
    corners[face] = corners[face].mean(axis=0) + shrunk * (corners[face] - corners[face].mean(axis=0))
    small = TriMesh(corners, mesh.faces)
    assert scan_facts(small).near_points == 0
    assert len(cleaned(small).mesh.faces) == len(mesh.faces)


def test_two_sheets_a_twentieth_of_an_edge_apart_stay_two() -> None:
    sheet = board()
    assert scan_facts(joined(sheet, moved(sheet, (0, 0, 0.15)))).near_points == 0


def test_a_closed_surface_is_never_looked_at_and_points_far_off_do_no_harm() -> None:
    assert scan_facts(SPHERE).near_points == 0
    loose = loosened(SPHERE, 1e-4)
    far = TriMesh(
        np.concatenate([loose.vertices, 1e29 * np.eye(3), np.full((3, 3), np.nan)]),
        np.concatenate([loose.faces, len(loose.vertices) + np.arange(6).reshape(2, 3)]),
    )
    assert scan_facts(far).near_points == 3 * len(SPHERE.faces) - len(SPHERE.vertices)


def test_pairs_are_found_wherever_the_cells_end() -> None:
    dice = np.random.default_rng(3)
    places = dice.uniform(-50, 50, (20_000, 3))
    apart = dice.normal(size=places.shape)
    apart *= dice.uniform(0, 0.0099, (len(places), 1)) / np.linalg.norm(apart, axis=1, keepdims=True)
    found = weld_near(
        np.concatenate([places, places + apart]), np.zeros((0, 3), int), np.arange(40_000, dtype=np.int32), 1.0
    )
    assert found is not None
    assert np.array_equal(found.stands_for[20_000:], np.arange(20_000)) and found.joined == 20_000
