"""Cleaning: every fault mended, debris gone, the part untouched."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.errors import ScanError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import Progress, drain
from padwright.core.stages.scans.clean import CleanScan, clean_scan
from padwright.core.stages.scans.scan_facts import scan_facts
from support.scanned import board, grid, joined, moved, soup, sphere, without

BOARD = board()
SPHERE = sphere()


def cleaned(mesh: TriMesh, **options: object) -> CleanScan:
    return drain(clean_scan(mesh, **options))  # type: ignore[arg-type]


def triangle_set(mesh: TriMesh) -> set:
    """The triangles by the places of their corners, wherever they start, as turned."""
    rolled = (np.roll(t, -min(range(3), key=lambda k, t=t: tuple(t[k])), axis=0) for t in mesh.triangles)
    return {t.tobytes() for t in rolled}


def said(scan: CleanScan, text: str) -> bool:
    return any(text in note for note in scan.notes)


@pytest.mark.parametrize("mesh", [BOARD, SPHERE], ids=["open", "closed"])
def test_a_good_scan_stays_as_it_is(mesh: TriMesh) -> None:
    scan = cleaned(mesh)
    assert triangle_set(scan.mesh) == triangle_set(mesh)
    assert scan.after.pieces == 1
    assert scan.outside_is_sure


def test_welds_a_soup_back_together() -> None:
    scan = cleaned(soup(SPHERE))
    assert scan.mesh.is_closed
    assert len(scan.mesh.vertices) == len(SPHERE.vertices)
    assert said(scan, f"{3 * len(SPHERE.faces) - len(SPHERE.vertices)} vertices at another's place")


def test_inside_out_is_turned_over() -> None:
    assert triangle_set(cleaned(SPHERE.flipped()).mesh) == triangle_set(SPHERE)
    open_scan = cleaned(BOARD.flipped())
    assert triangle_set(open_scan.mesh) == triangle_set(BOARD)
    assert said(open_scan, "inside out")


def test_a_bare_hollow_and_a_flat_sheet_keep_the_side_of_the_file_and_say_so() -> None:
    step = np.linspace(-40, 40, 41)
    hollow = grid(step, step, lambda x, y: (x**2 + y**2) / 60)
    for sheet in (hollow, hollow.flipped(), grid(step, step, lambda x, y: 0 * x)):
        scan = cleaned(sheet)
        assert triangle_set(scan.mesh) == triangle_set(sheet)
        assert not scan.outside_is_sure
        assert said(scan, "its outer side is not sure")


def test_flipped_patches_are_turned_back() -> None:
    middle = SPHERE.triangles.mean(axis=1)
    is_over = (middle[:, 0] > 10) | ((middle[:, 2] > 20) & (np.arange(len(middle)) % 3 == 0))
    faces = SPHERE.faces.copy()
    faces[is_over] = faces[is_over][:, ::-1]
    scan = cleaned(TriMesh(SPHERE.vertices, faces))
    assert triangle_set(scan.mesh) == triangle_set(SPHERE)
    assert scan.before.turned_edges > 0 and scan.after.turned_edges == 0


def test_a_moebius_band_is_cut_and_said() -> None:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    rows = [np.stack([(30 + w * np.cos(turn / 2)) * np.cos(turn), (30 + w * np.cos(turn / 2)) * np.sin(turn),
                      w * np.sin(turn / 2)], axis=1) for w in (-6.0, 0.0, 6.0)]  # fmt: skip
    faces = []
    for i in range(60):
        for row in (0, 1):
            here = (row * 60 + i, (row + 1) * 60 + i)
            after = (row * 60 + i + 1, (row + 1) * 60 + i + 1) if i < 59 else ((2 - row) * 60, (1 - row) * 60)
            faces += [[here[0], after[0], here[1]], [here[1], after[0], after[1]]]
    scan = cleaned(TriMesh(np.concatenate(rows), faces))
    assert said(scan, "one side only")
    assert len(scan.mesh.faces) == 240


def test_bad_vertices_and_faces_go_and_their_gaps_are_filled() -> None:
    vertices = SPHERE.vertices.copy()
    vertices[1000] = np.nan
    vertices[1500, 1] = np.inf
    faces = np.concatenate([SPHERE.faces, SPHERE.faces[100:103], [[5, 5, 6]], SPHERE.faces[200:201, ::-1]])
    scan = cleaned(TriMesh(np.concatenate([vertices, [[1.0, 2.0, 3.0]]]), faces))
    assert (scan.before.not_finite_points, scan.before.unused_points) == (2, 1)
    assert (scan.before.repeated_faces, scan.before.faces_without_area) == (4, 1)
    assert scan.mesh.is_closed
    assert scan.filled_holes == 2
    assert scan.mesh.volume == pytest.approx(SPHERE.volume, rel=1e-3)


def test_a_face_without_area_leaves_no_crack() -> None:
    # The middle of an edge is used by one side only: a triangle without area stands in the seam.
    a, b, c = SPHERE.faces[500]
    vertices = np.concatenate([SPHERE.vertices, [SPHERE.vertices[[a, b]].mean(axis=0)]])
    new = len(SPHERE.vertices)
    faces = np.concatenate([np.delete(SPHERE.faces, 500, axis=0), [[a, new, c], [new, b, c], [a, b, new]]])
    scan = cleaned(TriMesh(vertices, faces))
    assert scan.mesh.is_closed
    assert scan.after.faces_without_area == 0
    assert scan.mesh.volume == pytest.approx(SPHERE.volume, rel=1e-9)
    assert scan.filled_holes == 0


def test_a_spike_ten_kilometers_off_and_a_needle_are_taken_out() -> None:
    vertices = SPHERE.vertices.copy()
    vertices[777] = (1e7, 0, 0)
    vertices[2000] *= 2.5
    scan = cleaned(TriMesh(vertices, SPHERE.faces))
    assert said(scan, "up to 10 km")
    assert said(scan, "Needles out of the surface dropped: 1 vertex")
    assert scan.mesh.is_closed
    assert np.abs(np.linalg.norm(scan.mesh.vertices, axis=1) - 30).max() < 0.5


def test_a_fin_on_the_surface_is_cut_off() -> None:
    a, b = SPHERE.faces[900, :2]
    vertices = np.concatenate([SPHERE.vertices, [1.1 * SPHERE.vertices[[a, b]].mean(axis=0)]])
    fin = TriMesh(vertices, np.concatenate([SPHERE.faces, [[a, b, len(vertices) - 1]]]))
    scan = cleaned(fin)
    assert scan.before.crowded_edges == 1
    assert triangle_set(scan.mesh) == triangle_set(SPHERE)


def test_debris_and_what_the_part_stood_on_go_and_the_part_stays() -> None:
    turn = np.linspace(-0.6, 0.6, 60)
    ring = grid(np.linspace(100, 135, 15), turn, lambda r, t: 0 * r)
    radius, angle = ring.vertices[:, 0].copy(), ring.vertices[:, 1].copy()
    stand = TriMesh(np.stack([radius * np.cos(angle), radius * np.sin(angle), 0 * angle - 27], axis=1), ring.faces)
    crumbs = [moved(sphere(2.0, 6, 8), (x, 20.0, 30.0)) for x in (-60.0, 0.0, 60.0)]
    flake = moved(grid(np.arange(0, 12.1), np.arange(0, 12.1), lambda x, y: 0.2 * x), (-6.0, -40.0, 6.0))
    for pose in (np.eye(4), np.array([[0, 0, 1, 9], [1, 0, 0, 5], [0, 1, 0, -7], [0, 0, 0, 1.0]])):
        scan = cleaned(joined(*crumbs, stand, flake, BOARD).transformed(pose))
        assert triangle_set(scan.mesh) == triangle_set(BOARD.transformed(pose))
        assert said(scan, "what the part stood on")
        assert said(scan, "4 loose pieces")


def test_a_torn_scan_keeps_both_halves() -> None:
    is_right = BOARD.triangles.mean(axis=1)[:, 0] > 20
    middle = BOARD.triangles.mean(axis=1)[:, 0]
    torn = joined(BOARD.submesh(is_right), BOARD.submesh(middle < -20))
    scan = cleaned(torn)
    assert triangle_set(scan.mesh) == triangle_set(torn)
    assert said(scan, "1 loose piece of 252 cm2 kept")


def test_thousands_of_islands_of_one_surface_are_kept() -> None:
    fine = board(1.5)
    middle = fine.triangles.mean(axis=1)[:, :2]
    torn = fine.submesh(((np.abs(middle) % 6.0) > 1.5).all(axis=1))
    before = scan_facts(torn)
    assert before.pieces > 1000
    scan = cleaned(torn, widest_filled_mm=0)
    assert scan.mesh.area == pytest.approx(torn.area, rel=0.02)
    assert len(scan.notes) < 6


def test_a_pile_of_triangles_that_share_no_corner_is_refused() -> None:
    corners = BOARD.triangles.reshape(-1, 3) + np.random.default_rng(1).normal(0, 0.1, (3 * len(BOARD.faces), 3))
    pile = TriMesh(corners, np.arange(len(corners)).reshape(-1, 3))
    with pytest.raises(ScanError, match=rf"base scan does not hold together: {len(BOARD.faces)} pieces") as caught:
        cleaned(pile, role="base scan")
    assert "share their corners" in caught.value.hint


def test_many_pieces_inside_out_give_one_note() -> None:
    balls = joined(*(moved(SPHERE, (100.0 * place, 0, 0)).flipped() for place in range(5)))
    scan = cleaned(balls)
    assert next(note for note in scan.notes if "inside out" in note).startswith("5 pieces of the scan came inside out")
    assert sum("inside out" in note for note in scan.notes) == 1


def test_a_table_larger_than_the_part_is_not_taken_for_the_part() -> None:
    table = moved(grid(np.arange(-90, 91, 6.0), np.arange(-90, 91, 6.0), lambda x, y: 0 * x), (0.0, 0.0, -33.0))
    scan = cleaned(joined(table, SPHERE))
    assert triangle_set(scan.mesh) == triangle_set(SPHERE)
    assert said(scan, "table")


@pytest.mark.parametrize("seed", range(3))
def test_small_holes_are_filled_along_the_bend(seed: int) -> None:
    """A cap of 8 mm radius on a sphere of 30 mm is 1.09 mm high; the filling must find it."""
    fine = sphere(30.0, 90, 180)
    holed = without(without(fine, (30.0, 0, 0), 8.0), (0, -18.0, 24.0), 5.0)
    noise = np.random.default_rng(seed).normal(0, 0.0 if seed == 0 else 0.1, (len(holed.vertices), 1))
    rough = TriMesh(holed.vertices * (1 + noise / 30.0), holed.faces)
    scan = cleaned(rough, widest_filled_mm=20.0)
    assert scan.mesh.is_closed and scan.filled_holes == 2
    new = np.linalg.norm(scan.mesh.vertices[-scan.new_vertices :], axis=1) - 30.0
    # Without noise what is left is the chords of the mesh (30 (1 - cos 1 deg) = .005) and the end of the quadratic
    # part (8^4 / (8 x 30^3) = .02); with 0.1 mm of noise it may not exceed the noise itself.
    assert np.sqrt((new**2).mean()) < (0.03 if seed == 0 else 0.1)
    assert triangle_set(rough) <= triangle_set(scan.mesh)


def test_a_hole_across_a_sharp_edge_is_closed() -> None:
    top = grid(np.arange(0, 41, 1.0), np.arange(-20, 21, 1.0), lambda x, y: -np.maximum(x - 20, 0) * 8.0)
    scan = cleaned(without(top, (20.0, 0.0, 0.0), 5.0))
    assert scan.filled_holes == 1
    assert len(scan.after.holes) == 1
    assert scan.after.turned_edges == 0 and scan.after.crowded_edges == 0


def test_the_open_bottom_and_wide_holes_stay_open_and_islands_get_no_lid() -> None:
    gap = without(BOARD, (0.0, 0.0, 0.0), 30.0)
    island = moved(grid(np.arange(-9, 10, 3.0), np.arange(-9, 10, 3.0), lambda x, y: 0 * x), (0.0, 0.0, 0.5))
    scan = cleaned(joined(gap, island))
    assert scan.filled_holes == 0
    assert said(scan, "1 hole stays open, wider than 40 mm: the widest 60 mm across")
    assert all(hole.perimeter > 100 for hole in scan.after.holes)
    assert len(cleaned(gap, widest_filled_mm=200.0).after.holes) == 1


def test_colors_go_with_their_vertices_into_fillings() -> None:
    colors = np.full((len(SPHERE.vertices), 4), (200, 40, 10, 255), dtype=np.uint8)
    holed = without(TriMesh(SPHERE.vertices, SPHERE.faces, colors), (30.0, 0, 0), 6.0)
    scan = cleaned(holed, widest_filled_mm=20.0)
    assert scan.new_vertices > 0
    assert scan.mesh.colors is not None and (scan.mesh.colors == colors[0]).all()


def test_steps_grow_to_one_and_the_input_is_not_changed() -> None:
    before = BOARD.vertices.tobytes(), BOARD.faces.tobytes()
    steps = list(clean_scan(BOARD))
    assert all(isinstance(step, Progress) for step in steps)
    assert [s.fraction for s in steps] == sorted(s.fraction for s in steps) and steps[-1].fraction == 1.0
    assert (BOARD.vertices.tobytes(), BOARD.faces.tobytes()) == before


def test_nothing_usable_is_refused_with_the_role() -> None:
    with pytest.raises(ScanError, match=r"The base scan has 1 triangle and none can be used"):
        cleaned(TriMesh(np.eye(3), [[0, 0, 1]]), role="base scan")


def test_facts_count_what_is_there() -> None:
    holed = without(SPHERE, (30.0, 0, 0), 6.0)
    facts = scan_facts(joined(holed, moved(SPHERE, (100.0, 0, 0))))
    assert (facts.pieces, len(facts.holes), facts.closed) == (2, 1, False)
    assert facts.holes[0].center[0] == pytest.approx(29.2, abs=0.5)
    assert facts.holes[0].edge_count == facts.open_edges
    assert facts.size == pytest.approx((160.0, 60.0, 60.0), rel=0.01)
    assert scan_facts(SPHERE).closed
    assert scan_facts(SPHERE).volume == pytest.approx(SPHERE.volume)
    assert any("closed" in line for line in scan_facts(SPHERE).lines())


def test_facts_of_an_untouched_scan_are_those_of_a_fresh_look():
    x, y = np.meshgrid(np.linspace(-40, 40, 41), np.linspace(-30, 30, 31), indexing="ij")
    points = np.stack([x, y, 0.01 * (x**2 + y**2)], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(40), np.arange(30), indexing="ij")
    a = (i * 31 + j).ravel()
    faces = np.concatenate([np.stack([a, a + 31, a + 32], 1), np.stack([a, a + 32, a + 1], 1)])
    # Every corner a point of its own, as in an STL, and one point that no face uses.
    soup = TriMesh(
        np.concatenate([points[faces].reshape(-1, 3), [[0.0, 0.0, 99.0]]]), np.arange(faces.size).reshape(-1, 3)
    )
    cleaned = drain(clean_scan(soup))
    assert len(cleaned.mesh.faces) == len(faces)
    assert cleaned.after == scan_facts(cleaned.mesh)


def test_what_was_mended_is_what_the_file_has_not_and_what_it_had() -> None:
    flake = np.array([[0.0, 0.0, 60.0], [3.0, 0.0, 60.0], [0.0, 3.0, 60.0]])
    middle = BOARD.triangles.mean(axis=1)
    at = middle[np.argmax(middle[:, 2])]
    in_hole = np.linalg.norm(middle - at, axis=1) < 5.0
    start = len(BOARD.vertices)
    scan = cleaned(
        TriMesh(
            np.concatenate([BOARD.vertices, flake, [[np.nan, 0.0, 0.0]]]),
            np.concatenate([BOARD.faces[~in_hole], [[start, start + 1, start + 2]]]).astype(np.int32),
        )
    )
    assert scan.filled_holes == 1
    new, lost = scan.mended.new, scan.mended.left_out
    assert len(new.faces) == len(scan.mesh.faces) - np.count_nonzero(~in_hole)
    assert np.linalg.norm(new.triangles.mean(axis=1) - at, axis=1).max() < 7.0
    assert lost.triangles.tolist() == [flake.tolist()]
    assert not cleaned(BOARD).mended.is_any and not cleaned(soup(SPHERE)).mended.is_any
    twice = cleaned(TriMesh(SPHERE.vertices, np.concatenate([SPHERE.faces, SPHERE.faces[:1]])))
    assert len(twice.mended.left_out.faces) == 0  # its twin is still there
