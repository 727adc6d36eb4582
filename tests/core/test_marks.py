"""Marks of pens on scanned clay: found by color on the texture, closed, filled, without specks; and pressed foil."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from padwright.core.base.color_names import NAMED_COLORS, color_name, named_color
from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.through import BodySide
from padwright.core.stages.scans.formats.painted import PaintedScan
from padwright.core.stages.scans.painted_read import read_painted
from padwright.core.stages.scans.surface_colors import SurfaceColors
from padwright.core.stages.zones.marks import FoundMarks, MarkedScan, MarkWish
from padwright.core.stages.zones.pressed_foil import FoilWish, foil_on_scan
from padwright.core.stages.zones.zone_sources import SourcePlace
from support.painted import BLUE, CLAY, RED, Paint, glb_file, rings, textured
from support.scanned import grid


def hollows(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return two hollows 6 and 8 mm deep, 80 mm apart: the height of the body side."""
    return -8 * np.exp(-((x - 40) ** 2 + y**2) / 900) - 6 * np.exp(-((x + 40) ** 2 + y**2) / 900)


@cache
def clay(edge_mm: float = 3.0) -> TriMesh:
    steps = np.arange(-96, 97, edge_mm)
    return grid(steps, steps * 0.7, hollows)


@cache
def body(edge_mm: float = 2.0) -> BodySide:
    steps = np.arange(-80, 81, edge_mm)
    mesh = grid(steps, steps * 0.7, hollows)
    return BodySide(
        mesh, np.arange(len(mesh.vertices)), mesh, np.zeros(len(mesh.vertices), bool), np.array([0, 0, -1.0])
    )


@cache
def scanned(paint: Paint, texels: int = 9, **options: float) -> MarkedScan:
    """Return the clay with a paint as a GLB file's reader gives it, its texture a JPEG where it has noise."""
    quality = int(options.pop("quality", 0))
    scan = textured(clay(), paint, texels, **options)  # type: ignore[arg-type]
    data = glb_file(scan, kind="JPEG", quality=quality) if quality else glb_file(scan)
    painted = read_painted(data, "clay.glb", lambda _: b"")
    return MarkedScan(SurfaceColors(painted.points, painted), body(), 2.0)


def wish(color: str, **changed: object) -> MarkWish:
    given = {"tolerance": 0.2, "gap_mm": 3.0, "is_filled": True, "least_cm2": 0.3} | changed
    return MarkWish(color, **given)  # type: ignore[arg-type]


def areas(found: FoundMarks) -> list[float]:
    return [each["area_cm2"] for each in found.told["pieces"]]


def carried_cm2(found: FoundMarks) -> float:
    """Return the area of the body side that the mark takes, seen along the press direction."""
    mesh = body().mesh
    flat = TriMesh(mesh.vertices * [1, 1, 0], mesh.faces)
    return float((flat.vertex_areas * found.values).sum()) / 100.0


TWO_PENS = rings(((40, 0), 25, 1.0, RED), ((-40, 0), 30, 1.0, BLUE), ((0, 40), 15, 1.0, BLUE))


@pytest.mark.parametrize(
    ("options", "least"),
    [({"texels": 12}, 0.005), ({"texels": 12, "noise": 6.0, "quality": 85}, 0.015), ({"texels": 6}, 0.01)],
    ids=["0.25 mm pixels", "noise and JPEG", "0.5 mm pixels"],
)
def test_rings_of_one_millimeter_on_triangles_of_three_are_found_filled_and_told_apart(
    options: dict[str, float], least: float
) -> None:
    """Half a pixel around a ring of 25 mm is 1 to 2 %; JPEG keeps half as many colors as pixels each way."""
    scan = scanned(TWO_PENS, **options)  # type: ignore[arg-type]
    assert [each.name for each in scan.colors[1:3]] == ["blue", "red"]
    red = scan.marks(wish("red"), ["red", "blue"])
    blue = scan.marks(wish("blue"), ["red", "blue"])
    # The line belongs to the area: its outer edge is half a millimeter beyond the middle.
    for found, radii in ((red, (25.5,)), (blue, (30.5, 15.5))):
        assert areas(found) == pytest.approx([np.pi * radius**2 / 100 for radius in radii], rel=least)
        assert carried_cm2(found) == pytest.approx(sum(np.pi * radius**2 / 100 for radius in radii), rel=0.02)
    assert red.told["pieces"][0]["position_mm"] == pytest.approx([40, 0, hollows(40.0, 0.0)], abs=0.5)  # type: ignore[arg-type]


def test_a_color_is_taken_by_its_number_as_well() -> None:
    scan = scanned(TWO_PENS)
    by_name = scan.marks(wish("red"))
    by_number = scan.marks(wish(scan.colors[2].hex))
    assert np.array_equal(by_name.values, by_number.values)


def broken(gap_mm: float) -> Paint:
    whole = rings(((40, 0), 25, 1.0, RED))
    bare = rings()

    def paint(places: np.ndarray) -> np.ndarray:
        is_gap = (places[:, 0] > 40) & (np.abs(places[:, 1]) < gap_mm / 2)
        return np.where(is_gap[:, None], bare(places), whole(places))

    return paint


def test_a_line_with_a_gap_is_closed_and_a_wider_gap_is_told_with_what_closes_it() -> None:
    found = scanned(broken(2.5)).marks(wish("red"))
    assert areas(found) == pytest.approx([np.pi * 25.5**2 / 100], rel=0.01)
    scan = scanned(broken(7.0))
    with pytest.raises(InputError, match="surrounds nothing") as raised:
        scan.marks(wish("red"))
    assert "gap_mm = 8" in raised.value.hint
    assert areas(scan.marks(wish("red", gap_mm=8.0))) == pytest.approx([np.pi * 25.5**2 / 100], rel=0.01)


def test_unfilled_marks_are_what_was_drawn_and_a_patch_needs_no_filling() -> None:
    broad = scanned(rings(((40, 0), 20, 8.0, RED)))
    ring = np.pi * (24**2 - 16**2) / 100
    assert areas(broad.marks(wish("red", is_filled=False))) == pytest.approx([ring], rel=0.01)
    assert areas(broad.marks(wish("red"))) == pytest.approx([np.pi * 24**2 / 100], rel=0.01)
    patch = scanned(rings(((-40, 0), 0, 24.0, BLUE)))
    for is_filled in (True, False):
        assert areas(patch.marks(wish("blue", is_filled=is_filled))) == pytest.approx([np.pi * 144 / 100], rel=0.01)


def test_specks_are_dropped_and_counted() -> None:
    specks = [((float(x), -45.0), 0.0, 4.0, RED) for x in range(-60, 61, 20)]
    found = scanned(rings(((40, 0), 25, 1.0, RED), *specks)).marks(wish("red"))
    assert len(areas(found)) == 1 and found.told["dropped"] == 7
    assert "1 place of 20." in found.notes[0] and "7 specks left out" in found.notes[0]
    assert found.told["dropped_cm2"] == pytest.approx(7 * np.pi * 4 / 100, rel=0.1)  # of 13 pixels across each


def test_a_line_that_surrounds_nothing_is_told_beside_an_area() -> None:
    def paint(places: np.ndarray) -> np.ndarray:
        colors = rings(((40, 0), 25, 1.0, RED))(places)
        colors[(np.abs(places[:, 1] + 30) < 0.5) & (places[:, 0] < -10) & (places[:, 0] > -60)] = RED
        return colors

    found = scanned(paint).marks(wish("red"))
    assert len(areas(found)) == 1
    assert "1 line of color red" in found.notes[-1] and "surrounds nothing" in found.notes[-1]


def test_what_is_not_there_is_told_with_what_is() -> None:
    scan = scanned(TWO_PENS)
    for color in ("green", "#00ff00"):
        with pytest.raises(InputError) as raised:
            scan.marks(wish(color))
        assert color in str(raised.value) and "(blue, " in raised.value.hint and "(red, " in raised.value.hint
    with pytest.raises(InputError, match="are smaller than 50 cm2"):
        scan.marks(wish("red", least_cm2=50.0))


def test_a_ring_that_runs_over_the_pads_edge_is_filled_up_to_it() -> None:
    found = scanned(rings(((80, 0), 12, 1.0, RED))).marks(wish("red"))
    assert areas(found) == pytest.approx([np.pi * 12.5**2 / 100], rel=0.01)
    assert carried_cm2(found) == pytest.approx(np.pi * 12.5**2 / 200, rel=0.03)


def test_a_line_goes_on_behind_a_hole_of_the_scan() -> None:
    scan = scanned(TWO_PENS)
    faces = scan.surface.painted.faces
    middle = scan.surface.points[faces].mean(axis=1)[:, :2]
    is_kept = np.hypot(*(middle - [40, 25]).T) > 6.0
    painted = scan.surface.painted
    assert painted.on_picture is not None and painted.picture_of is not None
    left = replace(
        painted,
        faces=faces[is_kept],
        on_picture=painted.on_picture[is_kept],
        picture_of=painted.picture_of[is_kept],
    )
    found = MarkedScan(SurfaceColors(painted.points, left), body(), 2.0).marks(wish("red"))
    # Within the hole of some 6 mm around the line may lie anywhere.
    assert areas(found) == pytest.approx([np.pi * 25.5**2 / 100], abs=np.pi * 6**2 / 2 / 100)


def test_marks_beyond_reach_of_the_body_side_are_none() -> None:
    scan = scanned(TWO_PENS)
    raised = SurfaceColors(scan.surface.points + np.array([0, 0, 30.0]), scan.surface.painted)
    far = MarkedScan(raised, body(), 2.0).marks(wish("red"))
    assert far.values.max() == 0.0


def test_vertex_colors_serve_where_triangles_are_fine() -> None:
    mesh = clay(1.0)
    colors = np.column_stack([rings(((40, 0), 25, 3.0, RED))(mesh.vertices), np.full(len(mesh.vertices), 255)])
    painted = PaintedScan(mesh.vertices, mesh.faces, np.rint(colors).astype(np.uint8))
    found = MarkedScan(SurfaceColors(mesh.vertices, painted), body(), 2.0).marks(wish("red"))
    # The border lies somewhere in an edge of 1 mm.
    assert areas(found) == pytest.approx([np.pi * 26.5**2 / 100], rel=2 * 0.5 / 26.5)


def test_marks_are_of_one_pad_alone() -> None:
    found = scanned(TWO_PENS).marks(wish("red"))
    place = SourcePlace(body(), None, None, 2.0)
    assert found.share(place) is found.values
    with pytest.raises(InputError, match="on another pad"):
        found.share(SourcePlace(body(4.0), None, None, 4.0))


def foil(places: np.ndarray) -> np.ndarray:
    """Return paper that is dark where the hollows are deep, with grain: 240 where nothing presses, 60 at 8 mm."""
    depth = -hollows(places[:, 0], places[:, 1])
    grain = np.random.default_rng(1).normal(0.0, 15.0, len(places))
    return np.repeat((240 - 22.5 * depth + grain)[:, None], 3, axis=1)


def test_a_pressed_foil_is_a_grey_scale_from_its_lightest_to_its_darkest() -> None:
    scan = scanned(foil)
    dark = foil_on_scan(scan, FoilWish(60.0, None, None, None)).values >= 0.5
    depth = -hollows(*body().mesh.vertices[:, :2].T)
    # 60 % dark lies at some one depth: all that is clearly deeper is in, all that is clearly less deep is out.
    bound = np.median([depth[dark].min(), depth[~dark].max()])
    assert (dark == (depth > bound))[np.abs(depth - bound) > 0.6].all()
    light = foil_on_scan(scan, FoilWish(None, 60.0, None, None)).values >= 0.5
    assert np.mean(light ^ dark) > 0.99


def test_the_ends_of_a_foils_scale_may_be_given() -> None:
    scan = scanned(foil)
    found = foil_on_scan(scan, FoilWish(50.0, None, "#f0f0f0", "#3c3c3c"))
    depth = -hollows(*body().mesh.vertices[:, :2].T)
    middle = 0.5 * sum(lightness(value) for value in (240, 60))
    wanted = np.array([lightness(240 - 22.5 * each) for each in depth]) < middle
    is_clear = np.abs(np.array([lightness(240 - 22.5 * each) for each in depth]) - middle) > 4.0
    assert ((found.values >= 0.5) == wanted)[is_clear].all()


def lightness(gray: float) -> float:
    share = np.clip(gray, 0, 255) / 255
    linear = share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4
    return float(116 * np.cbrt(linear) - 16)


def test_a_foil_that_shows_nothing_is_refused() -> None:
    even = scanned(lambda places: np.full((len(places), 3), 200.0))
    with pytest.raises(InputError, match=r"differs by 0\.0 of 100"):
        foil_on_scan(even, FoilWish(50.0, None, None, None))
    with pytest.raises(InputError, match="the zone asks for 90 to 100 %") as raised:
        foil_on_scan(scanned(foil), FoilWish(90.0, None, "#f0f0f0", "#000000"))
    assert "from_dark_pct" in raised.value.hint


def test_every_named_color_is_called_by_its_name_and_pens_on_clay_by_theirs() -> None:
    assert {name for name, color in NAMED_COLORS.items() if color_name(color) != name} == {"brown"}  # a dark red
    for color, name in ((RED, "red"), (BLUE, "blue"), ((66, 57, 72), "blue"), ((52, 47, 42), "black")):
        assert color_name(color, CLAY) == name
    assert color_name(CLAY) == "brown"
    assert named_color(" Red ") == (255, 0, 0) and named_color("#0a0B0c") == (10, 11, 12)
    with pytest.raises(InputError, match='Color "reddish" is not known'):
        named_color("reddish")
