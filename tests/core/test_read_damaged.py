"""Reading damaged and foreign files: each is refused with what and where, or mended with a note."""

from __future__ import annotations

import struct

import numpy as np
import pytest

from padwright.core.base.errors import ScanError
from padwright.core.stages.scans.read import read_scan
from support.scan_files import FACES, POINTS, binary_stl, glb, obj, off, ply, text_stl

STL, PLY, BIG = binary_stl(), ply("binary_little_endian"), ply("binary_big_endian")
TEXT = text_stl()
TWO_LINES = TEXT.split("\n")

REFUSED = {
    "empty": (b"", "a.stl", "is empty"),
    "blank": (b"\0" * 500, "a.stl", "nothing but 500 blank bytes"),
    "zip": (b"PK\x03\x04" + b"x" * 200, "a.stl", "zip archive"),
    "gzip": (b"\x1f\x8b\x08" + b"x" * 200, "a.ply", "gzip"),
    "html": (b"<!DOCTYPE html><html><body>404</body></html>", "a.stl", "web page"),
    "prose": (b"Dear reader, the scan follows by post." * 9, "a.obj", 'begins with "Dear reader'),
    "prose that says solid": (b"solid advice on scanning\nis rare\n", "a.stl", "not a mesh"),
    "utf-16": ("solid x\nfacet".encode("utf-16"), "a.stl", "UTF-16"),
    "picture": (b"\x89PNG\r\n\x1a\n" + b"x" * 99, "a.stl", "picture"),
    "noise": (bytes(range(250, 120, -1)) * 9, "a.ply", "no mesh format"),
    "stl cut": (STL[:-30], "a.stl", f"states 4 triangles but ends within triangle 4, at byte {len(STL) - 30}"),
    "stl head only": (STL[:84], "a.stl", "within triangle 1"),
    "stl count too high": (STL[:80] + struct.pack("<I", 5) + STL[84:], "a.stl", "states 5 triangles"),
    "stl no triangles": (STL[:80] + struct.pack("<I", 0), "a.stl", "states 0 triangles"),
    "stl text cut": ("\n".join(TWO_LINES[:10]).encode(), "a.stl", "ends at line 10 within a facet"),
    "stl text vertex missing": ("\n".join(TWO_LINES[:4] + TWO_LINES[5:]).encode(), "a.stl", 'Line 6 .*vertex with'),
    "stl text number wrong": (TEXT.replace("vertex 1 0 0", "vertex 1,0 0 0", 1).encode(), "a.stl", 'Line 6 .*"1,0"'),
    "stl text coordinate missing": (TEXT.replace("vertex 1 0 0", "vertex 1 0", 1).encode(), "a.stl", "Line 6 "),
    "stl text empty": (b"solid nothing\nendsolid nothing\n", "a.stl", "no triangle"),
    "ply cut in faces": (PLY[:-3], "a.ply", f"4 face rows and ends in row 4, at byte {len(PLY) - 3}"),
    "ply cut in vertices": (PLY[: PLY.index(b"end_header") + 50], "a.ply", "4 vertex rows and ends in row 2"),
    "ply big cut": (BIG[:-3], "a.ply", "ends in row 4"),
    "ply without head end": (PLY[:90], "a.ply", "no end_header"),
    "ply count too high": (ply().replace(b"ent face 4", b"ent face 9"), "a.ply", "9 face rows but ends after 4"),
    "ply text short row": (ply().replace(b"1 3 0 1 3 2.5", b"1 3 0 1 3"), "a.ply", "2 of 4.* has 5 numbers, not as"),
    "ply text word": (ply().replace(b"7.5 0 3", b"7.5 O 3"), "a.ply", 'has "O" where a number'),
    "ply text index": (ply().replace(b"1 3 0 1 3 2.5", b"1 3 0 1 4 2.5"), "a.ply", "face 2 points to vertex number 4"),
    "ply text fraction": (ply().replace(b"1 3 0 1 3 2.5", b"1 3 0 1 2.5 2"), "a.ply", "2.5 where a vertex number"),
    "ply bad type": (ply().replace(b"double z", b"duoble z"), "a.ply", "Line 8 .*makes no sense"),
    "ply no z": (ply().replace(b"double z", b"double w"), "a.ply", "no vertices with x, y and z"),
    "ply points only": (ply(faces=[]), "a.ply", "4 points and no faces"),
    "obj zero": (obj() + b"\nf 0 1 2", "a.obj", "Line 14 .*vertex 0"),
    "obj past": (obj() + b"\nf 1 2 5", "a.obj", "Line 14 .*vertex 5, but there are 4"),
    "obj past back": (obj() + b"\nf 1 2 -5", "a.obj", "Line 14 .*vertex -5"),
    "obj word": (obj() + b"\nf 1 2 x", "a.obj", "Line 14 "),
    "obj short vertex": (obj() + b"\nv 1 2", "a.obj", "Line 14 .*fewer than 3"),
    "obj no faces": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "a.obj", "3 vertices and 0 faces"),
    "off cut": (off()[: off().index(b"3 0 3 2")], "a.off", "4 vertices and 4 faces"),
    "off corner count": (off().replace(b"3 0 3 2 255 0 0", b"9 0 3 2 255 0 0"), "a.off", "Line 9 .*6 corners .* 9"),
    "off index": (off().replace(b"3 0 3 2 2", b"3 0 3 7 2"), "a.off", "face 3 points to vertex number 7"),
    "glb cut": (glb()[:-9], "a.glb", "ends at byte"),
    "glb old": (glb()[:4] + struct.pack("<I", 1) + glb()[8:], "a.glb", "version 1"),
    "glb count": (glb().replace(b'"count": 12', b'"count": 90'), "a.glb", "accessor 2 asks for bytes"),
    "glb packed": (glb(extensionsRequired=["KHR_draco_mesh_compression"]), "a.glb", "packed by KHR_draco"),
    "glb json": (glb().replace(b'"asset"', b'"asset ', 1), "a.glb", "cannot be read"),
    "glb node": (glb(scenes=[{"nodes": [7]}]), "a.glb", "structure is broken"),
    "glb nodes in a ring": (glb(nodes=[{"children": [0]}]), "a.glb", "node 0 hangs in more than one place"),
    "glb nodes too deep": (glb(nodes=[{"children": [k + 1]} for k in range(70)] + [{}]), "a.glb", "64 levels deep"),
    "glb mesh that is not there": (glb(nodes=[{"mesh": -1}]), "a.glb", "points to a part that is not there"),
    "glb without count": (glb().replace(b'"count": 12', b'"cuont": 12'), "a.glb", '"count" is missing'),
    "glb numbers": (glb().replace(b'"componentType": 5123', b'"componentType": 5122'), "a.glb", "no whole numbers"),
    "all too large": (binary_stl(points=1e37 + POINTS), "a.stl", "No vertex .* usable coordinates; .* at 1e.37"),
    "stl text without end": (TEXT.replace("endsolid", "").encode(), "a.stl", "after 4 complete facets without"),
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSED)
def test_refuses_with_what_and_where(kind: str) -> None:
    data, name, message = REFUSED[kind]
    with pytest.raises(ScanError, match=message) as caught:
        read_scan(data, name)
    assert caught.value.hint


def test_every_cut_is_refused_or_complete() -> None:
    """No prefix of a good file may give a mesh with fewer triangles without a word."""
    for data, name in ((STL, "a.stl"), (PLY, "a.ply"), (BIG, "a.ply"), (ply(), "a.ply"), (TEXT.encode(), "a.stl"),
                       (off(), "a.off"), (glb(), "a.glb")):  # fmt: skip
        for length in range(len(data)):
            try:
                scan = read_scan(data[:length], name)
            except ScanError:
                continue
            assert len(scan.mesh.faces) == len(FACES), (name, length)


def test_wrong_stl_count_is_mended_when_the_rest_is_triangles() -> None:
    for stated in (0, 3, 0xFFFFFFFF):
        scan = read_scan(STL[:80] + struct.pack("<I", stated) + STL[84:], "a.stl")
        assert len(scan.mesh.faces) == 4
        assert any(str(stated) in note for note in scan.notes)


def test_bytes_after_the_last_triangle_are_left_out_with_a_note() -> None:
    scan = read_scan(STL + b"\0" * 50, "a.stl")
    assert len(scan.mesh.faces) == 4
    assert any("50 bytes after" in note for note in scan.notes)


def test_text_without_a_last_line_end_says_that_it_may_be_cut() -> None:
    assert not [note for note in read_scan(obj() + b"\n", "a.obj").notes if "last line" in note]
    assert any("cut off" in note for note in read_scan(obj(), "a.obj").notes)


@pytest.mark.parametrize("word", ["nan", "inf", "-nan(ind)", "1.#QNAN"])
def test_numbers_that_are_none_are_counted(word: str) -> None:
    scan = read_scan(obj() + f"\nv {word} 0 0 0 0 0\nf 1 2 5\n".encode(), "a.obj")
    assert scan.real["not_finite"] == 1
    assert any("1 vertex has no usable coordinates" in note for note in scan.notes)


def test_all_vertices_not_finite_is_refused() -> None:
    with pytest.raises(ScanError, match="first of 4 is at nan"):
        read_scan(ply("binary_little_endian", points=np.full((4, 3), np.nan)), "a.ply")


def test_nodes_that_share_their_children_are_refused_at_once() -> None:
    """Forty nodes, each the next one's parent twice, would ask for 2**39 copies of the mesh."""
    nodes = [{"children": [place + 1, place + 1]} for place in range(39)] + [{"mesh": 0}]
    with pytest.raises(ScanError, match="hangs in more than one place"):
        read_scan(glb(nodes=nodes), "a.glb")


def test_every_error_names_the_file() -> None:
    for data, name, _ in REFUSED.values():
        with pytest.raises(ScanError) as caught:
            read_scan(data, name)
        assert f'"{name}"' in caught.value.message


def test_a_byte_order_mark_before_ply_is_passed_over() -> None:
    assert len(read_scan(b"\xef\xbb\xbf" + ply(), "a.ply").mesh.faces) == 4


def test_a_coordinate_no_length_can_have_counts_as_none() -> None:
    scan = read_scan(obj().replace(b"v 1 0 0", b"v 1e300 0 0") + b"\n", "a.obj")
    assert scan.real["not_finite"] == 1
    assert scan.notes[1] == "1 vertex has no usable coordinates (the first: vertex 1, counted from 0, at 1e+300, 0, 0)."


def test_rounding_of_32_bit_coordinates_far_from_the_origin_is_told_and_refused() -> None:
    """A 32-bit number has 24 binary digits (IEEE 754): steps of 1/16 at 1e6, of 8 at 1e8."""
    told = read_scan(binary_stl(points=100 * POINTS + [1e6, 1e6, 0]), "a.stl").notes
    assert "up to 1e+06 for a scan 300 long" in told[0] and "steps of 0.062" in told[0]
    with pytest.raises(ScanError, match="steps of 8: its shape is lost"):
        read_scan(binary_stl(points=100 * POINTS + [1e8, 0, 0]), "a.stl")
    assert not read_scan(binary_stl(points=100 * POINTS + [1e3, 0, 0]), "a.stl").notes


def test_a_text_ply_cut_within_its_last_number_is_told() -> None:
    assert "no line end" in read_scan(ply()[:-2], "a.ply").notes[0]
    assert not read_scan(ply("binary_little_endian"), "a.ply").notes
