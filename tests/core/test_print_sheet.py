"""The print sheet: what it tells is what the settings document has, and its pictures show what the plan counts."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from io import BytesIO

import manifold3d
import numpy as np
import pytest
from PIL import Image
from tests.support.flat_pads import flat_tables

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.job.read import job_from_tables
from padwright.core.run.pipeline import run_job
from padwright.core.stages.printing.orientation import needs_support
from padwright.core.stages.report.bed_pictures import BedPicture, from_below
from padwright.core.stages.report.setting_lines import RegionLines, SettingLine
from padwright.core.stages.report.sheet import MOST_ON_FIRST, MOST_ON_NEXT, SheetParts, SheetRegion, print_sheet

VOID = {"meta", "img", "br", "image", "path", "circle"}


class Page(HTMLParser):
    """Reads a page and holds that every element is closed in its order, ids are unique and nothing lies outside."""

    def __init__(self, data: bytes) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.words: list[str] = []
        self.rows: list[list[str]] = []
        self.links: list[str] = []
        self.feed(data.decode("utf-8"))
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.links += [value for name, value in attrs if name in ("href", "src")]
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)
        if self.rows and {"td", "th"} & set(self.open):
            self.rows[-1][-1] += data

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def tables(folder, **more):
    part = {"name": "Flat <pad> & more", "number": "FLAT-1", "family": "seat_pad", "revision": "2"}
    square = [[10.0, 10.0, 0.0], [40.0, 10.0, 0.0], [40.0, 40.0, 0.0], [10.0, 40.0, 0.0]]
    zones = [
        {"name": "in <side>", "level": 4, "source": "outline", "points": square, "points_on": "base"},
        {"name": "rest", "level": 2, "source": "rest"},
    ]
    return {**flat_tables(folder, (80.0, 60.0, 10.0), (0.0, 0.0, 0.0), part=part, output={}), "zones": zones, **more}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheet")
    (folder / "my.toml").write_text('program = "mine"\n[solid_share_pct]\nname = "How full"\n')
    job = job_from_tables(tables(folder, output={"settings_map": "my.toml"}), folder=folder)
    return folder, job, drain(run_job(job, folder))


def test_the_sheet_tells_what_the_settings_document_has(made):
    _, _, result = made
    page = Page(result.files["FLAT-1.sheet.html"])
    document = json.loads(result.files["FLAT-1.settings.json"])
    assert "Flat <pad> & more" in page.text and "FLAT-1, revision 2" in page.text
    head = page.rows[0]
    share = head.index("How full, %")
    assert [row[1] for row in page.rows[1:]] == [region["name"] for region in document["regions"]]
    for row, region in zip(page.rows[1:], document["regions"], strict=True):
        assert float(row[share]) == pytest.approx(region["settings"]["solid_share_pct"], rel=1e-3)  # four figures
        assert row[-1] == ""  # room to note what was really set
    speed = document["regions"][0]["settings"]["max_speed_mm_s"]
    assert f"speed, at most {speed:g} mm/s" in page.text
    assert "Set in mine for the whole part" in page.text
    assert document["print"]["orientation"] in page.text
    low, high = (document["predicted"]["mass_g"][end] for end in ("low", "high"))
    assert f"{low:.0f} to {high:.0f} expected" in page.text
    assert all(link.startswith("data:image/png;base64,") for link in page.links) and len(page.links) == 2


def test_the_words_map_is_told_as_one_of_the_files_it_was_made_from(made):
    _, _, result = made
    inputs = json.loads(result.files["FLAT-1.settings.json"])["provenance"]["inputs"]
    assert [each["file"] for each in inputs if each["role"] == "settings_map"] == ["my.toml"]


def test_the_same_run_writes_the_same_sheet(made, monkeypatch):
    folder, job, _ = made
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    first, second = (drain(run_job(job, folder)).files["FLAT-1.sheet.html"] for _ in range(2))
    assert first == second


def test_a_selection_has_a_sheet_of_its_own(made):
    folder, job, _ = made
    files = drain(run_job(job, folder, ["rest"])).files
    page = Page(files["FLAT-1.selection.sheet.html"])
    assert "FLAT-1.selection" in page.text and "in <side>" not in page.text


def test_the_sheet_can_be_switched_off(tmp_path):
    job = job_from_tables(tables(tmp_path, output={"sheet": False}), folder=tmp_path)
    assert not [name for name in drain(run_job(job, tmp_path)).files if name.endswith(".sheet.html")]


def test_a_wrong_words_map_stops_a_run_before_its_work(tmp_path):
    (tmp_path / "my.toml").write_text("[solid_share_pct]\nunit = 'percent'\n")
    job = job_from_tables(tables(tmp_path, output={"settings_map": "my.toml"}), folder=tmp_path)
    with pytest.raises(InputError, match=r"my\.toml:2: solid_share_pct\.unit"):
        next(run_job(job, tmp_path))


def test_files_enlarged_for_shrinkage_and_the_flow_to_set_are_told(tmp_path):
    """A layer is a layer: of a part that is made 10 % taller each region has 10 % more of them."""
    plain = job_from_tables(tables(tmp_path), folder=tmp_path)
    changed = tables(tmp_path, printer={"shrinkage_pct": [0.0, 0.0, 100.0 / 11.0], "flow_pct": 98.0})
    pages = [
        Page(drain(run_job(job, tmp_path)).files["FLAT-1.sheet.html"])
        for job in (plain, job_from_tables(changed, folder=tmp_path))
    ]
    last = [int(page.rows[-1][page.rows[0].index("layers")].split(" to ")[1]) for page in pages]
    assert last[1] == pytest.approx(1.1 * last[0], abs=1)
    assert "enlarged for shrinkage: x +0.00 %, y +0.00 %, z +10.00 %" in pages[1].text
    assert "flow 98 % of what it is now" in pages[1].text
    assert "enlarged" not in pages[0].text and "% of what it is now" not in pages[0].text


def parts(count: int, watch: tuple[str, ...] = ()) -> SheetParts:
    picture = BedPicture(b"", 100, 100, 2.0, ((0, 50.0, 50.0),))
    regions = tuple(
        SheetRegion(
            RegionLines(str(at), f"zone {at}", (SettingLine("solid_share_pct", "fill share", f"{at}", "%"),)),
            "#112233", "1 to 9", "5",
        )
        for at in range(count)
    )  # fmt: skip
    return SheetParts("Pad", "P-1", "1", "now", "", (), regions, (), watch, "5", "2", picture, picture)


@pytest.mark.parametrize("count", [MOST_ON_FIRST, MOST_ON_FIRST + 1, MOST_ON_FIRST + MOST_ON_NEXT, 100])
def test_more_regions_than_a_page_holds_are_continued_and_it_says_so(count):
    page = Page(print_sheet(parts(count)))
    numbers = [row[0] for row in page.rows if row[0] != "no."]
    assert numbers == [str(at + 1) for at in range(count)]
    over = max(0, count - MOST_ON_FIRST)
    pages = 1 + -(-over // MOST_ON_NEXT)
    assert page.text.count("P-1, revision 1") == pages
    assert page.text.count("on the next page.") == pages - 1
    if over:
        assert f"Continued: regions {MOST_ON_FIRST + 1} to {count} on the next page." in page.text
        assert f"page {pages} of {pages}" in page.text


def test_what_there_is_no_room_for_is_counted():
    page = Page(print_sheet(parts(8, tuple(f"{at} {'word ' * 40}".strip() for at in range(7)))))
    shown = len(re.findall(r"\d (?:word ){39}word", page.text))
    assert 0 < shown < 7 and f"{7 - shown} more to look at" in page.text
    long = Page(print_sheet(parts(8, ("word " * 300,))))
    assert "word ... (goes on)" in long.text


def block(low: float) -> TriMesh:
    """A table on four feet: 40 x 40 mm, its plate `low` mm over the bed, one foot of 20 x 20 mm in the corner."""
    plate = manifold3d.Manifold.cube((40.0, 40.0, 5.0)).translate((0.0, 0.0, low))
    foot = manifold3d.Manifold.cube((20.0, 20.0, low + 1.0))
    mesh = (plate + foot).to_mesh()
    return TriMesh(
        np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3], np.asarray(mesh.tri_verts, dtype=np.int32)
    )


def test_the_picture_from_below_shows_what_the_plan_counts():
    table = block(8.0)
    supported, lies = needs_support(table, np.array([0.0, 0.0, 1.0]))
    assert table.face_areas[supported].sum() == pytest.approx(1200.0)
    assert table.face_areas[lies].sum() == pytest.approx(400.0)
    picture = from_below(table, np.eye(4))
    pixels = np.asarray(Image.open(BytesIO(picture.png)).convert("RGB")).astype(int)
    is_orange = pixels[:, :, 0] > pixels[:, :, 2] + 30
    is_dark = (np.ptp(pixels, axis=2) < 30) & (pixels.max(axis=2) < 160) & (pixels.max(axis=2) > 40)
    area = picture.pixels_per_mm**2
    # Outlines and the hatching's dark lines are neither: up to a third of what is hatched.
    assert 0.6 * 1200 < is_orange.sum() / area < 1200.0
    assert 0.8 * 400 < is_dark.sum() / area < 1.2 * 400 + 0.1 * 1200
    row, column = np.nonzero(is_dark)
    # Seen from below with the front at the bottom, the bed's left front corner is at the lower right.
    assert row.mean() > pixels.shape[0] / 2 and column.mean() > pixels.shape[1] / 2
