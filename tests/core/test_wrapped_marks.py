"""Marks on a part that is gripped all around: rings filled along its surface, also over its ends and over a slit."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.through import BodySide
from padwright.core.stages.scans.painted_read import read_painted
from padwright.core.stages.scans.surface_colors import SurfaceColors
from padwright.core.stages.zones.marks import FoundMarks, MarkedScan, MarkWish
from support.painted import CLAY, RED, Paint, glb_file, textured

RADIUS = 20.0
RING, PEN = 12.0, 1.0
OUTER = RING + 0.5 * PEN
EDGE = 2.0


def sleeve(edge_mm: float, length: float = 120.0, slit_mm: float = 0.0) -> TriMesh:
    """Return a tube of 40 mm across around z, faces outward; a slit runs along it at the angle 0."""
    slit = slit_mm / RADIUS
    turns, rows = int((2 * np.pi - slit) * RADIUS / edge_mm), int(length / edge_mm) + 1
    around = np.linspace(0.5 * slit, 2 * np.pi - 0.5 * slit, turns, endpoint=slit > 0)
    angle, height = np.meshgrid(around, np.linspace(-0.5 * length, 0.5 * length, rows))
    points = np.stack([RADIUS * np.cos(angle), RADIUS * np.sin(angle), height], axis=-1).reshape(-1, 3)
    row, column = (each.ravel() for each in np.mgrid[: rows - 1, : turns - (slit > 0)])
    here, after = row * turns + column, row * turns + (column + 1) % turns
    faces = [np.stack([here, after, after + turns], 1), np.stack([here, after + turns, here + turns], 1)]
    return TriMesh(points, np.concatenate(faces))


def ring(angle: float, height: float, *, gap_mm: float = 0.0) -> Paint:
    """Return a ring of a pen, unrolled a circle around a place of the sleeve; a gap is at its lower end."""

    def paint(places: np.ndarray) -> np.ndarray:
        along = RADIUS * ((np.arctan2(places[:, 1], places[:, 0]) - angle + np.pi) % (2 * np.pi) - np.pi)
        up = places[:, 2] - height
        colors = np.tile(np.array(CLAY), (len(places), 1))
        is_gap = (up < 0) & (np.abs(along) < 0.5 * gap_mm)
        colors[(np.abs(np.hypot(along, up) - RING) < 0.5 * PEN) & ~is_gap] = RED
        return colors

    return paint


def found_on(scan: TriMesh, side: TriMesh, paint: Paint, **changed: object) -> tuple[float, FoundMarks]:
    """Return the area of the body side that red marks take, cm2, and what was found."""
    painted = read_painted(glb_file(textured(scan, paint, 12)), "a.glb", lambda _: b"")
    body = BodySide(side, np.arange(len(side.vertices)), side, np.zeros(len(side.vertices), bool), None)
    given = {"tolerance": 0.2, "gap_mm": 3.0, "is_filled": True, "least_cm2": 0.3} | changed
    found = MarkedScan(SurfaceColors(painted.points, painted), body, EDGE).marks(MarkWish("red", **given))  # type: ignore[arg-type]
    return float((side.vertex_areas * found.values).sum()) / 100.0, found


def segment(beyond: float) -> float:
    """Return the area of a ring's disc, cm2, that lies farther than so much to one side of its middle."""
    return (OUTER**2 * np.arccos(beyond / OUTER) - beyond * np.sqrt(OUTER**2 - beyond**2)) / 100.0


WHOLE = np.pi * OUTER**2 / 100.0


@pytest.mark.parametrize("angle", [0.3, np.pi, 4.0])
@pytest.mark.parametrize(
    ("height", "scan_length", "wanted"),
    [
        (5.0, 120.0, WHOLE),
        (60.0, 160.0, segment(0.0)),  # the clay goes on beyond the part's end
        (55.0, 160.0, WHOLE - segment(5.0)),
        (55.0, 117.0, WHOLE - segment(5.0)),  # the clay ends 1.5 mm before the part does, and the line with it
        (-55.0, 110.0, WHOLE - segment(5.0)),
        (66.0, 160.0, segment(6.0)),
    ],
)
def test_a_ring_is_filled_along_the_surface_and_up_to_the_parts_end(
    angle: float, height: float, scan_length: float, wanted: float
) -> None:
    area, found = found_on(sleeve(3.0, scan_length), sleeve(EDGE), ring(angle, height))
    # Samples are 0.5 mm apart: a quarter of one off all along the edge; where the clay ends early the line is led on.
    around = 2 * np.pi * OUTER
    assert area == pytest.approx(wanted, abs=0.15 * around / 100.0)
    assert [each["area_cm2"] for each in found.told["pieces"]] == [pytest.approx(wanted, abs=0.1 * around / 100.0)]


@pytest.mark.parametrize("slit_mm", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("is_scan_slit", [False, True])
def test_a_ring_over_a_slit_is_filled_on_both_sides_of_it(slit_mm: float, is_scan_slit: bool) -> None:
    scan = sleeve(3.0, slit_mm=slit_mm) if is_scan_slit else sleeve(3.0)
    area, found = found_on(scan, sleeve(EDGE, slit_mm=slit_mm), ring(0.0, 0.0))
    half = segment(0.5 * slit_mm)
    assert area == pytest.approx(2 * half, abs=0.15 * 2 * np.pi * OUTER / 100.0)
    assert [each["area_cm2"] for each in found.told["pieces"]] == pytest.approx([half, half], abs=0.05)


def test_a_gap_is_closed_and_without_filling_the_line_alone_counts() -> None:
    area, _ = found_on(sleeve(3.0), sleeve(EDGE), ring(0.3, 0.0, gap_mm=2.0))
    assert area == pytest.approx(WHOLE, abs=0.15 * 2 * np.pi * OUTER / 100.0)
    with pytest.raises(InputError, match=r"less than 1 cm2"):
        found_on(sleeve(3.0), sleeve(EDGE), ring(0.3, 0.0, gap_mm=6.0), least_cm2=1.0)
    _, line = found_on(sleeve(3.0), sleeve(EDGE), ring(0.3, 0.0), is_filled=False)
    assert line.told["pieces"][0]["area_cm2"] == pytest.approx(np.pi * (12.5**2 - 11.5**2) / 100.0, rel=0.1)
    _, closed = found_on(sleeve(3.0), sleeve(EDGE), ring(0.3, 0.0, gap_mm=2.0), is_filled=False)
    assert len(closed.told["pieces"]) == 1


def test_a_line_around_the_sleeve_takes_its_smaller_end() -> None:
    def paint(places: np.ndarray) -> np.ndarray:
        colors = np.tile(np.array(CLAY), (len(places), 1))
        colors[np.abs(places[:, 2] - 30.0) < 0.5] = RED
        return colors

    area, _ = found_on(sleeve(3.0), sleeve(EDGE), paint)
    assert area == pytest.approx(2 * np.pi * RADIUS * 30.5 / 100.0, rel=0.02)
