"""Reading: each format, its variants, and what it must carry over."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.stages.scans.read import ReadScan, read_scan
from support.scan_files import COLORS, FACES, POINTS, binary_stl, glb, obj, off, ply, text_stl


def same_solid(scan: ReadScan) -> bool:
    """True when the scan has exactly the tetrahedron's triangles, turned as they are, wherever they are in the list."""

    def canonical(triangles: np.ndarray) -> list:
        rolled = [np.roll(t, -min(range(3), key=lambda k, t=t: tuple(t[k])), axis=0) for t in triangles]
        return sorted(tuple(t.ravel()) for t in rolled)

    return canonical(scan.mesh.triangles) == canonical(POINTS[FACES])


GOOD = {
    "stl binary": (binary_stl(), "a.stl"),
    "stl binary, head says solid": (binary_stl(header=b"solid facet normal"), "a.stl"),
    "stl text": (text_stl().encode(), "a.stl"),
    "stl text, upper case": (text_stl().upper().encode(), "a.STL"),
    "stl text, windows line ends": (text_stl().replace("\n", "\r\n").encode(), "a.stl"),
    "ply text": (ply(), "a.ply"),
    "ply text, windows line ends": (ply().replace(b"\n", b"\r\n"), "a.ply"),
    "ply little": (ply("binary_little_endian"), "a.ply"),
    "ply big": (ply("binary_big_endian"), "a.ply"),
    "obj": (obj(), "a.obj"),
    "off": (off(), "a.off"),
    "glb": (glb(), "a.glb"),
    "glb, bytes as indices": (glb(index_type=5121), "a.glb"),
}


@pytest.mark.parametrize("kind", GOOD)
def test_reads_the_same_solid_from_every_format(kind: str) -> None:
    data, name = GOOD[kind]
    scan = read_scan(data, name)
    assert same_solid(scan)
    assert len(scan.mesh.vertices) == 4
    assert kind.startswith(scan.file_format) or scan.file_format == "ply"


@pytest.mark.parametrize("kind", ["ply text", "ply little", "ply big", "obj", "glb"])
def test_carries_vertex_colors(kind: str) -> None:
    scan = read_scan(*GOOD[kind])
    order = [int(np.flatnonzero((POINTS == v).all(axis=1))[0]) for v in scan.mesh.vertices]
    assert np.array_equal(scan.mesh.colors, COLORS[order])


def test_unit_is_told_only_where_the_format_lays_it_down() -> None:
    assert read_scan(*GOOD["glb"]).file_unit == "m"
    assert {read_scan(*GOOD[k]).file_unit for k in ("stl binary", "ply text", "obj", "off")} == {None}


def test_glb_nodes_place_the_mesh_and_a_mirror_keeps_it_right_side_out() -> None:
    # Column by column: x -> -2 x, then moved by (5, 0, 0); the volume is 2 and stays positive.
    scan = read_scan(glb(matrix=[-2, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 5, 0, 0, 1]), "a.glb")
    assert scan.mesh.volume == pytest.approx(2.0, rel=1e-6)
    assert scan.mesh.bounds[:, 0] == pytest.approx([3.0, 5.0])


def test_obj_negative_numbers_count_back_from_where_they_stand() -> None:
    text = b"v 0 0 0\nv 1 0 0\nv 0 2 0\nf -3 -1 -2\nv 0 0 3\nf 1 2 -1\nf 1 -1 3\nf 2 3 4\n"
    assert same_solid(read_scan(text, "a.obj"))


@pytest.mark.parametrize("order", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_quads_and_triangles_mixed_make_the_same_surface(order: str) -> None:
    # A unit square with one corner pulled in (reflex at (.4, .4)): area 1 - 2 x (.6 x 1 / 2) = .4. The wrong
    # diagonal would give one triangle turned over and more area.
    square = np.array([[0, 0, 0], [1, 0, 0], [0.4, 0.4, 0], [0, 1, 0]])
    for shift in range(4):
        faces = [list(np.roll([0, 1, 2, 3], shift)), [0, 1, 3]]
        scan = read_scan(ply(order, points=square, faces=faces), "a.ply")
        assert len(scan.mesh.faces) == 3
        assert scan.mesh.face_areas[:2].sum() == pytest.approx(0.4)
        assert (scan.mesh.face_normals[:2, 2] > 0).all()


def test_name_is_only_a_hint() -> None:
    scan = read_scan(ply(), "scan.stl")
    assert scan.file_format == "ply"
    assert any('".stl"' in note for note in scan.notes)


def test_says_declared_and_real_counts() -> None:
    scan = read_scan(*GOOD["ply little"])
    assert scan.declared == {"vertices": 4, "faces": 4}
    assert (scan.real["vertices"], scan.real["faces"]) == (4, 4)


def test_stl_joins_equal_corners_also_minus_zero() -> None:
    points = POINTS.copy()
    record = np.frombuffer(binary_stl(points=points), dtype=np.uint8).copy()
    corner = record[84 + 12 : 84 + 16].view("<f4")
    assert corner[0] == 0.0
    corner[0] = -0.0
    assert len(read_scan(record.tobytes(), "a.stl").mesh.vertices) == 4
