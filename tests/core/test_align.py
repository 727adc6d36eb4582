"""Alignment: the true pose from any pose, an honest refusal where there is none, and pairs that are checked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError, ScanError, SolveError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import Progress, drain
from padwright.core.geometry.frames import motion_between, moved, rigid, rotation_angle_deg, rotations_from_vectors
from padwright.core.stages.alignment.align import BELIEVED, FoundAlignment, align_scans, lopsided_note, refuse_if_unsure
from padwright.core.stages.alignment.implied_scale import scale_of_pairs
from padwright.core.stages.alignment.pairs import PICKING_MM, align_by_pairs
from padwright.core.stages.alignment.search import even_rotations
from support.cases import Case, make_case

FAR_OFF = rigid(rotations_from_vectors(np.array([1.1, -2.0, 0.4])), np.array([300.0, -150.0, 80.0]))


def clean_case(kind: str, triangles: int = 30_000, **options: object) -> Case:
    """A case without debris: cleaning is not tested here."""
    return make_case(kind, triangles=triangles, debris=False, turntable=False, **options)  # type: ignore[arg-type]


def errors(matrix: np.ndarray, case: Case) -> tuple[float, float]:
    """Mean distance over the whole impression (mm) and turn (degrees) from the truth."""
    truth = case.impression_to_base
    turn = matrix[:3, :3] @ truth[:3, :3].T
    return motion_between(matrix, truth, case.impression_mm.vertices), rotation_angle_deg(turn)


def landmark_pairs(case: Case, wobble: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Points of the bare base as a person would pick them on both scans, each off by `wobble` mm in every direction."""
    scale = case.mm_per_unit
    on_base = np.array([p for length in case.lengths for p in (length.base_from, length.base_to)])
    on_impression = np.array([p for length in case.lengths for p in (length.impression_from, length.impression_to)])
    rng = np.random.default_rng(4)
    return (
        on_base * scale * case.base_factor + rng.normal(scale=wobble, size=on_base.shape),
        on_impression * scale * case.impression_factor + rng.normal(scale=wobble, size=on_base.shape),
    )


@pytest.fixture(scope="module")
def seat() -> Case:
    return clean_case("seat", 60_000, seed=1)


@pytest.fixture(scope="module")
def seat_found(seat: Case) -> FoundAlignment:
    return drain(align_scans(seat.base_mm, seat.impression_mm))


def test_a_seat_is_found_from_any_pose_to_the_project_s_aim(seat: Case, seat_found: FoundAlignment) -> None:
    distance, angle = errors(seat_found.matrix, seat)
    assert distance < 0.3
    assert angle < 0.1
    assert np.linalg.det(seat_found.matrix[:3, :3]) == pytest.approx(1.0, abs=1e-9)
    assert seat_found.margin > 0.05


def test_the_evidence_agrees_with_the_truth(seat: Case, seat_found: FoundAlignment) -> None:
    # Overlap leaves out hole rims and clay's edge, the truth does not: a tenth of the surface at most.
    assert seat_found.overlap == pytest.approx(seat.truth.overlap_share, abs=0.1)
    # Each scan has 0.3 mm of noise; averaging takes some of it off, never adds to it.
    assert 0.05 < seat_found.noise_mm < 0.3 * np.sqrt(2.0)
    assert seat_found.rms_mm < seat_found.p95_mm < seat_found.tolerance_mm
    # Six unknowns: the error stays below two standard errors of the whole pose but for 1 in 10^3 (chi-square).
    distance, _ = errors(seat_found.matrix, seat)
    assert distance < 2.0 * seat_found.standard_error_mm < 0.3
    assert not any(motion.is_loose for motion in seat_found.motions)
    assert len({motion.name for motion in seat_found.motions}) == 6


def test_held_back_points_agree_with_the_pose_and_not_with_a_wrong_one(seat: Case, seat_found: FoundAlignment) -> None:
    assert seat_found.check.share_on == pytest.approx(seat_found.overlap, abs=0.1)
    assert seat_found.check.share_inside < 0.005
    # Points stand off triangles with the noise of both scans at most: the median of a half normal is 0.6745 sigma.
    assert seat_found.check.median_mm < 0.6745 * 0.3 * np.sqrt(2.0)
    assert abs(seat_found.check.bias_mm) < 0.1


@pytest.mark.slow
def test_lopsided_gaps_are_told_where_much_is_explained_and_refused_where_little_is(
    seat: Case, seat_found: FoundAlignment
) -> None:
    # Clay that feathers out over 13 mm of an insole: 0.15 mm over all, 0.02 mm on the base's side, 59 % explained.
    feathered = replace(seat_found, rms_mm=0.15, noise_mm=0.02, expected_noise_mm=0.054, score=0.59)
    assert feathered.is_lopsided and not seat_found.is_lopsided
    refuse_if_unsure(feathered, seat.base_mm, seat.impression_mm, is_chosen=False)
    assert "0.15 mm over all and 0.02 mm" in lopsided_note(feathered)
    for score in (0.18, 0.99 * BELIEVED):
        with pytest.raises(SolveError, match="lopsided"):
            refuse_if_unsure(replace(feathered, score=score), seat.base_mm, seat.impression_mm, is_chosen=False)


def test_a_round_grip_is_refused_with_its_loose_motion_named() -> None:
    case = clean_case("round_grip", 40_000)
    with pytest.raises(SolveError, match="turn about its length") as caught:
        drain(align_scans(case.base_mm, case.impression_mm))
    assert "Pick three or more point pairs" in caught.value.hint
    base_points, impression_points = landmark_pairs(case)
    found = align_by_pairs(case.base_mm, case.impression_mm, base_points, impression_points)
    assert found.loosest == "a turn about its length"
    assert errors(found.matrix, case)[0] < 1.0  # picking holds the loose turn, to about 1 mm
    assert any("Only the picked pairs hold" in note for note in found.notes)


@pytest.mark.slow
def test_two_scans_of_different_things_are_refused() -> None:
    base, other = clean_case("insole", 20_000), clean_case("liner", 20_000)
    with pytest.raises(SolveError):
        drain(align_scans(base.base_mm, other.impression_mm))


def test_picked_pairs_are_refined_to_the_same_pose(seat: Case, seat_found: FoundAlignment) -> None:
    pairs = landmark_pairs(seat, wobble=1.0)
    rough = align_by_pairs(seat.base_mm, seat.impression_mm, *pairs, refined=False)
    fine = align_by_pairs(seat.base_mm, seat.impression_mm, *pairs)
    assert errors(rough.matrix, seat)[0] > 0.3  # 1 mm of picking error is not good enough alone
    assert errors(fine.matrix, seat)[0] < 0.3
    assert motion_between(fine.matrix, seat_found.matrix, seat.impression_mm.vertices) < 0.1
    assert len(fine.pair_misses_mm) == len(pairs[0])


def test_moving_both_scans_and_shuffling_vertices_moves_the_answer_along(seat: Case) -> None:
    pairs = landmark_pairs(seat)
    first = align_by_pairs(seat.base_mm, seat.impression_mm, *pairs)
    order = np.random.default_rng(2).permutation(len(seat.base_mm.vertices))
    rank = np.argsort(order).astype(np.int32)
    shuffled = TriMesh(seat.base_mm.vertices[order], rank[seat.base_mm.faces])
    second = align_by_pairs(shuffled.transformed(FAR_OFF), seat.impression_mm, moved(FAR_OFF, pairs[0]), pairs[1])
    # Cells are laid on anew, so averages change within noise: some hundredths of a millimeter.
    assert motion_between(second.matrix, FAR_OFF @ first.matrix, seat.impression_mm.vertices) < 0.1


def test_same_scans_same_answer(seat: Case) -> None:
    pairs = landmark_pairs(seat)
    first, second = (align_by_pairs(seat.base_mm, seat.impression_mm, *pairs) for _ in range(2))
    np.testing.assert_array_equal(first.matrix, second.matrix)


def test_pairs_and_surfaces_tell_a_scale_that_contradicts_the_one_taken(seat: Case, seat_found: FoundAlignment) -> None:
    on_base, on_impression = landmark_pairs(seat)
    too_small = seat.impression_mm.scaled(1.0 / 1.006)
    found = align_by_pairs(seat.base_mm, too_small, on_base, on_impression / 1.006)
    pairs, surfaces = found.scale_implied
    assert pairs.factor == pytest.approx(1.006, abs=1e-6)  # picked without error here
    assert surfaces.factor == pytest.approx(1.006, abs=4.0 * surfaces.standard_error)
    assert surfaces.standard_error < 0.001
    # Six points picked to a millimeter tell the scale to a third of a percent, the surfaces ten times as well.
    assert surfaces.contradicts and not pairs.contradicts
    clear = scale_of_pairs(on_base, on_impression / 1.02, PICKING_MM)
    assert clear.contradicts
    assert "2.00 % larger" in clear.note(300.0) and "scale contradicts the base's" in clear.note(300.0)
    (right,) = seat_found.scale_implied
    assert not right.contradicts
    assert right.factor == pytest.approx(1.0, abs=4.0 * right.standard_error)


def test_pairs_that_lay_the_scans_into_each_other_are_refused(seat: Case) -> None:
    on_base, on_impression = landmark_pairs(seat)
    inward = -9.0 * seat.base_pose[:3, 2]  # the board's own height, down into it
    with pytest.raises(InputError, match="where none can be"):
        align_by_pairs(seat.base_mm, seat.impression_mm, on_base + inward, on_impression, refined=False)


def test_mirrored_pairs_never_give_a_mirror(seat: Case) -> None:
    impression_points = np.random.default_rng(0).normal(size=(6, 3)) * 60.0
    mirrored = impression_points * [-1.0, 1.0, 1.0]
    with pytest.raises(InputError, match="misses by"):
        align_by_pairs(seat.base_mm, seat.impression_mm, mirrored, impression_points)
    # Small enough to pass for picking errors, a mirror still comes out as a turn, and is told.
    found = align_by_pairs(seat.base_mm, seat.impression_mm, mirrored * 0.05, impression_points * 0.05, refined=False)
    assert np.linalg.det(found.matrix[:3, :3]) == pytest.approx(1.0, abs=1e-9)
    assert any("mirror image" in note for note in found.notes)


@pytest.mark.parametrize(
    ("base_points", "impression_points", "says"),
    [
        (np.zeros((2, 3)), np.zeros((2, 3)), "2 point pairs were given; 3 or more"),
        (np.zeros((3, 3)), np.zeros((4, 3)), r"got \(3, 3\) and \(4, 3\)"),
        (np.outer([0.0, 50.0, 110.0], [1.0, 2.0, 0.5]), np.eye(3) * 50.0, "base scan lie on one line"),
        (np.eye(3) * 50.0, np.outer([0.0, 50.0, 110.0], [1.0, 2.0, 0.5]), "impression scan lie on one line"),
        (np.eye(3) * 50.0, np.eye(3) * 90.0, "misses by"),
        (np.full((3, 3), np.nan), np.eye(3) * 50.0, "not finite"),
    ],
)
def test_bad_pairs_are_refused(seat: Case, base_points: np.ndarray, impression_points: np.ndarray, says: str) -> None:
    with pytest.raises(InputError, match=says):
        align_by_pairs(seat.base_mm, seat.impression_mm, base_points, impression_points)


def test_scans_of_other_units_and_empty_scans_are_refused(seat: Case) -> None:
    with pytest.raises(ScanError, match="times the size of the base scan"):
        drain(align_scans(seat.base_mm, seat.impression_mm.scaled(25.4)))
    nothing = TriMesh(np.zeros((3, 3)), np.array([[0, 1, 2]]))
    with pytest.raises(ScanError, match="1 triangle: too few"):
        drain(align_scans(nothing, seat.impression_mm))


def test_progress_rises_and_the_work_can_be_left(seat: Case) -> None:
    steps = align_scans(seat.base_mm, seat.impression_mm)
    seen: list[Progress] = [next(steps) for _ in range(4)]
    steps.close()
    fractions = [step.fraction for step in seen]
    assert fractions == sorted(fractions)
    assert fractions[0] == 0.0


def test_start_rotations_leave_no_gap() -> None:
    turns = even_rotations(1500).astype(float)
    np.testing.assert_allclose(turns @ turns.transpose(0, 2, 1), np.broadcast_to(np.eye(3), turns.shape), atol=1e-5)
    asked = np.stack([rotations_from_vectors(v) for v in np.random.default_rng(0).normal(size=(200, 3)) * 2.0])
    # trace(A^T B) = 1 + 2 cos(angle)
    trace = np.einsum("aij,bij->ab", asked, turns).max(axis=1)
    assert np.degrees(np.arccos((trace.min() - 1.0) / 2.0)) < 22.0
