"""The printed solid of a pad with folded walls: closed, one piece, walls as wide and as steep as asked, all open."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pytest
from scipy import ndimage
from tests.support.pad_shapes import box_pad, height_pad, seat_pad, sleeve_pad
from tests.support.random_pads import random_pad
from tests.support.solids import to_manifold

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import Float
from padwright.core.base.progress import drain
from padwright.core.geometry.crossings import crossings
from padwright.core.geometry.frames import rigid
from padwright.core.stages.folds.breathing import MOST_KPA, Airways, void_pressures
from padwright.core.stages.folds.layout import FoldLayout, FoldWishes, lay_out
from padwright.core.stages.folds.lean import LEAST_GAP_MM, steady
from padwright.core.stages.folds.standing import standing_lean_mm, standing_slope_deg
from padwright.core.stages.folds.upright import refuse_unless_upright
from padwright.core.stages.shape.build import FoldedSolid, build_shape
from padwright.core.stages.shape.slice_report import SliceLimits
from padwright.core.stages.shape.slices import check_slices

WISHES = FoldWishes(width_mm=1.35, pitch_mm=5.8, body_skin_mm=1.2, base_skin_mm=1.2)


@dataclass(frozen=True)
class Made:
    pad: Any
    layout: FoldLayout
    solid: FoldedSolid

    @cached_property
    def mesh(self) -> Any:
        return self.solid.mesh.transformed(self.layout.to_plane)

    @cached_property
    def flat(self) -> Any:
        return to_manifold(self.mesh)

    def stretches(self, points: Float, direction: tuple[float, float, float]) -> list[Float]:
        """Solid stretches, (k, 2) from and to, on each line through points (n, 3)."""
        found = crossings(self.mesh, points, np.array(direction))
        return [found.along[found.line == number].reshape(-1, 2) for number in range(len(points))]


def made(pad: Any, wishes: FoldWishes = WISHES, slope: float = 30.0) -> Made:
    layout = drain(lay_out(pad, wishes))
    return Made(pad, layout, drain(build_shape(pad, layout, np.full(layout.height_mm.shape, slope))))


def thin_rimmed() -> Any:
    """A lens that runs out 2.5 mm thin all round."""
    return height_pad(
        lambda x, y: 2.5 + 14.0 * np.clip(1.0 - 1.1 * (np.hypot(x / 60.0, y / 45.0)) ** 2, 0.0, 1.0),
        lambda x, y: 0.0 * x,
        lambda x, y: (1.0 - np.hypot(x / 60.0, y / 45.0)) * 45.0,
        (60.0, 45.0),
        (0.0, 17.0),
        rim_mm=1.0,
    )


def notched() -> Any:
    """A slab 20 mm high with a deep notch in one side and a recess in its top."""
    return height_pad(
        lambda x, y: 20.0 - 6.0 * ((np.abs(x + 25.0) < 8.0) & (np.abs(y) < 12.0)),
        lambda x, y: 0.0 * x,
        lambda x, y: np.minimum(
            np.minimum(50.0 - np.abs(x), 35.0 - np.abs(y)), np.maximum(np.abs(x - 15.0) - 8.0, y - 0.0)
        ),
        (50.0, 35.0),
        (0.0, 20.0),
    )


@pytest.fixture(scope="module")
def seat() -> Made:
    return made(seat_pad(hole_mm=14.0))


@pytest.fixture(scope="module")
def slab() -> Made:
    return made(box_pad((90.0, 70.0, 20.0)))


@pytest.fixture(scope="module")
def lens() -> Made:
    return made(thin_rimmed())


def all_of(name: str, request: pytest.FixtureRequest) -> Made:
    return made(notched()) if name == "notched" else request.getfixturevalue(name)


@pytest.mark.parametrize("name", ["seat", "slab", "lens", "notched"])
def test_the_solid_is_closed_one_piece_with_no_shut_hollow(name: str, request: pytest.FixtureRequest) -> None:
    found = all_of(name, request)
    assert found.solid.mesh.is_closed
    assert len(found.flat.decompose()) == 1  # a shut hollow would be a piece of its own, turned inward
    assert found.solid.openings.shut == 0
    # Skins are a tenth to a fifth of these pads, walls a quarter of the rest; the lens has a wide solid rim.
    assert 0.25 < found.solid.volume_cm3 * 1000.0 / found.pad.mesh.volume < 0.65
    # What was filled lies where two walls meet: a hundredth of what is printed at most.
    assert found.solid.filled_mm3 < 0.01 * found.solid.mesh.volume


@pytest.mark.parametrize("name", ["seat", "slab", "lens"])
def test_a_flood_from_outside_reaches_all_air(name: str, request: pytest.FixtureRequest) -> None:
    found = all_of(name, request)
    step = 0.5
    low, high = found.mesh.bounds
    x, y, z = (np.arange(low[axis] - 1.0, high[axis] + 1.0, step) for axis in range(3))
    points = np.stack([*np.meshgrid(x, y, indexing="ij"), np.zeros((len(x), len(y)))], axis=-1).reshape(-1, 3)
    lines = crossings(found.mesh, points, np.array([0.0, 0.0, 1.0]))
    change = np.zeros((len(points), len(z) + 1), dtype=np.int8)
    np.add.at(change, (lines.line, np.searchsorted(z, lines.along)), np.where(lines.is_out, -1, 1))
    air = (np.cumsum(change, axis=1)[:, :-1] == 0).reshape(len(x), len(y), len(z))
    label, _ = ndimage.label(air)
    inside = air & (label != label[0, 0, 0])
    # Cells of half a millimeter do not see through the narrow ends where two walls meet.
    assert inside.sum() < 0.002 * air.sum()


@pytest.mark.parametrize("name", ["seat", "slab", "lens"])
def test_a_sit_down_blows_out_of_every_space(name: str, request: pytest.FixtureRequest) -> None:
    opened = all_of(name, request).solid.openings
    airways = Airways(0.3 * opened.room_mm3, opened.links, opened.area_mm2)
    assert void_pressures(airways, 0.3).max() < MOST_KPA


def test_rows_are_as_wide_as_asked_in_every_level_cut(slab: Made) -> None:
    middle = slab.layout.columns.core_low_mm[slab.layout.is_core].mean()
    high = slab.layout.height_mm[slab.layout.is_core].mean()
    for share in (0.2, 0.45, 0.55, 0.8):
        (line,) = slab.stretches(np.array([[0.0, 0.0, middle + share * high]]), (1.0, 0.0, 0.0))
        inner = line[(line[:, 0] > -30.0) & (line[:, 1] < 18.0)]
        assert len(inner) >= 6
        # Four times what faces may be moved by to save triangles.
        assert np.diff(inner, axis=1) == pytest.approx(1.35, abs=0.021)


def test_waved_walls_are_as_wide_as_asked_square_to_themselves() -> None:
    found = made(box_pad((150.0, 130.0, 20.0)))
    assert found.layout.waver.max() > 0.02
    level = float(found.layout.columns.core_low_mm[found.layout.is_core].mean()) + 6.0
    points = np.array([[0.0, y, level] for y in (-25.0, -10.0, 0.0, 10.0, 25.0)])
    for along_x, y in zip(found.stretches(points, (1.0, 0.0, 0.0)), points[:, 1], strict=True):
        inner = along_x[(along_x[:, 0] > -50.0) & (along_x[:, 1] < 30.0)]
        wave = 2.0 * np.pi / 120.0
        slant = np.arctan(np.tan(np.radians(15.0)) * np.sin(wave * y))
        assert len(inner) >= 10
        assert np.diff(inner, axis=1) * np.cos(slant) == pytest.approx(1.35, abs=0.03)


def test_rows_lean_as_asked_below_the_fold_and_back_above_it(slab: Made) -> None:
    low = slab.layout.columns.core_low_mm[slab.layout.is_core].mean()
    high = slab.layout.height_mm[slab.layout.is_core].mean()

    def middles(share: float) -> Float:
        (line,) = slab.stretches(np.array([[0.0, 0.0, low + share * high]]), (1.0, 0.0, 0.0))
        return line[(line[:, 0] > -25.0) & (line[:, 1] < 10.0)].mean(axis=1)

    foot, knee = middles(0.1), middles(0.45)
    rise = np.tan(np.radians(30.0)) * 0.35 * high
    moved = (knee[0] - foot) - rise
    assert np.abs(moved).min() < 0.1
    back, head = middles(0.55), middles(0.9)
    assert np.abs((back[0] - head) - rise).min() < 0.1


@pytest.mark.parametrize("slope", [20.0, 45.0])
def test_no_face_of_a_wall_is_steeper_than_allowed(slope: float) -> None:
    found = made(seat_pad(), slope=60.0, wishes=replace(WISHES, most_slope_deg=slope))
    assert found.solid.steepest_deg < slope + 0.1  # so little is left after a few rounds of drawing it back


def test_lean_changes_so_slowly_that_walls_stay_clear_of_each_other(seat: Made) -> None:
    layout = seat.layout
    wished = np.where(np.arange(layout.height_mm.shape[0])[:, None] % 40 < 20, 45.0, 0.0) + 0.0 * layout.height_mm
    lean = standing_lean_mm(layout, wished)
    both = layout.is_core[1:] & layout.is_core[:-1]
    change = np.abs(np.diff(lean, axis=0))[both] / layout.step_mm
    assert change.max() <= 1.0 - (layout.width_mm + LEAST_GAP_MM) / layout.pitch_mm + 1e-9
    assert (standing_slope_deg(layout, wished) <= wished + 1e-9).all()


def test_a_lean_that_is_steady_stays_as_it_is() -> None:
    lean = 3.0 + 0.2 * np.arange(30.0)[:, None] + 0.1 * np.arange(20.0)
    assert steady(lean, 1.0, 1.35, 5.8) == pytest.approx(lean)


@pytest.mark.parametrize("name", ["seat", "slab", "lens", "notched"])
def test_skins_are_as_thick_as_asked(name: str, request: pytest.FixtureRequest) -> None:
    found = all_of(name, request)
    columns = found.layout.columns
    cells = np.argwhere(columns.is_core & (found.layout.border.distance_mm > 2.0))[::37]
    points = np.column_stack([columns.origin + columns.step_mm * cells, np.zeros(len(cells))])
    for stretches in found.stretches(points, (0.0, 0.0, 1.0)):
        # 0.1 mm: the raster's rounding of a wavy face. Outlets of the lens are grooves through its base side.
        assert name == "lens" or stretches[0, 1] - stretches[0, 0] > WISHES.base_skin_mm - 0.1
        assert stretches[-1, 1] - stretches[-1, 0] > WISHES.body_skin_mm - 0.1


def test_no_upright_skin_stands_at_the_rim_or_around_an_opening(seat: Made) -> None:
    columns = seat.layout.columns
    angle = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    # Half way up, within the opening's ring's own width of the edge, nothing stands: its fold has moved inward.
    ring = np.stack([15.2 * np.cos(angle), 15.2 * np.sin(angle)], axis=1)
    ring = ring[ring[:, 0] > 0.0]  # the side where the ring leans away from the opening, as the rows do
    low, high = (columns.sample(each, ring) for each in (columns.core_low_mm, columns.core_high_mm))
    lines = seat.stretches(np.column_stack([ring, np.zeros(len(ring))]), (0.0, 0.0, 1.0))
    solid = sum(
        bool(((line[:, 0] < level) & (level < line[:, 1])).any())
        for line, level in zip(lines, 0.5 * (low + high), strict=True)
    )
    assert solid < 0.3 * len(ring)


def test_a_thin_rim_is_solid_and_breathes_through_its_base_side(lens: Made) -> None:
    columns = lens.layout.columns
    height = columns.core_high_mm - columns.core_low_mm
    assert (height[columns.is_core] >= WISHES.least_core_mm).all()
    assert columns.is_solid.sum() > 0.2 * columns.is_footprint.sum()
    assert len(lens.solid.openings.outlets) >= 3
    assert "too thin" in lens.layout.notes[0]


def test_a_part_that_wraps_around_is_refused() -> None:
    with pytest.raises(InputError, match="no side to lie on"):
        made(sleeve_pad())


def test_a_pad_too_thin_for_walls_is_refused() -> None:
    with pytest.raises(InputError, match="folded walls need 4 mm"):
        made(box_pad((60.0, 40.0, 5.0)))


def test_a_pad_that_does_not_lie_on_its_base_side_is_refused() -> None:
    pad = box_pad((90.0, 70.0, 20.0))
    refuse_unless_upright(pad, (120.0, 120.0, 120.0))
    with pytest.raises(InputError, match="does not fit the bed"):
        refuse_unless_upright(pad, (95.0, 60.0, 200.0))


@pytest.mark.parametrize(("pitch", "match"), [(1.9, "leave 0.55 mm"), (6.6, "spans 5.25 mm")])
def test_a_pitch_that_cannot_be_printed_is_refused(pitch: float, match: str) -> None:
    with pytest.raises(InputError, match=match):
        drain(lay_out(box_pad(), replace(WISHES, pitch_mm=pitch)))


def test_the_same_pad_gives_the_same_solid(slab: Made) -> None:
    again = made(box_pad((90.0, 70.0, 20.0)))
    assert again.solid.mesh.vertices.tobytes() == slab.solid.mesh.vertices.tobytes()
    assert again.solid.mesh.faces.tobytes() == slab.solid.mesh.faces.tobytes()


def test_rings_fill_a_pad_to_its_ridge() -> None:
    found = made(box_pad((70.0, 55.0, 20.0)), replace(WISHES, layout="rings"))
    assert found.solid.mesh.is_closed
    assert len(found.flat.decompose()) == 1
    assert {wall.kind for wall in found.layout.walls} <= {"ring", "tie"}
    assert (found.layout.waver == 0.0).all()
    # From the rim to the ridge there is a wall each pitch.
    level = found.layout.columns.core_low_mm[found.layout.is_core].mean() + 4.0
    (line,) = found.stretches(np.array([[0.0, 0.0, level]]), (0.0, 1.0, 0.0))
    assert np.diff(line.ravel()[1:-1].reshape(-1, 2), axis=1).max() < WISHES.pitch_mm + 0.1


@pytest.mark.parametrize("name", ["seat", "lens"])
def test_every_layer_prints(name: str, request: pytest.FixtureRequest) -> None:
    found = all_of(name, request)
    laid = found.mesh.transformed(rigid(np.eye(3), np.array([0.0, 0.0, -found.mesh.bounds[0, 2]])))
    limits = SliceLimits(WISHES.most_slope_deg, WISHES.longest_bridge_mm, skin_mm=WISHES.base_skin_mm)
    report = drain(check_slices(laid, layer_mm=0.2, bead_mm=0.45, limits=limits))
    assert report.errors == ()
    assert report.loose_tops.count == 0  # every wall stands fast at both ends


def test_a_large_pad_is_made_in_time() -> None:
    pad = seat_pad(scale=1.8)  # 900 cm3
    assert 0.8e6 < pad.mesh.volume < 1.2e6
    start = time.process_time()
    found = made(pad)
    # 5 s on a core of its own; four times that for slow and busy ones.
    assert time.process_time() - start < 20.0
    assert len(found.solid.mesh.faces) < 600_000


@pytest.mark.parametrize("seed", [6, 12])
def test_rows_cut_off_by_more_than_half_stay_sound(seed: int) -> None:
    # Pads on which a ring's fold leaves a row less than a third of its line, on one side.
    drawn = random_pad(seed)
    found = made(drawn.pad, replace(WISHES, width_mm=0.9, pitch_mm=5.9), slope=44.0)
    assert found.solid.mesh.is_closed
    assert len(found.flat.decompose()) == 1
    assert found.solid.steepest_deg < 45.1


def test_sealed_voids_are_shut_in_by_the_pads_own_side() -> None:
    found = made(box_pad((60.0, 50.0, 20.0)), replace(WISHES, voids="sealed"))
    pieces = found.flat.decompose()
    assert found.solid.mesh.is_closed
    assert sum(piece.volume() < 0.0 for piece in pieces) >= 1
