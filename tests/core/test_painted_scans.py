"""A scan's colors: from pictures and from vertices, at any place of its surface; what cannot be read is told."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from padwright.core.base.errors import InputError, ScanError
from padwright.core.stages.scans.formats.painted import Beside
from padwright.core.stages.scans.painted_read import companion_files, folder_beside, read_painted, refuse_colorless
from padwright.core.stages.scans.pictures import read_picture
from padwright.core.stages.scans.surface_colors import SurfaceColors
from support import scan_files
from support.painted import Textured, glb_file, obj_files, ply_files, textured
from support.scanned import grid


def slopes(places: np.ndarray) -> np.ndarray:
    """Return a color that tells the place: red along x, green along y, blue by height."""
    return np.stack([places[:, 0] + 60, places[:, 1] + 60, 2 * places[:, 2] + 60], axis=1) * 2.0


@pytest.fixture(scope="module")
def scan() -> Textured:
    steps = np.linspace(-40, 40, 9)
    return textured(grid(steps, steps * 0.5, lambda x, y: 0.01 * x * y), slopes, texels=24)


def by_name(files: dict[str, bytes]) -> Beside:
    def read(name: str) -> bytes:
        if name not in files:
            raise InputError(f'The file "{name}" cannot be read: No such file or directory.')
        return files[name]

    return read


def written(scan: Textured, kind: str) -> tuple[bytes, str, dict[str, bytes]]:
    if kind == "glb":
        return glb_file(scan), "clay.glb", {}
    files = obj_files(scan) if kind == "obj" else ply_files(scan, form=kind.removeprefix("ply "))
    name = "clay.obj" if kind == "obj" else "clay.ply"
    return files[name], name, files


KINDS = ["obj", "glb", "ply ascii", "ply binary_little_endian"]


@pytest.mark.parametrize("kind", KINDS)
def test_every_place_has_the_color_that_was_painted_there(scan: Textured, kind: str) -> None:
    data, name, files = written(scan, kind)
    painted = read_painted(data, name, by_name(files))
    samples = SurfaceColors(painted.points, painted).samples(0.5)
    assert samples.areas.sum() == pytest.approx(scan.mesh.area, rel=1e-6)
    # A pixel is 10 mm / 23 along each side of its triangle; half a pixel each way, 2 a mm at the most, and rounding.
    assert np.abs(samples.colors - slopes(samples.points)).max() <= 2.0 * 10 / 23 + 0.51


def test_a_picture_on_each_of_two_materials_is_taken_where_it_lies(scan: Textured) -> None:
    files = obj_files(scan)
    half = len(scan.mesh.faces) // 2
    head, faces = files["clay.obj"].split(b"\nf ", 1)
    rows = (b"f " + faces).splitlines()
    files["clay.obj"] = b"\n".join([head, *rows[:half], b"usemtl other", *rows[half:]])
    files["clay.mtl"] += b"newmtl other\nmap_Kd -bm 1.0 -clamp on sub dir\\other skin.png\n"
    files["sub dir/other skin.png"] = Textured(scan.mesh, scan.on_picture, 255 - scan.pixels).picture()
    painted = read_painted(files["clay.obj"], "clay.obj", by_name(files))
    assert [each.name for each in painted.pictures] == ["clay.png", "sub dir/other skin.png"]
    surface = SurfaceColors(painted.points, painted)
    face = np.arange(len(painted.faces))
    third = np.full((len(face), 3), 1 / 3)
    middle = scan.mesh.triangles.mean(axis=1)
    wanted = np.where((face < half)[:, None], slopes(middle), 255 - slopes(middle))
    assert np.abs(surface.at(face, third) - wanted).max() <= 2.0 * 10 / 23 + 0.51
    assert companion_files(files["clay.obj"], "clay.obj", by_name(files)) == (
        "clay.mtl", "clay.png", "sub dir/other skin.png",
    )  # fmt: skip


def test_polygons_negative_numbers_and_faces_without_a_place_are_read() -> None:
    text = (
        "mtllib a.mtl\nusemtl m\nv 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nv 20 0 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\n"
        "f -5/-4 -4/-3 -3/-2 -2/-1\nf 2 5 3\n"
    )
    pixels = np.zeros((2, 2, 3), dtype=np.uint8)
    pixels[0, 0], pixels[0, 1], pixels[1, 0], pixels[1, 1] = (255, 0, 0), (0, 255, 0), (0, 0, 255), (9, 9, 9)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    files = {"a.mtl": b"newmtl m\nmap_Kd C:\\scans\\a.png\n", "a.png": file.getvalue()}
    painted = read_painted(text.encode(), "a.obj", by_name(files))
    samples = SurfaceColors(painted.points, painted).samples(1.0)
    assert samples.points[:, 0].max() < 10  # the face that lies on no picture has no color
    right, up = samples.points[:, 0] > 5, samples.points[:, 1] > 5
    for color, where in (((255, 0, 0), ~right & up), ((0, 255, 0), right & up), ((0, 0, 255), ~right & ~up)):
        assert (samples.colors[where] == color).all() and where.any()


def test_vertex_colors_run_straight_between_the_vertices() -> None:
    painted = read_painted(b"v 0 0 0 0 0 0\nv 10 0 0 200 0 0\nv 0 10 0 0 100 0\nf 1 2 3\n", "a.obj", by_name({}))
    samples = SurfaceColors(painted.points, painted).samples(0.5)
    assert np.abs(samples.colors - samples.points * [20, 10, 0]).max() <= 0.51


def refused(data: bytes, name: str, files: dict[str, bytes]) -> str:
    with pytest.raises(ScanError) as raised:
        painted = read_painted(data, name, by_name(files))
        refuse_colorless(painted, name)
        SurfaceColors(painted.points, painted).samples(5.0)
    assert raised.value.hint
    return str(raised.value)


def test_a_picture_that_is_not_there_is_named_and_colors_of_vertices_stand_in_for_it(scan: Textured) -> None:
    files = obj_files(scan)
    for gone in ("clay.png", "clay.mtl"):
        left = {name: data for name, data in files.items() if name != gone}
        with pytest.raises(ScanError, match=gone):
            read_painted(files["clay.obj"], "clay.obj", by_name(left))
    colored = b"\n".join(
        line + b" 1 0 0" if line.startswith(b"v ") else line for line in files["clay.obj"].splitlines()
    )
    painted = read_painted(colored, "clay.obj", by_name({"clay.mtl": files["clay.mtl"]}))
    assert painted.colors is not None and not painted.has_picture and "clay.png" in painted.notes[0]


def test_a_scan_without_places_on_its_picture_is_told_so(scan: Textured) -> None:
    files = obj_files(scan)
    bare = b"\n".join(
        b" ".join(word.split(b"/")[0] for word in line.split()) if line.startswith(b"f ") else line
        for line in files["clay.obj"].splitlines()
        if not line.startswith(b"vt ")
    )
    assert "no texture points (vt)" in refused(bare, "clay.obj", files)
    mesh = {"primitives": [{"attributes": {"POSITION": 0}, "material": 0}]}
    assert "no face lies on it" in refused(glb_file(scan, meshes=[mesh]), "clay.glb", {})
    ply = ply_files(scan)["clay.ply"].replace(b"texcoord", b"something")
    assert "no texture coordinates" in refused(ply, "clay.ply", ply_files(scan))


def test_a_scan_without_any_colors_is_told_so() -> None:
    assert "no colors" in refused(scan_files.binary_stl(), "a.stl", {})
    assert "no colors" in refused(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "a.obj", {})


def noise() -> bytes:
    file = io.BytesIO()
    Image.fromarray(np.random.default_rng(0).integers(0, 255, (40, 30, 3), dtype=np.uint8)).save(file, "PNG")
    return file.getvalue()


NOISE = noise()
KTX = b"\xabKTX 20\xbb\r\n\x1a\n" + bytes(60)


def test_pictures_packed_for_graphics_cards_are_named(scan: Textured) -> None:
    files = obj_files(scan)
    assert "KTX" in refused(files["clay.obj"], "clay.obj", {**files, "clay.png": KTX})
    textures = [{"extensions": {"KHR_texture_basisu": {"source": 0}}}]
    assert "KHR_texture_basisu" in refused(glb_file(scan, textures=textures), "clay.glb", {})
    packed = refused(glb_file(scan, extensionsRequired=["KHR_draco_mesh_compression"]), "clay.glb", {})
    assert "KHR_draco_mesh_compression" in packed and "without mesh compression" in packed


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b"<!DOCTYPE html>", "text"),
        (b"GIF89a" + bytes(50), "GIF"),
        (b"anything else", "begins with 61 6e 79"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "of no format"),
        (NOISE[: len(NOISE) // 2], "damaged or cut off"),
    ],
)  # fmt: skip
def test_what_is_no_picture_is_told_in_words(data: bytes, said: str) -> None:
    with pytest.raises(ScanError, match=said) as raised:
        read_picture(data, "skin.png")
    assert '"skin.png"' in str(raised.value) and raised.value.hint


def test_gray_palette_and_sixteen_bits_are_made_colors() -> None:
    gray = np.arange(256, dtype=np.uint8).reshape(16, 16)
    for picture in (
        Image.fromarray(gray),
        Image.fromarray(gray).convert("P"),
        Image.fromarray(gray.astype(np.uint16) * 257),
        Image.fromarray(np.repeat(gray[..., None], 4, axis=2)),
    ):
        file = io.BytesIO()
        picture.save(file, "PNG")
        assert (read_picture(file.getvalue(), "a") == gray[..., None]).all()


def test_more_pixels_than_fit_are_refused_before_they_are_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    from padwright.core.stages.scans import pictures

    monkeypatch.setattr(pictures, "_MOST_PIXELS", 100)
    file = io.BytesIO()
    Image.new("RGB", (20, 10)).save(file, "PNG")
    with pytest.raises(ScanError, match="20 x 10 pixels"):
        read_picture(file.getvalue(), "big.png")


def test_files_beside_a_scan_are_found_in_its_own_folder_in_any_case(tmp_path: Path, scan: Textured) -> None:
    folder = tmp_path / "scans"
    folder.mkdir()
    for name, data in obj_files(scan, "clay.jpg").items():
        (folder / name.replace(".jpg", ".JPG")).write_bytes(data)
    data = (folder / "clay.obj").read_bytes()
    assert read_painted(data, "scans/clay.obj", folder_beside(tmp_path, "scans/clay.obj")).has_picture
    (folder / "clay.JPG").unlink()
    with pytest.raises(ScanError, match=r'beside the scan "clay.obj".*clay.jpg" cannot be read'):
        read_painted(data, "scans/clay.obj", folder_beside(tmp_path, "scans/clay.obj"))


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_is_damaged_is_told_in_words(kind: str) -> None:
    """Bytes changed, cut out and put in, in each of a scan's files: read, or refused with what to do."""
    steps = np.arange(0.0, 13.0, 4.0)
    data, name, files = written(textured(grid(steps, steps, lambda x, y: 0 * x), slopes, texels=5), kind)
    rng = np.random.default_rng(KINDS.index(kind))
    told = 0
    for _ in range(60):
        damaged = {**files, name: data}
        chosen = sorted(damaged)[rng.integers(len(damaged))]
        at = int(rng.integers(min(len(damaged[chosen]), 2000)))
        put = [b"", b"-", b"nan", b"1e9", b"null", b"/", b"\xff\xff\xff\xff"][rng.integers(7)]
        damaged[chosen] = damaged[chosen][:at] + put + damaged[chosen][at + int(rng.integers(5)) :]
        try:
            painted = read_painted(damaged[name], name, by_name(damaged))
            if painted.is_colored:
                SurfaceColors(painted.points, painted).samples(5.0)
        except ScanError as error:
            told += bool(error.hint)
    assert told > 5
