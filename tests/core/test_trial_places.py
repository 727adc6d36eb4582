"""The lettered grid over a part and its picture."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from padwright.core.stages.trials.figure import PainMark, place_figure, place_pixels, units_per_mm
from padwright.core.stages.trials.places import is_cell, place_grid
from padwright.core.stages.zones.blends import BlendWish
from padwright.core.stages.zones.zone_sources import Outline, Rest
from padwright.core.stages.zones.zones import ZonePlan, ZoneRequest, plan_zones
from support.pad_shapes import ShapedPad, box_pad, sleeve_pad


def circle(x: float, y: float, radius: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn), np.full(60, 12.0)], axis=1)


def plan_of(pad: ShapedPad, steps: int = 0) -> ZonePlan:
    corner = pad.mesh.bounds[1]
    place = Outline(circle(corner[0] - 15.0, corner[1] - 12.0, 9.0))
    return plan_zones(
        pad,
        None,
        (ZoneRequest("far corner", 3.0, place), ZoneRequest("rest", 2.0, Rest())),
        blends=(BlendWish(steps, 4.0),),
    )


@pytest.fixture(scope="module")
def pad() -> ShapedPad:
    return box_pad()


def test_a_cell_is_a_letter_and_a_number() -> None:
    assert all(is_cell(text) for text in ("A1", "C4", "Z99"))
    assert not any(is_cell(text) for text in ("", "c4", "4C", "AA1", "A0", "A100", "A 1", "sit bones"))


def test_places_and_cells_belong_together(pad: ShapedPad) -> None:
    plan = plan_of(pad)
    grid = place_grid(pad, plan, pad.press_direction)
    assert grid is not None
    for column in range(grid.columns):
        for row in range(grid.rows):
            cell = f"{chr(ord('A') + column)}{row + 1}"
            middle = grid.middle(cell)
            place = grid.axes.T @ (middle + grid.low)  # any place above it: height does not count
            assert grid.cell_of(place) == grid.cell_of(place - 7.0 * np.asarray(pad.press_direction)) == cell
    assert grid.middle(f"A{grid.rows + 1}") is None and grid.zone_of_cell("Z99") is None
    assert grid.cell_of(np.array([1e4, 0.0, 0.0])) == "" and grid.zone_at(np.array([1e4, 0.0, 0.0])) is None
    target = pad.mesh.bounds[1] - np.array([15.0, 12.0, 0.0])
    assert grid.zone_at(target) == "far corner" == grid.zone_of_cell(grid.cell_of(target))
    assert grid.zone_at(pad.mesh.bounds.mean(axis=0)) == "rest"


def test_the_part_is_seen_from_the_body_and_a_mirrored_one_as_it_is_printed(pad: ShapedPad) -> None:
    plan = plan_of(pad)
    grid, other = (place_grid(pad, plan, pad.press_direction, is_mirrored=flag) for flag in (False, True))
    assert grid is not None and other is not None
    right, down = grid.axes
    np.testing.assert_allclose(np.cross(right, -down), grid.up, atol=1e-12)  # right, up on the sheet, to the eye
    np.testing.assert_allclose(grid.up, -np.asarray(pad.press_direction), atol=1e-12)
    assert (other.columns, other.rows) == (grid.columns, grid.rows)
    places = pad.mesh.vertices
    width = grid.columns * grid.step_mm
    np.testing.assert_allclose(other.flat(places)[:, 0], width - grid.flat(places)[:, 0], atol=1e-9)
    np.testing.assert_allclose(other.flat(places)[:, 1], grid.flat(places)[:, 1], atol=1e-9)


def test_a_part_pressed_from_all_around_has_no_plan() -> None:
    sleeve = sleeve_pad()
    plan = plan_zones(sleeve, None, (ZoneRequest("rest", 2.0, Rest()),))
    assert place_grid(sleeve, plan, sleeve.press_direction) is None


def test_a_step_between_zones_belongs_to_a_zone_of_the_job(pad: ShapedPad) -> None:
    plan = plan_of(pad, steps=1)
    assert len(plan.zones) == 3
    grid = place_grid(pad, plan, pad.press_direction)
    assert grid is not None and set(grid.names) == {"far corner", "rest"}


def test_the_picture_shows_zones_where_they_lie_by_name_and_pain(pad: ShapedPad) -> None:
    plan = plan_of(pad)
    grid = place_grid(pad, plan, pad.press_direction)
    assert grid is not None
    picture = place_pixels(grid, pad, plan)
    share = [(picture.zone == number).sum() / (picture.zone >= 0).sum() for number in range(2)]
    area = [zone.area_mm2 for zone in plan.zones]
    np.testing.assert_allclose(share, np.array(area) / sum(area), atol=0.01)
    target = grid.flat((pad.mesh.bounds[1] - np.array([15.0, 12.0, 0.0]))[None])[0]
    units = units_per_mm(grid)
    assert units > 1.0  # a small part is drawn larger
    column, row = (2.0 * units * target).astype(int)
    assert plan.zones[picture.zone[row, column]].name == "far corner"
    marks = (PainMark((target[0], target[1]), 3.0, "pain 3 of 10"),)
    text = place_figure(grid, picture, plan, ["#cc8630", "#9ccab2"], title='A <pad> "x"', marks=marks)
    root = ElementTree.fromstring(text)
    words = [each.text for each in root.iter("{http://www.w3.org/2000/svg}text")]
    for wanted in ("far corner", "rest", "A", "1", "3", str(grid.rows)):
        assert wanted in words
    assert root.find("{http://www.w3.org/2000/svg}title").text == 'A <pad> "x"'
    box = [float(each) for each in root.get("viewBox").split()]
    assert box[2] == pytest.approx(units * grid.columns * grid.step_mm + 24.0)
    assert root.get("width") == f"{box[2] / units:g}mm"  # printed as it is, it is as large as the part
    assert max(grid.columns, grid.rows) * grid.step_mm * units == pytest.approx(200.0) and not re.search(
        r'(href|src)="(?!data:)', text
    )
    assert text == place_figure(grid, picture, plan, ["#cc8630", "#9ccab2"], title='A <pad> "x"', marks=marks)
