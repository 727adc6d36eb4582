"""A job with a scan of the body instead of clay: laid by landmarks, pressed, read as clay is; and its faults."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from padwright.core.base.errors import InputError, PadwrightError, ScanError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.notes import Weight, weight_of
from padwright.core.base.progress import drain
from padwright.core.geometry.frames import moved, rigid, rotations_from_vectors
from padwright.core.job.read import read_job
from padwright.core.run import summary
from padwright.core.run.parts import MadePart
from padwright.core.run.pipeline import check_job, do_stage
from padwright.core.run.stages import STAGES
from padwright.core.stages.body.evidence import body_evidence
from padwright.core.stages.body.pressed import PressedBody
from support.scanned import board, grid, sphere
from support.writers import write_ply

RADIUS = 100.0
MARKS = np.array([[0.0, 0.0, -100.0], [60.0, 0.0, -80.0], [0.0, 60.0, -80.0]])
OVER = np.array([10.0, -5.0, 140.0])
"""Where the ball's middle lies over the board."""

ASIDE = rigid(rotations_from_vectors(np.array([0.4, -1.1, 0.3])), np.array([300.0, 40.0, -70.0]))
"""How the ball's scan lies in its own file."""


def row(point: np.ndarray) -> str:
    return "[" + ", ".join(f"{value:.6f}" for value in point) + "]"


def write(
    folder: Path,
    *,
    body: TriMesh | None = None,
    marks: np.ndarray = MARKS,
    has_pairs: bool = True,
    impression: str = "clay_thickness_mm = 25.0\nimprint_depth_mm = 15.0\n",
    more: str = "",
    load: str = "force_n = 300.0",
    press: str = "[0.0, 0.0, -1.0]",
) -> Path:
    """Write a job of a board and a ball of radius 100 mm; the ball lies aside and is laid by three landmarks."""
    write_ply(board(), folder / "base.ply")
    ball = (sphere(RADIUS, 80, 160) if body is None else body).transformed(ASIDE if has_pairs else np.eye(4))
    write_ply(ball, folder / "ball.ply")
    pairs = "".join(
        f'[[body.pairs]]\nname = "mark {number}"\nbody = {row(on_body)}\nbase = {row(place)}\n'
        for number, (on_body, place) in enumerate(zip(moved(ASIDE, MARKS), marks + OVER, strict=True))
    )
    (folder / "job.toml").write_text(
        'schema = 1\n[part]\nname = "Ball"\nnumber = "BALL-1"\nfamily = "seat_pad"\n'
        '[base]\nscan = "base.ply"\nunit = "mm"\n'
        f"[impression]\n{impression}"
        f'[body]\nscan = "ball.ply"\npress_direction = {press}\n{more}{pairs if has_pairs else ""}'
        f"[load]\n{load}\n",
        "utf-8",
    )
    return folder / "job.toml"


def made(path: Path, last: str = "body") -> MadePart:
    """Return the part after a stage."""
    job = read_job(path)
    check_job(job, path.parent)
    part = MadePart(job)
    for stage in STAGES:
        part = drain(do_stage(stage, part, path.parent))
        if stage.name == last:
            return part
    raise AssertionError(last)


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> MadePart:
    """Return the ball's part after the reading."""
    return made(write(tmp_path_factory.mktemp("ball")), "reading")


def test_a_body_is_laid_by_its_landmarks(read: MadePart) -> None:
    laid = read.of(PressedBody).laid
    assert laid.misses_mm.max() < 1e-3 and laid.names == ("mark 0", "mark 1", "mark 2")
    assert moved(laid.matrix, moved(ASIDE, np.zeros((1, 3))))[0] == pytest.approx(OVER, abs=1e-3)


def test_the_imprint_is_read_as_one_in_clay(read: MadePart) -> None:
    """The imprint is deepest where the ball comes nearest to the board, which waves by 2 mm."""
    clay, reading = read.of(PressedBody).clay, read.reading
    assert clay is not None and reading is not None
    assert clay.found.deepest_mm == pytest.approx(15.0, abs=0.01) and clay.found.force_n == pytest.approx(300.0)
    assert reading.undisturbed.basis == "measured" and reading.undisturbed.rim_mm == pytest.approx(25.0, abs=0.5)
    assert read.aligned is not None
    x, y = np.meshgrid(np.linspace(-40.0, 40.0, 161), np.linspace(-40.0, 40.0, 161), indexing="ij")
    ball = np.sqrt(RADIUS**2 - (x - OVER[0]) ** 2 - (y - OVER[1]) ** 2)
    nearest = np.argmax(2.0 * np.sin(x / 25.0) * np.cos(y / 30.0) + ball)  # `board`
    deepest = read.aligned.vertices[np.argmax(reading.imprint_depth)]
    assert deepest[:2] == pytest.approx([x.flat[nearest], y.flat[nearest]], abs=4.0)  # two places of the grid
    # Averaged over 5 mm the bottom of a ball of 100 mm rises by 0.1 mm.
    assert reading.imprint_depth.max() == pytest.approx(15.0, abs=0.3)
    # The clay is thinnest where the board waves up; the ball's own lowest place lies within what is told of that.
    assert reading.load_centers
    for center in reading.load_centers:
        assert np.linalg.norm(center.position_mm[:2] - OVER[:2]) < center.plus_minus_mm
    # What counts as contact is 2 mm deep; around it flesh lies flat on clay that holds.
    assert 0.4 * clay.found.contact_cm2 < reading.contact_area_cm2 < clay.found.contact_cm2


def test_the_clay_ends_in_a_smooth_line(read: MadePart) -> None:
    """Half way up its wall the line around the imprint is even: no row of the places of the grid."""
    clay = read.of(PressedBody).clay
    assert clay is not None
    edge = np.unique(np.sort(clay.mesh.edges, axis=1), axis=0)
    low, high = (clay.mesh.vertices[edge[:, end]] for end in (0, 1))
    cut = (low[:, 2] < 13.0) != (high[:, 2] < 13.0)
    low, high = low[cut], high[cut]
    line = low + (high - low) * ((13.0 - low[:, 2]) / (high[:, 2] - low[:, 2]))[:, None]
    # Only the outer line: the imprint itself goes down to 10 mm.
    radius = np.hypot(*(line[:, :2] - OVER[:2]).T)
    line, radius = line[radius > 45.0], radius[radius > 45.0]
    angle = np.arctan2(*(line[:, :2] - OVER[:2]).T)
    order = np.argsort(angle)
    even = np.linspace(-np.pi, np.pi, 1600, endpoint=False)
    radius = np.interp(even, angle[order], radius[order], period=2.0 * np.pi)
    mean = radius.mean()
    rough = radius - ndimage.gaussian_filter1d(radius, 10.0 / (mean * 2.0 * np.pi / 1600), mode="wrap")
    # Left and right; before and behind the board ends first.
    rough = rough[np.abs(np.sin(even)) > 0.85]
    # 0.46 mm where it follows the grid's places, 2 mm apart, 0.14 mm evened out.
    assert np.sqrt(np.square(rough).mean()) < 0.25


def test_the_evidence_tells_force_depth_contact_with_low_and_high(read: MadePart) -> None:
    told = body_evidence(read)["body"]
    clay = told["virtual_clay"]
    for name in ("strength_kpa", "contact_area_cm2", "mean_pressure_kpa", "flesh_squeezed_mm"):
        assert clay[name]["low"] < clay[name]["value"] < clay[name]["high"], name
    assert clay["force_n"]["value"] == pytest.approx(clay["wanted_n"]) and clay["imbalance"] < 1e-6
    assert clay["left_mm"] == pytest.approx(10.0, abs=0.1) and clay["shape_plus_minus_mm"] > 0.0
    assert len(told["landmarks"]) == 3 and told["file"] == "ball.ply"
    json.dumps(clay["force_n"])


def test_what_was_guessed_is_said(read: MadePart) -> None:
    told = " ".join(read.of(PressedBody).notes)
    for words in ("hanging free", "body.scan_load_share", "The flesh is guessed: 40 mm", "No load.point is given"):
        assert words in told
    assert all(weight_of(note) is not Weight.ACT for note in read.of(PressedBody).notes)


def test_what_the_tilt_rests_on_is_said(read: MadePart, tmp_path: Path) -> None:
    """Three landmarks as high as each other fit at any tilt, exactly: no miss tells of one that is wrong."""
    body = read.of(PressedBody)
    told = next(note for note in body.notes if "How it is tilted rests on" in note)
    # By hand: arms of the three from their middle, seen from above and from the side; 8/sqrt(3) mm over the least.
    arm = MARKS - MARKS.mean(axis=0)
    least = min(
        np.square(np.cross(arm, [np.cos(turn), np.sin(turn), 0.0])).sum() for turn in np.linspace(0.0, np.pi, 721)
    )
    open_deg = np.degrees(np.arctan(8.0 / np.sqrt(3.0) / np.sqrt(least)))
    assert f"rests on its 3 landmarks: each known to 8 mm, they leave {open_deg:.1f} degrees open" in told
    assert "Three fit at any tilt" in told and weight_of(told) is Weight.LOOK
    notes = " ".join(made(write(tmp_path, load="force_n = 300.0\npoint = [20.0, -5.0, 0.0]")).of(PressedBody).notes)
    assert "until the load acted at load.point" in notes and "rests on its" not in notes
    whole = sphere(RADIUS, 80, 160)
    laid = TriMesh(whole.vertices + OVER, whole.faces)
    notes = " ".join(made(write(tmp_path, body=laid, has_pairs=False)).of(PressedBody).notes)
    assert "rests on how it was laid by eye" in notes and "landmark" not in notes


def test_the_summary_always_tells_how_the_body_was_pressed(read: MadePart) -> None:
    packed: Any = None  # no pad yet
    always = [line for line, least in summary._facts(read, packed) if least == 1]
    assert any(line.startswith("Virtual clay: 300 N press the body 15.0 mm into 25 mm") for line in always)


def test_the_direction_is_found_from_the_base(tmp_path: Path) -> None:
    part = made(write(tmp_path, press='"auto"'))
    clay = part.of(PressedBody).clay
    assert clay is not None and clay.press @ [0.0, 0.0, -1.0] > np.cos(np.radians(1.0))
    assert "found from the base alone" in " ".join(part.of(PressedBody).notes)


def test_it_turns_until_the_load_acts_where_the_job_says(tmp_path: Path) -> None:
    part = made(write(tmp_path, load="force_n = 300.0\npoint = [20.0, -5.0, 0.0]"))
    clay = part.of(PressedBody).clay
    assert clay is not None and clay.middle_mm[:2] == pytest.approx([20.0, -5.0], abs=0.01)
    assert clay.found.tilt_deg > 3.0


def test_where_the_scan_ends_within_the_contact_more_is_asked_for(tmp_path: Path) -> None:
    ball = sphere(RADIUS, 80, 160)
    half = ball.submesh(ball.triangles.mean(axis=1)[:, 0] > -10.0)
    notes = made(write(tmp_path, body=half)).of(PressedBody).notes
    assert "the scan of the body ends" in notes[0] and weight_of(notes[0]) is Weight.ACT


def _half(side: float) -> TriMesh:
    ball = sphere(RADIUS, 80, 160)
    return ball.submesh(side * ball.triangles.mean(axis=1)[:, 2] > 20.0)


def _bowl(outside: bool) -> TriMesh:
    ends = np.arange(-80.0, 80.1, 2.0)
    mesh = grid(ends, ends, lambda x, y: 100.0 - np.sqrt(np.maximum(100.0**2 - x**2 - y**2, 1.0)) - 100.0)
    return mesh.flipped() if outside else mesh


THIN = 'clay_thickness_mm = 6.0\nclay_strength_kpa = 2.6\nclay_pressure = "even"\n'
FAULTS = {
    "its other side": ({"body": _half(1.0)}, ScanError, "of what its scan shows the base is its inside"),
    "its unit": ({"more": 'scan_unit = "m"\n'}, InputError, r"200000|2e\+05 mm long, read in m.*these would do: mm"),
    "a far landmark": ({"marks": MARKS * [[1.0], [1.0], [-1.0]]}, InputError, '"mark ." lies .* mm off'),
    "landmarks on a line": ({"marks": MARKS[[0, 0, 0]]}, InputError, "on the base scan lie on one line"),
    "a direction turned round": ({"press": "[0.0, 0.0, 1.0]"}, InputError, "lies .* mm past that of the base"),
    "beside the base": (
        {"body": sphere(RADIUS).transformed(rigid(np.eye(3), np.array([900.0, 0.0, 140.0]))), "has_pairs": False},
        InputError,
        "lies beside the base: it is over 0.0 % of the clay",
    ),
    "no thickness": ({"impression": ""}, InputError, "impression.clay_thickness_mm: this key is missing"),
    "too deep": (
        {"impression": "clay_thickness_mm = 9.0\nimprint_depth_mm = 12.0\n"}, InputError, "below clay_thickness_mm, 9",
    ),
    "no load": ({"load": ""}, InputError, "a load is missing"),
    "inward": ({"press": '"inward"'}, InputError, '"inward" is not possible'),
    "through the clay": ({"impression": THIN}, PadwrightError, "goes through the clay"),
    "the base again": ({"body": "base"}, InputError, "is the base scan too"),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_one_clear_error(tmp_path: Path, fault: str) -> None:
    changed, kind, said = FAULTS[fault]
    if changed.get("body") == "base":
        path = write(tmp_path)
        (tmp_path / "ball.ply").write_bytes((tmp_path / "base.ply").read_bytes())
    else:
        path = write(tmp_path, **changed)
    with pytest.raises(kind, match=said):
        made(path)


def test_swapped_landmarks_that_lay_the_body_on_its_back_are_asked_for(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="past that of the base") as caught:
        made(write(tmp_path, marks=MARKS[[0, 2, 1]]))
    assert "Are two of its landmarks swapped" in str(caught.value.hint)


@pytest.mark.parametrize("outside", [True, False])
def test_a_sheet_with_the_side_that_bears_is_enough(tmp_path: Path, outside: bool) -> None:
    """Turned inside out, cleaning turns it or it is refused; never is the wrong side pressed."""
    path = write(tmp_path, body=_bowl(outside))
    if outside:
        assert made(path).of(PressedBody).clay is not None
        return
    try:
        assert made(path).of(PressedBody).clay is not None
    except ScanError as error:
        assert "inside out" in error.hint
