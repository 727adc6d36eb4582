"""The pad from scans whose volume and thickness are known by formula."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.slabs import noisy, punched, reading_of, sheet, tube

from padwright.core.base.errors import InputError, SolveError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.pad.pad import BuiltPad, build_pad
from padwright.core.stages.pad.pad_settings import BaseOnly, PadSettings
from padwright.core.stages.pad.pad_surface import BASE, BODY
from padwright.core.stages.pad.relief import PlacedRelief

DOWN = (0.0, 0.0, -1.0)
HALF = (48.0, 38.0)
CLAY = (36.0, 26.0)
FLANK = 1.5


def flat(x, y):
    return np.zeros_like(x)


def clay(x, y):
    """A slab 12 mm thick with steep smooth flanks and one dent of 5 mm."""
    edge = np.minimum(CLAY[0] - np.abs(x), CLAY[1] - np.abs(y))
    dent = 5.0 * np.exp(-(x**2 + y**2) / (2 * 10.0**2))
    return np.clip(edge / FLANK + 0.5, 0.0, 1.0) * (12.0 - dent)


def made(base: TriMesh, impression: TriMesh, press=DOWN, **settings) -> BuiltPad:
    return drain(build_pad(base, impression, reading_of(base, impression, press), PadSettings(**settings)))


def clay_volume(least: float, gap: float) -> float:
    x, y = np.meshgrid(np.arange(-HALF[0], HALF[0], 0.1), np.arange(-HALF[1], HALF[1], 0.1), indexing="ij")
    thickness = clay(x, y)
    return float((thickness - gap)[thickness >= least].sum() * 0.01)


def box_solid(half: tuple[float, float], low: float, high: float) -> TriMesh:
    corners = np.array([[x, y, z] for x in (-half[0], half[0]) for y in (-half[1], half[1]) for z in (low, high)])
    faces = [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6], [0, 2, 6]]
    return TriMesh(corners, np.array([*faces, [0, 6, 4], [1, 5, 7], [1, 7, 3]]))


@pytest.fixture(scope="module")
def slab() -> tuple[TriMesh, TriMesh]:
    return sheet(flat, HALF, 1.2), sheet(clay, HALF, 1.2)


@pytest.fixture(scope="module")
def slab_pad(slab) -> BuiltPad:
    return made(noisy(slab[0], 0.3, 1), noisy(slab[1], 0.3, 2), least_thickness_mm=4.0)


def test_pad_between_noisy_open_sheets_has_the_volume_of_the_formula(slab_pad):
    # The rounded rim takes (1 - pi/4)(2^2 + 1^2) mm2 along the outline; 1 % is the claim for 0.3 mm of noise.
    # (The slab's own edge is sharp, and the kernel rounds it by about its width, within the rim's radius.)
    rim = (1 - np.pi / 4) * 5.0 * 4 * (CLAY[0] + CLAY[1])
    assert slab_pad.mesh.is_closed
    assert slab_pad.mesh.volume == pytest.approx(clay_volume(4.0, 0.4) - rim, rel=0.01)


def test_thickness_follows_the_clay(slab_pad):
    vertices = slab_pad.mesh.vertices
    is_inner = (slab_pad.side == BODY) & (np.abs(vertices[:, 0]) < 30) & (np.abs(vertices[:, 1]) < 20)
    error = slab_pad.thickness[is_inner] - (clay(vertices[is_inner, 0], vertices[is_inner, 1]) - 0.4)
    assert np.sqrt((error**2).mean()) < 0.3
    dent = is_inner & (np.hypot(vertices[:, 0], vertices[:, 1]) < 3)
    center = slab_pad.thickness[dent] - (clay(vertices[dent, 0], vertices[dent, 1]) - 0.4)
    assert abs(center.mean()) < 0.2


def test_base_side_keeps_the_gap(slab_pad):
    inner = (slab_pad.side == BASE) & (np.abs(slab_pad.mesh.vertices[:, :2]) < (30, 20)).all(axis=1)
    height = slab_pad.mesh.vertices[inner, 2]
    # The mean of 0.3 mm of noise over this area scatters by 0.011 mm (measured over six seeds): 3 of it.
    assert height.mean() == pytest.approx(0.4, abs=0.033)
    # A scatter of few independent patches is itself known to some 15 %.
    assert height.std() == pytest.approx(slab_pad.base_noise_left_mm, rel=0.3)
    assert slab_pad.base_noise_mm == pytest.approx(0.3, rel=0.15)


def test_triangles_are_no_slivers(slab_pad):
    corner = slab_pad.mesh.triangles
    side = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2)
    # 4 sqrt(3) area / (sum of squared sides) is 1 for an equilateral triangle, 0 for a needle.
    quality = 4 * np.sqrt(3) * slab_pad.mesh.face_areas / (side**2).sum(axis=1)
    assert quality.min() > 0.15
    assert np.percentile(quality, 1) > 0.5


def test_holes_in_both_scans_leave_no_mark(slab, slab_pad):
    base = punched(noisy(slab[0], 0.3, 1), (10.0, -5.0), 5.0)
    impression = punched(noisy(slab[1], 0.3, 2), (-14.0, 8.0), 5.0)
    pad = made(base, impression, least_thickness_mm=4.0)
    assert pad.mesh.volume == pytest.approx(slab_pad.mesh.volume, rel=0.005)
    assert pad.mesh.is_closed


def test_rigid_motion_and_vertex_order_do_not_change_the_pad(slab):
    base, impression = slab
    still = made(base, impression, least_thickness_mm=4.0)
    turn = np.eye(4)
    c, s = np.cos(0.7), np.sin(0.7)
    turn[:3, :3] = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ np.array([[1, 0, 0], [0, c, -s], [0, s, c]])
    turn[:3, 3] = (120.0, -40.0, 15.0)
    order = np.random.default_rng(3).permutation(len(base.vertices))
    shuffled = TriMesh(base.vertices[order], np.argsort(order)[base.faces])
    moved = made(
        shuffled.transformed(turn), impression.transformed(turn), tuple(turn[:3, :3] @ DOWN), least_thickness_mm=4.0
    )
    # The grid lies otherwise in the part, so what is compared is its own error: 0.2 % of the volume.
    assert moved.mesh.volume == pytest.approx(still.mesh.volume, rel=2e-3)
    back = moved.mesh.transformed(np.linalg.inv(turn))
    assert np.abs(back.bounds - still.mesh.bounds).max() < 0.3


def test_thin_clay_that_thick_clay_encloses_is_thickened(slab):
    def pressed(x, y):
        return clay(x, y) - 7.0 * np.exp(-(x**2 + y**2) / (2 * 6.0**2))

    pad = made(slab[0], sheet(pressed, HALF, 1.2), least_thickness_mm=4.0)
    assert pad.thickened_cm2 > 0.5
    assert pad.least_thickness_mm > 3.7
    assert any("thickened" in note for note in pad.notes)


def test_opening_goes_through_and_channel_does_not(slab):
    plain = made(*slab, least_thickness_mm=4.0)
    angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    ring = np.stack([20 + 8 * np.cos(angle), 8 * np.sin(angle), np.full(40, 12.0)], axis=1)
    opened = made(*slab, least_thickness_mm=4.0, reliefs=[PlacedRelief("opening", ring, edge_radius_mm=1.0)])
    euler = len(opened.mesh.vertices) - len(opened.mesh.faces) // 2
    assert euler == 0  # a torus: one hole goes through
    # The opening takes its area times the thickness there, and the rounding of two edges.
    x, y = opened.mesh.vertices[:, 0] - 20, opened.mesh.vertices[:, 1]
    assert np.hypot(x, y).min() > 8.0 - 0.5
    line = np.array([[-25.0, -20.0, 12.0], [-25.0, 20.0, 12.0]])
    grooved = made(
        *slab,
        least_thickness_mm=4.0,
        reliefs=[PlacedRelief("channel", line, width_mm=6.0, depth_mm=4.0, edge_radius_mm=1.0)],
    )
    taken = plain.mesh.volume - grooved.mesh.volume
    # Between the half round (half of width 3 radius) and the full rectangle of the groove.
    assert 0.5 * np.pi * 9 * 40 * 0.8 < taken < 6.0 * 4.0 * 46 * 1.1
    assert len(grooved.mesh.vertices) - len(grooved.mesh.faces) // 2 == 2


@pytest.mark.parametrize(("depth", "is_through"), [(4.0, False), (30.0, True)])
def test_a_channel_deeper_than_the_pad_is_said_to_go_through(slab, depth, is_through):
    line = np.array([[-25.0, -20.0, 12.0], [-25.0, 20.0, 12.0]])
    groove = PlacedRelief("channel", line, width_mm=6.0, depth_mm=depth, edge_radius_mm=1.0)
    notes = [
        note for note in made(*slab, least_thickness_mm=4.0, reliefs=[groove]).notes if "goes right through" in note
    ]
    assert len(notes) == is_through
    if is_through:
        told = float(notes[0].split(" cm2")[0].rsplit(" ", 1)[1])
        assert told == pytest.approx((6.0 * 40.0 + np.pi * 9.0) / 100.0, abs=0.5)  # a line's width with round ends


def test_an_opening_that_cuts_the_pad_in_two_is_refused(slab):
    ring = np.array([[-4.0, -40.0, 10.0], [4.0, -40.0, 10.0], [4.0, 40.0, 10.0], [-4.0, 40.0, 10.0]])
    with pytest.raises(SolveError, match=r"cut the pad into pieces: \d+\.\d of \d+\.\d cm3") as caught:
        made(*slab, least_thickness_mm=4.0, reliefs=[PlacedRelief("opening", ring)])
    parted, whole = (float(word) for word in caught.value.message.split(": ")[1].split(" cm3")[0].split(" of "))
    assert parted == pytest.approx(0.5 * whole, rel=0.05)


def test_envelope_is_cut_by_base_and_body(slab):
    solid = box_solid((20.0, 15.0), -10.0, 30.0)
    assert solid.is_closed
    pad = made(*slab, envelope=solid, rim_radius_mm=0.0, base_edge_radius_mm=0.0, resolution_mm=0.8)
    x, y = np.meshgrid(np.arange(-19.95, 20, 0.1), np.arange(-14.95, 15, 0.1), indexing="ij")
    assert pad.mesh.volume == pytest.approx(float((clay(x, y) - 0.4).sum() * 0.01), rel=0.01)


def test_cover_lowers_the_body_side(slab):
    plain = made(*slab, least_thickness_mm=4.0)
    covered = made(*slab, least_thickness_mm=4.0, cover_mm=1.5)
    inner = (covered.side == BODY) & (np.abs(covered.mesh.vertices[:, :2]) < (30, 20)).all(axis=1)
    top = covered.mesh.vertices[inner]
    # The dent's slope is at most 0.3, so a normal shift of 1.5 mm is at most 4 % more along z.
    assert (clay(top[:, 0], top[:, 1]) - top[:, 2]).mean() == pytest.approx(1.5, rel=0.05)
    assert covered.mesh.volume < plain.mesh.volume


def test_wrap_around_sleeve_with_finger_grooves():
    def handle(z, a):
        return 12.0 + 1.0 * np.cos(2 * a)

    def sleeve(z, a):
        along = np.clip((z - 15.0) / 1.0, 0, 1) * np.clip((75.0 - z) / 1.0, 0, 1)
        return handle(z, a) + along * (7.0 + 2.0 * np.cos(2 * np.pi * z / 20.0))

    base, impression = noisy(tube(handle, 90, 1.0), 0.2, 1), noisy(tube(sleeve, 90, 1.0), 0.2, 2)
    pad = made(base, impression, None, least_thickness_mm=3.0, fit_gap_mm=0.3, rim_radius_mm=1.5)
    z, a = np.meshgrid(np.arange(0, 90, 0.1), np.linspace(0, 2 * np.pi, 400, endpoint=False), indexing="ij")
    inner, outer = handle(z, a) + 0.3, sleeve(z, a)
    is_thick = outer - handle(z, a) >= 3.0
    expected = float((0.5 * (outer**2 - inner**2))[is_thick].sum() * 0.1 * 2 * np.pi / 400)
    assert pad.press_direction is None
    assert pad.mesh.is_closed
    assert len(pad.mesh.vertices) - len(pad.mesh.faces) // 2 == 0
    # Two rims of rounding 1.5 and 1 mm take about (1 - pi/4) 3.25 mm2 along 100 mm each: 0.5 % of the part.
    assert pad.mesh.volume == pytest.approx(expected, rel=0.015)


def round_sleeve() -> tuple[TriMesh, TriMesh]:
    """A round bar of radius 12 with clay 7 mm thick around it."""

    def sleeve(z, a):
        return 12.0 + 7.0 * np.clip(z - 15.0, 0, 1) * np.clip(65.0 - z, 0, 1)

    return tube(lambda z, a: np.full(np.shape(z), 12.0), 80, 1.2), tube(sleeve, 80, 1.2)


@pytest.mark.parametrize("radius", [12.0, 19.0])  # drawn on the base, drawn on the clay
def test_reliefs_of_a_wrap_around_part_are_cut_wherever_their_points_lie(radius):
    base, impression = round_sleeve()
    plain = made(base, impression, None, least_thickness_mm=3.0, rim_radius_mm=1.0)
    line = np.array([[radius, 0.0, z] for z in (28.0, 40.0, 52.0)])
    groove = PlacedRelief("channel", line, width_mm=5.0, depth_mm=4.0, edge_radius_mm=1.0)
    cut = made(base, impression, None, least_thickness_mm=3.0, rim_radius_mm=1.0, reliefs=[groove])
    # Under the line's middle the body side lies 4 mm deeper, and all around the part it is what it was.
    x, y, z = cut.mesh.vertices.T
    over = (np.abs(y) < 0.8) & (x > 0) & (np.abs(z - 40.0) < 8.0) & (cut.side == BODY)
    assert np.abs(np.hypot(x, y)[over] - 15.0).max() < 0.3
    away = (x < 0) & (np.abs(z - 40.0) < 20.0) & (cut.side == BODY)
    assert np.abs(np.hypot(x, y)[away] - 19.0).max() < 0.3
    # Between a half round floor and a full rectangle, 24 mm long with round ends.
    assert 0.6 * 5.0 * 4.0 * 24.0 < plain.mesh.volume - cut.mesh.volume < 1.1 * 5.0 * 4.0 * 29.0
    angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    ring = np.stack([5.0 * np.cos(angle), 40.0 + 5.0 * np.sin(angle)], axis=1)
    ring = np.stack([np.sqrt(radius**2 - ring[:, 0] ** 2), ring[:, 0], ring[:, 1]], axis=1)
    hole = PlacedRelief("opening", ring, edge_radius_mm=1.0)
    opened = made(base, impression, None, least_thickness_mm=3.0, rim_radius_mm=1.0, reliefs=[hole])
    assert len(opened.mesh.vertices) - len(opened.mesh.faces) // 2 == -2  # one hole through one wall of the tube
    x, y, z = opened.mesh.vertices.T
    assert np.hypot(y, z - 40.0)[x > 0].min() > 4.5


@pytest.mark.parametrize(
    ("kind", "points"), [("opening", [[60, 0, 5], [70, 0, 5], [65, 9, 5]]), ("channel", [[60, -9, 5], [60, 9, 5]])]
)
def test_a_relief_beside_the_pad_is_refused(slab, kind, points):
    relief = PlacedRelief(kind, np.array(points, dtype=float), width_mm=5.0, depth_mm=3.0)
    with pytest.raises(InputError, match=f"Relief 1, an? {kind}, lies beside the pad"):
        made(*slab, least_thickness_mm=4.0, reliefs=[relief])


def test_radii_that_fit_no_rim_are_refused(slab):
    with pytest.raises(InputError, match="do not fit a rim 4 mm thick"):
        made(*slab, rim_radius_mm=4.0)


def test_clay_too_thin_is_told_with_its_thickness(slab):
    with pytest.raises(SolveError, match=r"nowhere 20 mm thick; the most is 1[12]\.\d mm"):
        made(*slab, least_thickness_mm=20.0)


def test_no_clay_is_told(slab):
    with pytest.raises(SolveError, match="Only 0 scan points lie on clay"):
        made(slab[0], slab[0])


@pytest.mark.parametrize(
    ("relief", "message"),
    [
        ({"kind": "opening", "points": np.zeros((2, 3))}, "needs at least 3 points"),
        ({"kind": "channel", "points": np.zeros((2, 3))}, "needs a width and a depth"),
        ({"kind": "opening", "points": np.zeros((3, 3)), "edge_radius_mm": 0.5}, "too sharp"),
    ],
)
def test_reliefs_that_make_no_sense_are_refused(relief, message):
    with pytest.raises(InputError, match=message):
        PlacedRelief(**relief)


def test_envelope_without_an_impression_is_cut_by_the_base_alone(slab):
    solid = box_solid((20.0, 15.0), -10.0, 10.0)
    pad = drain(
        build_pad(
            slab[0],
            None,
            BaseOnly(np.array(DOWN)),
            PadSettings(envelope=solid, rim_radius_mm=0.0, base_edge_radius_mm=0.0, resolution_mm=0.8),
        )
    )
    # 40 x 30 mm, 10 mm high, less a gap of 0.4 mm; the grid rounds the twelve edges within one step.
    assert pad.mesh.volume == pytest.approx(40 * 30 * 9.6, rel=0.01)
    top = pad.side == BODY
    assert pad.mesh.vertices[top, 2].mean() == pytest.approx(10.0, abs=0.1)


def test_neither_impression_nor_envelope_is_told(slab):
    with pytest.raises(InputError, match="neither an impression nor an envelope"):
        drain(build_pad(slab[0], None, BaseOnly(np.array(DOWN)), PadSettings()))
