"""Alignment where the scans cannot tell: the paired test, the numbered candidates, and taking one of them."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from padwright.cli.main import make_files
from padwright.cli.poses import tell_poses
from padwright.core.base.errors import InputError, PadwrightError, SolveError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.notes import Weight, weight_of
from padwright.core.base.progress import Progress, Steps, drain
from padwright.core.geometry.frames import motion_between, rigid, rotations_from_vectors
from padwright.core.run.pipeline import RunResult
from padwright.core.stages.alignment.align import align_scans
from padwright.core.stages.alignment.candidates import Candidate, UnsurePoseError, taken, turn_words
from padwright.core.stages.alignment.refine import Explained, RefinedPose
from padwright.core.stages.alignment.rivals import Found, compared
from support.cases import Case, make_case
from support.scanned import board, sphere

pytestmark = pytest.mark.slow


def turned(vector: tuple[float, float, float]) -> np.ndarray:
    return rigid(rotations_from_vectors(np.array(vector)), np.zeros(3))


def found(values: np.ndarray, is_judged: np.ndarray | None = None) -> Found:
    judged = np.ones(len(values), dtype=bool) if is_judged is None else is_judged
    return Found(RefinedPose(np.eye(4), 0.1, 1.0), Explained(float(values.sum()), 0.3, values, judged), None)  # type: ignore[arg-type]


BLOCKS = np.repeat(np.arange(40, dtype=np.int32), 10)
POINTS = np.eye(3)


def test_a_pose_that_explains_less_in_many_places_is_no_rival_and_one_that_does_in_one_place_is() -> None:
    rng = np.random.default_rng(0)
    best = np.full(400, 0.01) + rng.normal(0.0, 1e-3, 400)
    everywhere = best - 0.001  # in all 40 blocks: the error of the sum is that of one block times the root of 40
    one_place = best.copy()
    one_place[:10] -= 0.04  # as much in all, in one block of ten: one witness
    assert best.sum() - everywhere.sum() == pytest.approx(best.sum() - one_place.sum())
    clear = compared(found(best), found(everywhere), BLOCKS, POINTS)
    unsure = compared(found(best), found(one_place), BLOCKS, POINTS)
    assert not clear.is_rival
    assert unsure.is_rival
    assert clear.behind == pytest.approx(unsure.behind)
    assert unsure.behind_error == pytest.approx(unsure.behind)


def test_what_lies_beyond_a_border_says_nothing() -> None:
    best, other = np.full(400, 0.01), np.full(400, 0.01)
    other[:60] = 0.0  # six blocks that the other pose lays over a hole
    unseen = np.ones(400, dtype=bool)
    unseen[:60] = False
    assert compared(found(best), found(other, unseen), BLOCKS, POINTS).behind == 0.0
    assert compared(found(best), found(other), BLOCKS, POINTS).behind == pytest.approx(0.6)


@pytest.mark.parametrize(
    ("vector", "words"),
    [
        ((np.pi, 0.0, 0.0), "turned 180 degrees about its length"),
        ((0.0, 0.0, np.pi / 2), "turned 90 degrees about its height"),
        ((0.0, 0.0, -np.pi / 2), "turned 90 degrees the other way about its height"),
        ((2.2, 2.2, 0.0), "turned 178 degrees about a slanted axis"),
        ((0.05, 0.0, 0.0), "shifted by 12 mm"),
    ],
)
def test_a_pose_is_told_in_words(vector: tuple[float, float, float], words: str) -> None:
    frame = turned((0.3, -1.0, 0.2))
    assert turn_words(frame, turned(vector) @ frame, np.eye(3), 12.0) == words


def test_a_number_that_no_pose_has_is_refused() -> None:
    one = Candidate(1, np.eye(4), 0.4, 1.0, 0.0, 0.0, False, 0.0, 0.0, "the best")
    assert taken((one,), 1) is one
    with pytest.raises(InputError, match="Pose 2 was asked for, but only pose 1 fit"):
        taken((one,), 2)


@pytest.fixture(scope="module")
def symmetric() -> tuple[Case, UnsurePoseError]:
    case = make_case("square_grip", triangles=12_000, debris=False, turntable=False)
    with pytest.raises(UnsurePoseError, match="distinct poses fit the scans about equally well") as caught:
        drain(align_scans(case.base_mm, case.impression_mm))
    return case, caught.value


def test_a_square_handle_offers_the_true_pose_and_takes_the_one_asked_for(
    symmetric: tuple[Case, UnsurePoseError],
) -> None:
    case, unsure = symmetric
    assert isinstance(unsure, SolveError)
    assert unsure.exit_code == 4
    assert [each.number for each in unsure.candidates] == list(range(1, len(unsure.candidates) + 1))

    def error(matrix: np.ndarray) -> float:
        return motion_between(matrix, case.impression_to_base, case.impression_mm.vertices)

    true = min(unsure.candidates, key=lambda each: error(each.matrix))
    assert error(true.matrix) < 0.3
    got = drain(align_scans(case.base_mm, case.impression_mm, pose=true.number))
    assert got.pose == true.number
    np.testing.assert_array_equal(got.matrix, true.matrix)
    assert true.number not in [each.number for each in got.others]
    assert not any("clearly better" in note for note in got.notes)


def test_a_pose_taken_against_one_that_fits_clearly_better_is_asked_about() -> None:
    case = make_case("seat", triangles=6_000, debris=False, turntable=False)
    got = drain(align_scans(case.base_mm, case.impression_mm, pose=2))
    asked = [note for note in got.notes if weight_of(note) is Weight.ACT and note.startswith("Pose 2 was taken (")]
    assert len(asked) == 1
    told = got.candidates[1]
    assert f"{100.0 * told.explains:.0f} % as much and lies {told.apart_mm:.0f} mm off" in asked[0]


def test_poses_a_few_mm_apart_point_to_the_sizes_first(symmetric: tuple[Case, UnsurePoseError]) -> None:
    assert "one scan is larger" not in symmetric[1].hint  # turned by quarters, not shifted
    case = make_case("seat", triangles=6_000, debris=False, turntable=False)
    with pytest.raises(UnsurePoseError, match="shifted by") as caught:
        drain(align_scans(case.base_mm, case.impression_mm.scaled(1.05)))
    assert caught.value.hint.startswith("Poses a few mm apart often mean that one scan is larger")


def test_the_command_line_leaves_a_picture_of_each_beside_the_folder(
    symmetric: tuple[Case, UnsurePoseError], tmp_path: Path
) -> None:
    _, unsure = symmetric

    def steps() -> Steps[RunResult]:
        yield Progress(0.0, "aligning")
        raise unsure

    options = Namespace(verbose=False, progress=None, only=None, json=False)
    with pytest.raises(SolveError, match=r"pose-1\.png") as caught:
        make_files(options, "PAD-1", tmp_path / "out", steps())
    told = caught.value
    assert told.exit_code == 4
    assert not (tmp_path / "out").exists()
    pictures = [tmp_path / "out.poses" / f"PAD-1.pose-{each.number}.png" for each in unsure.candidates]
    images = [np.asarray(Image.open(path).convert("RGB")).astype(int) for path in pictures]
    for image, each in zip(images, unsure.candidates, strict=True):
        assert f"  {each.number}: {each.words}" in told.message
        is_gray = (np.ptp(image, axis=2) < 8) & (image.max(axis=2) < 200)
        is_orange = image[:, :, 0] - image[:, :, 2] > 60
        # Both scans are there to see in both views.
        for half in (slice(None, 360), slice(360, None)):
            assert is_gray[:, half].mean() > 0.002
            assert is_orange[:, half].mean() > 0.02
    assert all((images[0] != image).any() for image in images[1:])
    assert str(tmp_path / "out.poses") in told.message
    assert "[alignment] pose" in told.hint


def test_a_picture_that_cannot_be_written_hides_no_candidate(
    symmetric: tuple[Case, UnsurePoseError], tmp_path: Path
) -> None:
    (tmp_path / "out.poses").write_text("in the way")
    told = tell_poses(symmetric[1], "PAD-1", tmp_path / "out")
    assert "could not be written" in told.message
    assert "  2: turned" in told.message


@pytest.mark.parametrize(
    ("base", "impression"),
    [
        (sphere(30.0), sphere(50.0)),
        (sphere(30.0), sphere(34.0)),
        (sphere(30.0), board().scaled(0.4)),
        (TriMesh(board(6.0).vertices * [1.0, 1.0, 0.0], board(6.0).faces),) * 2,
    ],
    ids=["spheres apart", "sphere all in clay", "other things", "flat twice"],
)
def test_scans_without_a_pose_get_a_message(base: TriMesh, impression: TriMesh) -> None:
    with pytest.raises(PadwrightError, match=r"fit|pin") as caught:
        drain(align_scans(base, impression))
    assert not isinstance(caught.value, UnsurePoseError)  # a number would help no one
    assert caught.value.hint
