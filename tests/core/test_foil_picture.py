"""Pictures of pressed foils: how large they are, what they show, what is wrong with them; laid on a known imprint."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tests.support.foils import (
    DARKEST,
    PAPER,
    Imprint,
    TrueFoil,
    foil_over,
    heaped_imprint,
    photographed,
    picture_file,
    scanned_sheet,
)

from padwright.cli import main as cli
from padwright.core.base.errors import InputError, PadwrightError, ScanError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.notes import Weight, weight_of
from padwright.core.base.progress import drain
from padwright.core.job.mat_table import Mat, MatPlace
from padwright.core.job.read import parse_job
from padwright.core.stages.alignment.placed_scans import PlacedScans
from padwright.core.stages.mats.evidence import mat_evidence
from padwright.core.stages.mats.laid_mat import LaidMat
from padwright.core.stages.mats.mat_file import read_mat
from padwright.core.stages.mats.mat_reading import MatReading
from padwright.core.stages.mats.sheet import mapped, to_pixels
from padwright.core.stages.mats.work import lay_mat
from padwright.core.stages.reading.work import ReadBodySide
from padwright.core.stages.stage import Given
from padwright.core.stages.zones.pressure_grid import Ends, mat_weights

A4 = (210.0, 297.0)
CORNERS = np.array([[300.0, 200.0], [1250.0, 260.0], [1400.0, 1750.0], [180.0, 1690.0]])
JOB = (
    'schema = 1\n[part]\nname = "A"\nnumber = "A-1"\nfamily = "seat_pad"\n[base]\nscan = "a.ply"\nunit = "mm"\n'
    '[impression]\nscan = "b.ply"\nunit = "mm"\n'
)


def bones(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return two heaps 110 mm apart, the one to the right lighter, 0 to 1."""
    heaps = ((50.0, 150.0, 1.0), (160.0, 145.0, 0.8))
    return sum(top * np.exp(-((x - right) ** 2 + (y - down) ** 2) / 1000.0) for right, down, top in heaps)


def sheet(dpi: float = 100.0, **how: Any) -> np.ndarray:
    return scanned_sheet(bones, A4, dpi, **how)


def read(data: bytes, name: str = "foil.png", **asked: Any) -> MatReading:
    return read_mat(data, name, Mat(file=name, **asked))


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF"])
def test_a_scanned_foil_tells_how_much_darker_than_its_paper_each_place_is(kind: str) -> None:
    mat = read(picture_file(sheet(), kind, dpi=(100, 100)))
    assert mat.foil is not None and mat.notes == () and not mat.is_kpa and mat.saturated == ()
    assert np.array(mat.pitch_mm) * mat.shape == pytest.approx(A4[::-1], abs=2 * 2.5)  # what is left of a cell goes
    assert mat.foil.paper == pytest.approx(PAPER, abs=0.5)
    assert mat.peak == pytest.approx(PAPER - DARKEST, abs=1.5)  # grain of the mean of 100 pixels and more
    row, column = np.mgrid[0 : mat.shape[0], 0 : mat.shape[1]]
    right, down = np.array([mat.foil.pixel_of(each) for each in zip(row.ravel(), column.ravel(), strict=True)]).T
    true = (PAPER - DARKEST) * bones((right + 0.5) * 0.254, (down + 0.5) * 0.254)
    off = mat.pressure.ravel() - true
    # Light is averaged, not lightness, so steep flanks seem a little lighter; what is under the paper's noise is 0.
    assert np.abs(off).max() < 4.0 and np.sqrt(np.mean(off**2)) < 0.8
    assert mat.foil.cell_of(mat.foil.pixel_of((7.0, 9.0))) == pytest.approx((7.0, 9.0))


def test_light_that_bears_and_what_is_transparent_and_pictures_in_a_text_are_read_too() -> None:
    plain = read(picture_file(sheet(), dpi=(100, 100)))
    negative = read(picture_file(255 - sheet(), dpi=(100, 100)), dark_bears=False)
    assert np.corrcoef(plain.pressure.ravel(), negative.pressure.ravel())[0, 1] > 0.97
    clear = Image.fromarray(np.dstack([np.zeros_like(sheet())] * 3 + [255 - sheet()]))
    seen = read(picture_file(np.asarray(clear), dpi=(100, 100)))  # black ink, more or less of it
    assert np.allclose(seen.pressure, plain.pressure, atol=1.0)
    text = read(picture_file(sheet(), dpi=(100, 100)), "foil.txt")
    assert np.array_equal(text.pressure, plain.pressure)
    assert '"foil.txt" is a picture, whatever its name ends in' in text.notes[0]
    kpa = read(picture_file(sheet(), dpi=(100, 100)), kpa_per_unit=0.5)
    assert kpa.is_kpa and np.allclose(kpa.pressure, 0.5 * plain.pressure)


@pytest.mark.parametrize(
    ("stated", "camera", "asked", "pixel_mm", "said"),
    [
        ((300, 300), False, {}, 25.4 / 300, ""),
        ((300, 300), False, {"dpi": 200.0}, 25.4 / 200, ""),
        (None, False, {}, None, "its file states no resolution"),
        ((72, 72), False, {}, None, "states 72 pixels in an inch, which programs write that know of none"),
        ((96, 96), False, {}, None, "states 96 pixels in an inch"),
        ((300, 300), True, {}, None, "but a camera took it"),
        ((72, 72), False, {"dpi": 72.0}, 25.4 / 72, ""),
    ],
)
def test_a_resolution_is_believed_where_a_scanner_states_it(stated, camera, asked, pixel_mm, said) -> None:
    options: dict[str, Any] = {} if stated is None else {"dpi": stated}
    if camera:
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0x829A] = 0.01
        options["exif"] = exif
    mat = read(picture_file(sheet(), "JPEG", **options), **asked)
    assert mat.foil is not None
    found = None if mat.foil.scale.mm is None else mat.foil.scale.mm[0]
    assert found == (None if pixel_mm is None else pytest.approx(pixel_mm, rel=1e-4))
    assert any(said in note and "sheet_mm" in note for note in mat.notes) == bool(said)


def test_a_photo_is_turned_as_the_camera_was_held() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # held a quarter round
    held = picture_file(np.rot90(sheet()), "JPEG", exif=exif, dpi=(100, 100), quality=95)
    mat, plain = read(held), read(picture_file(sheet(), "JPEG", dpi=(100, 100), quality=95))
    assert mat.shape == plain.shape and np.abs(mat.pressure - plain.pressure).max() < 2.0


def test_a_sheet_on_a_table_is_laid_out_straight_by_its_four_corners() -> None:
    photo = photographed(sheet(200.0), CORNERS, (2000, 1600))
    mat = read(picture_file(photo, "JPEG", quality=90), "photo.jpg", sheet_mm=A4)
    true = to_pixels(CORNERS, A4)
    places = np.array([[20.0, 20.0], [190.0, 20.0], [50.0, 150.0], [190.0, 280.0], [20.0, 280.0]])
    assert mat.foil is not None and mat.pitch_mm is not None
    for place, pixel in zip(places, mapped(true, places), strict=True):
        row, column = mat.foil.cell_of((pixel[0], pixel[1]))
        found = (column + 0.5) * mat.pitch_mm[1], (row + 0.5) * mat.pitch_mm[0]
        assert found == pytest.approx(place, abs=0.5)  # half a pixel of those in which corners are looked for
    top = np.unravel_index(int(np.argmax(mat.pressure)), mat.shape)
    assert np.array(top) * mat.pitch_mm == pytest.approx([150.0, 50.0], abs=6.0)
    by_hand = read(picture_file(photo), "p.png", sheet_mm=A4, sheet_corners=tuple(CORNERS.ravel()))
    assert np.abs(by_hand.pressure - mat.pressure).mean() < 0.5
    around = read(picture_file(photo), "p.png", sheet_mm=A4, sheet_corners=tuple(CORNERS[[0, 3, 2, 1]].ravel()))
    assert np.array_equal(around.pressure, by_hand.pressure)  # the other way around mirrors nothing
    on_side = read(picture_file(np.rot90(photo)), "p.png", sheet_mm=A4)
    assert on_side.shape == mat.shape and sorted(on_side.pressure.ravel())[-20:] == pytest.approx(
        sorted(mat.pressure.ravel())[-20:], abs=1.5
    )


def test_a_slant_a_lid_and_a_border_are_told() -> None:
    photo = read(picture_file(photographed(sheet(200.0), CORNERS, (2000, 1600))), dpi=200.0)
    slant = next(note for note in photo.notes if "a photo at a slant" in note)
    assert weight_of(slant) is Weight.ACT and "differ by 24." in slant  # 950 and 1221 pixels, 1491 and 1495
    for down, right in ((50, 60), (0, 0)):  # amid the lid; in the scanner's corner
        lid = np.full((1400, 1400), 252, dtype=np.uint8)
        lid[down : down + 1169, right : right + 827] = sheet(paper=90.0)
        found = read(picture_file(lid, dpi=(100, 100)))
        share = next(int(note.split()[5]) for note in found.notes if "A sheet was found on" in note)
        assert share == pytest.approx(100 * 1169 * 827 / 1400**2, abs=2)  # a cell less all around
        assert found.foil is not None and found.foil.paper == pytest.approx(90.0, abs=0.5)
        assert not found.is_sensor[-1, -1] and found.pressure[~found.is_sensor].max() == 0.0
    table = np.random.default_rng(0).integers(20, 140, (1300, 900)).astype(np.uint8)  # no one thing
    table[60:1229, 30:857] = sheet()
    grainy = read(picture_file(table, dpi=(100, 100)))
    border = next(note for note in grainy.notes if "so it seems to bear there" in note)
    assert weight_of(border) is Weight.ACT and "100 % of the picture's rim" in border
    with pytest.raises(InputError, match="no sheet with four corners") as raised:
        read(picture_file(table), sheet_mm=A4)
    assert raised.value.within == ("sheet_mm",) and "sheet_corners" in raised.value.hint
    for wrong in ((0, 0, 10, 10, 20, 20, 5, 90), (0, 0, 500, 900, 500, 0, 0, 900)):
        with pytest.raises(InputError, match="no four corners one after the other"):
            read(picture_file(table), sheet_mm=A4, sheet_corners=tuple(map(float, wrong)))


@pytest.mark.parametrize(
    ("changed", "said", "weight"),
    [
        (lambda pixels: np.maximum(pixels, 130), "is as dark as the darkest", Weight.ACT),
        (lambda pixels: np.minimum(pixels * 1.2, 255).astype(np.uint8), "of the picture is pure white", Weight.LOOK),
        (lambda pixels: (pixels * 0.5).astype(np.uint8), "The bare paper has a lightness of 50 of 100", Weight.LOOK),
        (lambda pixels: (pixels * np.linspace(0.8, 1.0, pixels.shape[1])).astype(np.uint8), "four corners differ by 1",
         Weight.LOOK),
    ],
    ids=["at its end", "too light", "too dark", "light from one side"],
)  # fmt: skip
def test_a_poor_picture_is_told_with_a_number(changed: Any, said: str, weight: Weight) -> None:
    assert not any(said in note for note in read(picture_file(sheet(), dpi=(100, 100))).notes)
    mat = read(picture_file(changed(sheet()), dpi=(100, 100)))
    assert [weight_of(note) for note in mat.notes if said in note] == [weight]
    assert bool(mat.saturated) == ("darkest" in said)


def test_what_is_no_foil_is_refused_with_what_to_do() -> None:
    blank = picture_file(sheet(darkest=90.0), dpi=(100, 100))
    with pytest.raises(InputError, match=r"differs by [45]\.\d of 100 in lightness; the least that is read is 8"):
        read(blank)
    with pytest.raises(InputError, match='unit = "kPa" was given') as raised:
        read(picture_file(sheet()), unit="kPa")
    assert raised.value.within == ("unit",)
    with pytest.raises(ScanError, match="HEIC or AVIF, as phones save photos") as phone:
        read(b"\x00\x00\x00\x18ftypheic" + bytes(100), "IMG_1.heic")
    assert "Save it as PNG, JPEG or TIFF" in phone.value.hint
    with pytest.raises(ScanError, match="damaged or cut off"):
        read(picture_file(sheet())[:4000])
    idle = read(picture_file(sheet(), dpi=(100, 100)), pitch_mm=(10.0,), zero=3.0)
    assert "Of a picture zero, pitch_mm change nothing." in idle.notes
    table = read_mat(b"1,2,3\n2,3,4\n1,2,1\n", "m.csv", Mat(file="m.csv", unit="kPa", dpi=100.0))
    assert any("dpi: of pictures alone" in note for note in table.notes)


def lay(folder: Path, imprint: Imprint, true: TrueFoil, dpi: float | None = 100.0, **asked: Any) -> LaidMat:
    (folder / "foil.png").write_bytes(picture_file(true.pixels, **({} if dpi is None else {"dpi": (dpi, dpi)})))
    corner = np.arange(len(imprint.vertices) - 2)
    mesh = TriMesh(imprint.vertices, np.stack([corner, corner + 1, corner + 2], axis=1))
    scan: Any = SimpleNamespace(mesh=mesh, mm_per_number=1.0)
    placed = PlacedScans(scan, scan, np.eye(4), SimpleNamespace(matrix=np.eye(4)), mesh)  # type: ignore[arg-type]
    job = replace(parse_job(JOB.encode(), "job.toml", None), mat=Mat(file="foil.png", **asked))
    given = Given(["mat"], job, {"alignment": placed, "reading": ReadBodySide(imprint.reading, mesh)}, folder)
    result = drain(lay_mat(given))
    told = mat_evidence(SimpleNamespace(find=lambda _: result, of=lambda _: given.of(ReadBodySide)))["mat"]  # type: ignore[arg-type]
    assert told["picture"]["size_from"] == result.laid.mat.foil.scale.basis and told["sum_n"] is None  # type: ignore[union-attr]
    return result.laid


def off_mm(laid: LaidMat, true: TrueFoil) -> float:
    """Return how far the farthest of the picture's corners lies from where it truly lay, mm."""
    high, wide = true.pixels.shape
    corners = np.array([[0.0, 0.0], [wide, 0.0], [0.0, high], [wide, high]])
    assert laid.mat.foil is not None
    cells = np.array([laid.mat.foil.cell_of((right, down)) for right, down in corners])
    return float(np.linalg.norm(laid.cells.flat_of(cells) - true.places.flat_of(corners[:, ::-1]), axis=1).max())


@pytest.mark.parametrize(("turn", "flipped"), [(0.0, False), (70.0, True), (200.0, False)])
def test_a_foil_is_laid_by_its_outline_turned_and_mirrored_as_it_is(turn: float, flipped: bool, tmp_path: Path) -> None:
    imprint = heaped_imprint(1)
    true = foil_over(imprint, turn_deg=turn, moved_mm=(8.0, -12.0), flipped=flipped)
    laid = lay(tmp_path, imprint, true)
    # Its darkness is no depth: a degree and 2 mm, at a corner 180 mm away.
    assert laid.cells.is_flipped == flipped and off_mm(laid, true) < 6.0 and laid.agreement > 0.95
    assert any("no sum was checked against the load" in note for note in laid.notes)
    assert any("shows the mat from below" in note for note in laid.notes) == flipped


def test_a_foil_of_unknown_size_is_laid_by_its_load_centers(tmp_path: Path) -> None:
    imprint = heaped_imprint(2)
    true = foil_over(imprint, turn_deg=40.0)
    laid = lay(tmp_path, imprint, true, dpi=None, flipped=False)
    assert laid.laid == "load_centers" and off_mm(laid, true) < 25.0
    note = next(each for each in laid.notes if "was taken from that of the load centers" in each)
    assert 93 <= int(note.split("(")[1].split()[0]) <= 107  # pixels in an inch; truly 100
    with pytest.raises(InputError, match="its size must be known, and its file states no resolution") as raised:
        lay(tmp_path, imprint, true, dpi=None, laid="outline")
    assert raised.value.key == ("mat", "file")


def test_places_of_a_foil_are_pixels_or_millimeters(tmp_path: Path) -> None:
    imprint = heaped_imprint(3)
    true = foil_over(imprint, turn_deg=300.0, moved_mm=(-20.0, 5.0))
    pixels = np.array([[60.0, 90.0], [700.0, 1050.0], [640.0, 100.0]])
    points = true.places.flat_of(pixels[:, ::-1]) @ imprint.plan.plane
    by_pixel = [MatPlace(pixel=(a, b), point=tuple(p)) for (a, b), p in zip(pixels, points, strict=True)]  # type: ignore[arg-type]
    by_ruler = [
        MatPlace(at_mm=((b + 0.5) * 0.254, (a + 0.5) * 0.254), point=tuple(p))  # type: ignore[arg-type]
        for (a, b), p in zip(pixels, points, strict=True)
    ]
    for places in (by_pixel[:2], by_pixel, by_ruler[:2]):
        assert off_mm(lay(tmp_path, imprint, true, places=tuple(places)), true) < 1e-3
    assert off_mm(lay(tmp_path, imprint, true, dpi=None, places=tuple(by_pixel[:2])), true) < 1e-3
    wrong = lay(tmp_path, imprint, true, dpi=120.0, places=tuple(by_pixel[:2]))
    assert any("By its places the picture is 120 % as large as its resolution" in note for note in wrong.notes)
    for place, said in (
        (MatPlace(pixel=(900.0, 5.0), point=(0.0, 0.0, 0.0)), "beyond the picture of 827 x 1169 pixels"),
        (MatPlace(cell=(300.0, 5.0), point=(0.0, 0.0, 0.0)), r"cell \[300, 5\], but its rows go from 0 to 115"),
    ):
        with pytest.raises(InputError, match=said):
            lay(tmp_path, imprint, true, places=(by_pixel[0], place))


def test_a_zone_takes_what_is_dark_enough(tmp_path: Path) -> None:
    imprint = heaped_imprint(4)
    true = foil_over(imprint, turn_deg=10.0)
    laid = lay(tmp_path, imprint, true)
    pad: Any = SimpleNamespace(mesh=SimpleNamespace(vertices=imprint.vertices), side=np.ones(len(imprint.vertices)))
    _, found = mat_weights(laid, pad, Ends(None, None, 50.0, None))
    wanted = true.share(imprint.vertices @ imprint.plan.plane.T) >= 0.5
    # A border 2 mm off, all around two spots of some 20 mm radius.
    assert found.sum() == pytest.approx(wanted.sum(), rel=0.2)
    assert (found.astype(bool) & wanted).sum() > 0.8 * wanted.sum()
    with pytest.raises(InputError, match="asks for kPa, and the mat's numbers are raw"):
        mat_weights(laid, pad, Ends(5.0, None, None, None))


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('[mat]\nfile = "m"\ndpi = 100\nsheet_mm = [210, 297]\n', "leave out dpi or sheet_mm"),
        ('[mat]\nfile = "m"\nsheet_corners = [0, 0, 9, 0, 9, 9, 0, 9]\n', "give sheet_mm"),
        ('[mat]\nfile = "m"\n[[mat.places]]\ncell = [0, 0]\npixel = [0, 0]\npoint = [0, 0, 0]\n', "one of cell, at_mm"),
    ],
)
def test_keys_of_a_picture_that_do_not_go_together_are_refused(table: str, said: str) -> None:
    with pytest.raises(PadwrightError) as raised:
        parse_job((JOB + table).encode(), "job.toml", None)
    assert said in raised.value.message


def test_mat_says_of_a_picture_what_it_is_and_what_to_write(tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "foil.png").write_bytes(picture_file(sheet(), dpi=(100, 100)))
    picture = tmp_path / "read.png"
    assert cli.main(["mat", str(tmp_path / "foil.png"), "--picture", str(picture), "--load-n", "400"]) == 0
    said = capsys.readouterr().out
    assert "a picture of 827 x 1169 pixels, 100 in an inch" in said and "size: its file states it; 210 x 297 mm" in said
    assert "no sum can be checked against a load" in said and "# pixel = [0, 0]" in said and "unit = " not in said
    assert picture.read_bytes().startswith(b"\x89PNG")
    (tmp_path / "photo.jpg").write_bytes(picture_file(photographed(sheet(), CORNERS, (2000, 1600)), "JPEG"))
    assert cli.main(["mat", str(tmp_path / "photo.jpg")]) == 0
    assert "dpi = ? " in capsys.readouterr().out
    assert cli.main(["mat", str(tmp_path / "photo.jpg"), "--sheet-mm", "210", "297"]) == 0
    assert "sheet_mm = [210, 297]" in capsys.readouterr().out
    for wrong in (["--dpi", "5"], ["--sheet-mm", "1", "2"], ["--sheet-corners", *"01234567"]):
        assert cli.main(["mat", str(tmp_path / "photo.jpg"), *wrong]) != 0
        assert capsys.readouterr().err.startswith("error: --")
