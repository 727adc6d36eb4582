"""Check lengths that cannot be right: ends off the scan, sizes left open, sizes that contradict each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.job.schema import CheckLength
from padwright.core.stages.scans.scale import fit_scale
from padwright.core.stages.scans.scale_doubts import refuse_lone_factor, refuse_unsure
from padwright.core.stages.scans.scale_points import check_ends
from padwright.core.stages.scans.scale_ratio import size_note, size_ratio
from support.scanned import board, grid

BOARD = board()  # 240 x 180 mm, edges of 3 mm


def ends(start, end, *, unit_mm=1.0, mesh=BOARD, pick=0.3):
    length = CheckLength(name="screws", measured_mm=100.0, from_point=tuple(start), to_point=tuple(end))
    return check_ends(
        [length], mesh, unit_mm, pick_error_mm=pick, edge_mm=3.0, length_mm=240.0, table="base"
    )  # fmt: skip


def on_board(index, above=0.0):
    return BOARD.vertices[index] + [0.0, 0.0, above]


MIDDLE = len(BOARD.vertices) // 2


def test_ends_on_the_scan_are_taken_without_a_word():
    assert ends(on_board(MIDDLE), on_board(MIDDLE + 9, 0.8)) == ()


def test_an_end_a_little_beside_is_told_and_one_far_off_is_refused_with_distance_and_nearest_place():
    (note,) = ends(on_board(MIDDLE), on_board(MIDDLE + 9, 4.0))
    assert '"to" of check length "screws"' in note and "mm away from the base scan" in note
    with pytest.raises(InputError, match=r'end "from" .* lies 170 mm away .*more than 6 mm') as caught:
        ends(on_board(MIDDLE, 170.3), on_board(MIDDLE))
    assert caught.value.key == ("base", "check_lengths", 0, "from")
    nearest = np.array(caught.value.hint.split("(")[1].split(")")[0].split(","), dtype=float)
    assert np.linalg.norm(nearest - on_board(MIDDLE)) < 30.0  # the board is wavy, so not exactly below


def test_distances_are_told_in_mm_and_in_the_files_own_numbers():
    with pytest.raises(InputError, match=r"lies 25\.\d mm away from the base scan, (0\.99\d|1) in the file's numbers"):
        ends(on_board(MIDDLE, 25.4 + 0.05) / 25.4, on_board(MIDDLE) / 25.4, unit_mm=25.4)


def test_a_wide_picking_error_and_vertices_that_are_no_numbers_are_heeded():
    lost = np.concatenate([BOARD.vertices, [[np.nan] * 3]])
    broken = TriMesh(lost, np.concatenate([BOARD.faces, [[0, 1, len(BOARD.vertices)]]]))
    assert ends(on_board(MIDDLE), on_board(MIDDLE, 8.0), pick=3.0, mesh=broken) == ()


def lengths(scan, measured, limits=0.2):
    return [
        CheckLength(
            name=f"l{i}",
            measured_mm=float(hand),
            plus_minus_mm=limits,
            from_point=(0.0, 10.0 * i, 0.0),
            to_point=(float(x), 10.0 * i, 0.0),
        )
        for i, (x, hand) in enumerate(zip(scan, measured, strict=True))
    ]


def judge(scan, measured, **options):
    refuse_unsure(fit_scale(lengths(scan, measured, **options), 1.0), "base scan")


def test_a_typo_in_one_of_two_lengths_says_that_one_of_the_two_is_wrong():
    with pytest.raises(InputError, match=r'"l0" and "l1" want factors 1\.0000 and 1\.0401: one of the two is wrong'):
        judge([480.0, 499.0], [480.0, 519.0])


def test_of_three_lengths_the_one_with_the_typo_is_named():
    with pytest.raises(InputError, match=r'Without "l2" the others agree') as caught:
        judge([480.0, 300.0, 499.0], [480.4, 299.8, 519.0])
    assert 'Measure "l2" again' in caught.value.hint
    with pytest.raises(InputError, match="No one of them alone"):
        judge([200.0, 200.0, 200.0], [200.0, 206.0, 212.0])


def test_an_outlier_that_moves_the_size_by_more_than_a_percent_is_refused_by_name():
    good = np.array([300.0, 310.0, 250.0, 499.0])
    with pytest.raises(InputError, match=r'"l3" of the base scan does not fit the other 3 .* by \+2\.\d %'):
        judge(good, good + np.array([0.1, -0.1, 0.05, 20.0]))
    judge(good, good + np.array([0.1, -0.1, 0.05, 2.0]))  # 2 mm moves it by 0.2 %: told, not refused


def test_a_length_too_short_to_tell_the_size_is_refused():
    with pytest.raises(InputError, match=r"leave its size open by \+/- 6\.\d+ %") as caught:
        judge([10.0], [10.0])
    assert "Measure longer distances" in caught.value.hint
    judge([100.0], [100.0])


def test_honest_lengths_are_hardly_ever_refused():
    """Of 2,000 sets of two or three lengths with errors as stated, 1.5 % or less: the test of contradiction has 1 %."""
    dice = np.random.default_rng(17)
    refused = 0
    for _ in range(2000):
        true = dice.uniform(60, 350, dice.integers(2, 4))
        try:
            judge(true / 0.99 + dice.normal(0, 0.3, len(true)), true + dice.uniform(-0.2, 0.2, len(true)))
        except InputError:
            refused += 1
    assert refused <= 45  # 3 standard deviations of a binomial above 1.5 %


@pytest.mark.parametrize("factor", [0.762, 0.88, 1.15, 1.4])
def test_a_large_correction_by_one_length_alone_asks_for_a_second(factor):
    with pytest.raises(InputError, match=rf'"l0" alone would scale the base scan by {factor:g}'):
        refuse_lone_factor(fit_scale(lengths([300.0], [300.0 * factor]), 1.0), "base scan")
    both = fit_scale(lengths([300.0, 200.0], [300.0 * factor, 200.0 * factor]), 1.0)
    refuse_lone_factor(both, "base scan")
    refuse_lone_factor(fit_scale(lengths([300.0], [300.0 * 1.06]), 1.0), "base scan")


def wavy(noise_mm: float, seed: int) -> TriMesh:
    """Return the board with noise that hangs together over a few centimeters, and clay of 10 mm in its middle."""
    dice = np.random.default_rng(seed)
    waves = [(dice.normal(size=2) / dice.uniform(4, 30), dice.uniform(0, 2 * np.pi)) for _ in range(40)]
    mesh = board(2.0)
    at = mesh.vertices
    rough = sum(np.sin(2 * np.pi * (at[:, :2] @ way / 6.28) + phase) for way, phase in waves)
    moved = at.copy()
    moved[:, 2] += noise_mm * rough / rough.std()
    return TriMesh(moved, mesh.faces)


def with_clay(mesh: TriMesh) -> TriMesh:
    at = mesh.vertices.copy()
    is_clay = np.linalg.norm(at[:, :2] / [70, 55], axis=1) < 1
    at[is_clay, 2] += 10.0
    return TriMesh(at, mesh.faces)


@pytest.mark.parametrize("grown", [0.985, 0.994, 1.0, 1.006, 1.015])
def test_the_size_that_two_scans_imply_is_found_with_its_error(grown):
    """Errors of correlated noise: the truth lies within four of the stated standard errors and 0.2 %."""
    for seed in range(3):
        impression = with_clay(wavy(0.3, seed))
        grown_mesh = replace(impression, vertices=impression.vertices * grown)
        found = size_ratio(wavy(0.3, 100 + seed), grown_mesh, 2.0)
        assert found is not None
        assert abs(found.value * grown - 1.0) < min(4.0 * found.standard_error + 1e-4, 0.002)
        assert found.is_off == (grown != 1.0)


def test_a_flat_sheet_tells_no_size():
    step = np.arange(-100, 100.1, 4.0)
    flat = grid(step, step, lambda across, along: 0 * across)
    shrunk = TriMesh(flat.vertices * 0.9, flat.faces)
    found = size_ratio(flat, shrunk, 2.0)
    assert found is None or not found.is_off


def test_what_is_said_of_sizes_is_in_percent_and_mm():
    found = size_ratio(
        wavy(0.1, 1), replace(with_clay(wavy(0.1, 2)), vertices=with_clay(wavy(0.1, 2)).vertices / 1.01), 2.0
    )
    assert found is not None
    said = size_note(found, 240.0, is_taken_over=True)
    assert "1.0 % larger" in said and "2.4 mm on 240 mm" in said and "check length of its own" in said
    alone = size_note(found, 240.0, is_taken_over=True, base_factor=1.0 / 1.02)
    assert "the base was made 2.0 % smaller" in alone and 'write scale = "as base"' in alone
    assert "taken from the base" not in alone and "taken from the base" in said
