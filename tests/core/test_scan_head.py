"""What a scan's head says agrees with what the reader finds, and refuses nothing that the reader takes."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest

from padwright.core.base.errors import InputError, ScanError
from padwright.core.stages.scans.file_head import HEAD_BYTES, ScanHead, read_scan_head
from padwright.core.stages.scans.read import read_scan
from support.hostile import changed
from support.scan_files import binary_stl, glb, obj, off, ply, text_stl

GOOD = {
    "stl binary": (binary_stl(), "a.stl"),
    "stl text": (text_stl().encode(), "a.stl"),
    "ply text": (ply(), "a.ply"),
    "ply little": (ply("binary_little_endian"), "a.ply"),
    "ply big": (ply("binary_big_endian"), "a.ply"),
    "obj": (obj(), "a.obj"),
    "off": (off(), "a.off"),
    "glb": (glb(), "a.glb"),
    "glb, two meshes": (glb(nodes=[{"mesh": 0}, {"mesh": 0}], scenes=[{"nodes": [0, 1]}]), "a.glb"),
    "glb, no nodes": (glb(nodes=[], scenes=[]), "a.glb"),
}


@pytest.fixture
def head(tmp_path: Path):
    def head_of(data: bytes, name: str) -> ScanHead:
        (tmp_path / name).write_bytes(data)
        return read_scan_head(tmp_path / name, name, "base scan")

    return head_of


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("kind", GOOD)
def test_a_head_says_what_the_reader_finds(kind: str, mark: bytes, head) -> None:
    data, name = GOOD[kind]
    scan, found = read_scan(mark + data, name), head(mark + data, name)
    assert (found.file_format, found.file_unit, found.size_bytes) == (
        scan.file_format,
        scan.file_unit,
        len(mark + data),
    )
    if found.faces is not None:
        assert found.faces == scan.real["faces"]
    if found.vertices is not None:
        assert found.vertices == scan.real["vertices"]
    stated = {"ply": (True, True), "glb": (True, True), "stl binary": (False, True)}
    counts = (found.vertices is not None, found.faces is not None)
    assert counts == stated.get(scan.file_format, (False, False))


@pytest.mark.parametrize("kind", GOOD)
def test_no_cut_that_is_read_is_refused(kind: str, head) -> None:
    """A head sees less than the reader, so it may miss a fault but never find one more."""
    data, name = GOOD[kind]
    for length in range(0, len(data), 3):
        try:
            head(data[:length], name)
        except ScanError:
            with pytest.raises(ScanError):
                read_scan(data[:length], name)


@pytest.mark.parametrize("kind", GOOD)
def test_no_changed_file_that_is_read_is_refused_nor_ends_in_anything_but_a_clear_error(kind: str, head) -> None:
    data, name = GOOD[kind]
    refused = 0
    for seed in range(40):
        file = changed(data, np.random.default_rng(seed))
        try:
            head(file, name)
        except ScanError:
            refused += 1
            with pytest.raises(ScanError):
                read_scan(file, name)
    assert refused > 0


@pytest.mark.parametrize(
    ("data", "name", "says"),
    [
        (binary_stl()[:-30], "a.stl", "states 4 triangles but ends within triangle 4"),
        (ply("binary_little_endian")[:-80], "a.ply", "ends at byte .*take .* bytes or more"),
        (ply(faces=[]), "a.ply", "4 points and no faces"),
        (glb()[:-1], "a.glb", "ends at byte"),
        (glb(extensionsRequired=["KHR_draco_mesh_compression"]), "a.glb", "packed by"),
        (glb(scenes=[{"nodes": [7]}]), "a.glb", "structure is broken"),
        (glb(nodes=[{}]), "a.glb", "shows no triangles"),
        (b"PK\x03\x04" + bytes(2 * HEAD_BYTES), "a.stl", "zip archive"),
        (b"", "a.stl", "is empty"),
        (b"Dear reader, the scan follows by post.", "a.obj", "not a mesh"),
    ],
)
def test_what_a_head_shows_to_be_broken_is_refused(data: bytes, name: str, says: str, head) -> None:
    with pytest.raises(ScanError, match=says) as caught:
        head(data, name)
    assert caught.value.hint and f'"{name}"' in caught.value.message


def test_a_head_that_does_not_tell_is_no_fault(head) -> None:
    """More comments than are looked at before the first vertex; more zeros than that before whatever follows."""
    talk = b"# a long story\n" * (HEAD_BYTES // 15 + 1)
    assert head(talk + obj(), "a.obj").file_format == ""
    assert read_scan(talk + obj(), "a.obj").file_format == "obj"
    assert head(bytes(HEAD_BYTES + 1), "a.stl").file_format == ""


def test_a_scene_description_past_the_head_is_not_counted(head) -> None:
    found = head(glb(extras="x" * HEAD_BYTES), "a.glb")
    assert (found.file_format, found.vertices, found.faces) == ("glb", None, None)


def test_a_large_scan_is_not_read(tmp_path: Path, monkeypatch) -> None:
    """A binary STL of 200 MB with a hole for its triangles: no more than the head is asked for."""
    path, count = tmp_path / "large.stl", 4_000_000
    with path.open("wb") as file:
        file.write(b"scan".ljust(80) + struct.pack("<I", count))
        file.truncate(84 + 50 * count)
    taken: list[int] = []

    class Counted(io.FileIO):
        def read(self, size: int = -1) -> bytes:
            taken.append(size)
            return super().read(size)

    monkeypatch.setattr(Path, "open", lambda self, mode: Counted(self, mode))
    found = read_scan_head(path, path.name, "base scan")
    assert (found.faces, found.size_bytes) == (count, 84 + 50 * count)
    assert taken == [HEAD_BYTES]


def test_what_is_no_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder"):
        read_scan_head(tmp_path, "a.stl", "base scan")
    with pytest.raises(InputError, match="cannot be read"):
        read_scan_head(tmp_path / "none.stl", "none.stl", "base scan")
