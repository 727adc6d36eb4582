"""Pictures of a report: a value has the color that the key gives it, where it is."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from PIL import Image

from padwright.core.base.mesh import TriMesh
from padwright.core.base.ramps import hex_color
from padwright.core.stages.report.field_picture import GROUND, PLAIN, Scale, marked_png, scale_key, value_png
from padwright.core.stages.report.marks import PlaceMark, marked_picture
from padwright.core.stages.report.page import PageHead, Section, report_page, table
from padwright.core.stages.report.plan_view import PlanView, SeenMesh, calmed
from support.html_pages import page_faults

UP = np.array([0.0, 0.0, 1.0])


def sheet(wide: float = 120.0, tall: float = 60.0, step: float = 2.0) -> TriMesh:
    """Return a flat rectangle, longer along x, facing up."""
    x, y = np.meshgrid(np.arange(0.0, wide + step, step), np.arange(0.0, tall + step, step), indexing="ij")
    points = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    number = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (each.ravel() for each in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]))
    return TriMesh(points, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]).astype(np.int32))


@pytest.fixture(scope="module")
def seen() -> SeenMesh:
    mesh = sheet()
    return SeenMesh(PlanView.onto(mesh, UP), mesh)


def pixels(png: bytes):
    return np.asarray(Image.open(io.BytesIO(png)), dtype=float) / 255.0


def at(view, image, place):
    column, row = np.floor(view.on_picture(np.asarray(place, dtype=float)[None])[0]).astype(int)
    return image[row, column]


def hue(color):
    return np.asarray(color) / np.asarray(color).sum()


def test_a_view_keeps_the_longer_side_across_and_a_place_keeps_its_pixel(seen):
    view = seen.view
    ends = view.on_picture(np.array([[0.0, 30.0, 0.0], [120.0, 30.0, 0.0]]))
    assert abs(ends[1, 0] - ends[0, 0]) == pytest.approx(120.0 * view.scale) and ends[0, 1] == pytest.approx(ends[1, 1])
    assert (ends > 0).all() and (ends[:, 0] < view.width).all() and (ends[:, 1] < view.height).all()
    back = view.on_picture(view.place_at(np.array([123.0, 45.0]))[None])[0]
    assert back == pytest.approx([123.0, 45.0])


def test_seen_from_below_left_and_right_change_sides(seen):
    below = PlanView.framing(seen.view.eye * np.array([[-1.0], [1.0], [-1.0]]), seen.mesh.vertices)
    place = np.array([[10.0, 10.0, 0.0]])
    above, under = seen.view.on_picture(place)[0], below.on_picture(place)[0]
    assert above[0] + under[0] == pytest.approx(seen.view.width) and above[1] == pytest.approx(under[1])
    assert np.linalg.det(below.eye) == pytest.approx(1.0)


def test_each_place_has_the_color_that_the_key_gives_its_value(seen):
    values = seen.mesh.vertices[:, 0] / 10.0  # 0 to 12
    scale = Scale.over(0.0, 12.0, "mm")
    image = pixels(value_png(seen, values, scale))
    key = re.findall(r'fill="(#[0-9a-f]{6})"', scale_key(scale, "Depth"))
    assert len(key) == len(scale.bands) == 12
    for x in (5.0, 35.0, 65.0, 115.0):
        text = key[int(x / 10.0 / scale.step)]
        color = [int(text[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
        # Light changes how bright a color is, not which it is.
        assert hue(at(seen.view, image, [x, 30.0, 0.0])) == pytest.approx(hue(color), abs=0.01)
    assert image[0, 0] == pytest.approx(GROUND, abs=0.003)


def test_what_lies_beyond_the_scale_has_the_color_of_its_end_and_what_has_no_value_none(seen):
    scale = Scale(0.0, 1.0, 0.25, "one_way", "kPa")
    assert (scale.color_of(np.array([-5.0, 0.1, 9.0])) == scale.colors[[0, 0, -1]].astype(np.float32)).all()
    is_known = seen.mesh.vertices[:, 0] < 60.0
    values = np.where(is_known, 0.6, np.nan)
    image = pixels(value_png(seen, values, scale, is_known))
    assert hue(at(seen.view, image, [100.0, 30.0, 0.0])) == pytest.approx(hue(PLAIN), abs=0.005)
    assert hue(at(seen.view, image, [30.0, 30.0, 0.0])) == pytest.approx(hue(scale.colors[2]), abs=0.005)


@pytest.mark.parametrize(("low", "high"), [(0.0, 20.7), (0.0, 0.003), (4.2, 41.0), (0.0, 1.0e4), (7.0, 7.0)])
def test_a_scale_holds_both_ends_in_round_bands(low, high):
    scale = Scale.over(low, high, "mm")
    assert scale.low <= low and scale.high >= high and 1 <= len(scale.bands) <= 16
    words = re.findall(r"<span style[^>]*>([^<]*)</span>", scale_key(scale, "x"))
    assert 2 <= len(words) <= 8 and [float(each) for each in words] == sorted(float(each) for each in words)
    assert len(set(words)) == len(words) and max(len(each) for each in words) <= 6


def test_zero_stands_on_a_scale_of_both_ways_where_its_colors_are_palest():
    scale = Scale(-1.0, 1.0, 0.25, "two_way", "mm")
    words = re.findall(r'left:([\d.]+)%">([^<]*)<', scale_key(scale, "x"))
    assert ("50.00", "0") in words
    assert scale.colors.sum(axis=1).argmax() in (3, 4)


def test_faces_have_their_own_colors_with_a_line_between_them(seen):
    right = seen.mesh.vertices[seen.mesh.faces][:, :, 0].mean(axis=1) > 60.0
    colors = np.where(right[:, None], [0.9, 0.1, 0.1], [0.1, 0.1, 0.9])
    image = pixels(marked_png(seen, colors, right.astype(np.int64)))
    assert hue(at(seen.view, image, [90.0, 30.0, 0.0])) == pytest.approx(hue([0.9, 0.1, 0.1]), abs=0.01)
    assert hue(at(seen.view, image, [30.0, 30.0, 0.0])) == pytest.approx(hue([0.1, 0.1, 0.9]), abs=0.01)
    assert at(seen.view, image, [60.0, 30.0, 0.0]).sum() < 0.7 * at(seen.view, image, [30.0, 30.0, 0.0]).sum()


def test_marks_and_the_scale_bar_have_the_scale_of_the_picture(seen):
    png = marked_png(seen, np.tile(PLAIN, (len(seen.mesh.faces), 1)))
    place = np.array([100.0, 10.0, 0.0])
    x, y = seen.view.on_picture(place[None])[0] * 800.0 / seen.view.width
    told = marked_picture(png, seen.view, "A <sheet>", [PlaceMark(place, "<A>")])
    assert f'cx="{x:.1f}" cy="{y:.1f}"' in told and "&lt;A&gt;" in told and "A &lt;sheet&gt;" in told
    mirrored = marked_picture(png, seen.view, "", [PlaceMark(place, "A")], is_mirrored=True)
    assert f'cx="{800.0 - x:.1f}" cy="{y:.1f}"' in mirrored
    left, right = map(float, re.search(r"M([\d.]+) [\d.]+H([\d.]+)M", told).groups())
    length = int(re.search(r">(\d+) mm<", told).group(1))
    assert (right - left) / 800.0 * seen.view.width / seen.view.scale == pytest.approx(length, rel=0.01)


def test_a_name_beside_a_ring_stays_within_the_picture(seen):
    view = seen.view
    for is_mirrored, column in ((False, view.width - 13.0), (True, 13.0), (False, 13.0)):
        mark = PlaceMark(view.place_at(np.array([column, 20.0])), "12")
        told = marked_picture(b"", view, "", [mark], is_mirrored=is_mirrored)
        x, words = re.search(r'<text x="([\d.]+)" ([^>]*)>12<', told).groups()
        # Bold figures are less than 0.7 of their height of 26 wide: two of them 36 at most.
        reach = float(x) + (-36.0 if 'text-anchor="end"' in words else 36.0)
        assert 0.0 < reach <= 800.0 and 0.0 < float(x) < 800.0


def test_averaging_keeps_what_is_even_and_takes_noise_away():
    mesh = sheet()
    assert calmed(mesh, np.full(len(mesh.vertices), 3.0), 5) == pytest.approx(3.0)
    noise = np.random.default_rng(1).normal(size=len(mesh.vertices))
    assert calmed(mesh, noise, 5).std() < 0.3 * noise.std()


def test_a_page_escapes_titles_and_cells_and_has_links_to_many_sections():
    rows = [("<b>", "1 & 2"), ("c", '"')]
    sections = [Section(each, f"<{each}>", table(("Name", "<Value>"), rows)) for each in ("one", "two", "three")]
    page = report_page(sections, PageHead("Report", "</title><b>", ["<i>"]))
    assert page_faults(page) == []
    assert b"<b>" not in page and b"<i>" not in page and b"&lt;three&gt;" in page
    assert b"<nav" in page and b"<nav" not in report_page(sections[:2], PageHead("Report", "x"))
    assert report_page(sections, PageHead("Report", "x")) == report_page(sections, PageHead("Report", "x"))


def test_key_and_picture_have_one_color_for_a_band():
    scale = Scale.over(0.0, 20.0, "mm")
    key = re.findall(r'fill="(#[0-9a-f]{6})"', scale_key(scale, "Depth"))
    assert key == [hex_color(tuple(each)) for each in scale.colors]
