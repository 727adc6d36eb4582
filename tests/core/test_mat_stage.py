"""The stage of the mat, from a job's table to a mat that lies: one place tells which way round, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from tests.support.mats import TrueMat, csv_of, mat_over

from padwright.core.base.errors import InputError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.job.mat_table import Mat, MatPlace
from padwright.core.job.read import parse_job
from padwright.core.stages.alignment.placed_scans import PlacedScans
from padwright.core.stages.mats.laid_mat import LaidMat
from padwright.core.stages.mats.mat_look import laid_lines
from padwright.core.stages.mats.mat_pose import plane_of
from padwright.core.stages.mats.work import lay_mat
from padwright.core.stages.reading.work import ReadBodySide
from padwright.core.stages.stage import Given
from padwright.core.stages.zones.pressure_grid import Ends, mat_weights

PRESS = np.array([0.0, 0.0, -1.0])
PLANE = plane_of(PRESS)
JOB = (
    'schema = 1\n[part]\nname = "A"\nnumber = "A-1"\nfamily = "seat_pad"\n[base]\nscan = "a.ply"\nunit = "mm"\n'
    '[impression]\nscan = "b.ply"\nunit = "mm"\n'
)


def seat() -> tuple[np.ndarray, np.ndarray]:
    """Return places of a body side and how deep two heaps alike pressed it: turned by half a turn it is the same."""
    right, down = np.meshgrid(np.arange(-150.0, 151.0, 3.0), np.arange(-100.0, 101.0, 3.0))
    flat = np.stack([right.ravel(), down.ravel()], axis=1)
    depth = sum(15.0 * np.exp(-((flat - [at, 0.0]) ** 2).sum(axis=1) / 1200.0) for at in (-55.0, 55.0))
    return flat @ PLANE, np.maximum(depth - 0.5, 0.0)


def lay(folder: Path, true: TrueMat, **asked: Any) -> LaidMat:
    (folder / "mat.csv").write_text(csv_of(true.kpa))
    vertices, depth = seat()
    corner = np.arange(len(vertices) - 2)
    mesh = TriMesh(vertices, np.stack([corner, corner + 1, corner + 2], axis=1))
    reading: Any = SimpleNamespace(
        is_clay=np.ones(len(depth), bool), is_wall=np.zeros(len(depth), bool), imprint_depth=depth,
        load_centers=[SimpleNamespace(position_mm=np.array([at, 0.0]) @ PLANE) for at in (-55.0, 55.0)],
        press_direction=PRESS,
    )  # fmt: skip
    scan: Any = SimpleNamespace(mesh=mesh, mm_per_number=1.0)
    placed = PlacedScans(scan, scan, np.eye(4), SimpleNamespace(matrix=np.eye(4)), mesh)  # type: ignore[arg-type]
    mat = Mat(file="mat.csv", **{"unit": "kPa", "pitch_mm": (10.0,), **asked})
    job = replace(parse_job(JOB.encode(), "job.toml", None), mat=mat)
    given = Given(["mat"], job, {"alignment": placed, "reading": ReadBodySide(reading, mesh)}, folder)
    laid = drain(lay_mat(given)).laid
    assert laid is not None
    return laid


def off_mm(laid: LaidMat, true: TrueMat) -> float:
    corners = np.array([[0, 0], [31, 0], [0, 35]])
    return float(np.linalg.norm(laid.cells.flat_of(corners) - true.cells.flat_of(corners), axis=1).max())


@pytest.mark.parametrize("turn", [10.0, 190.0])
def test_one_place_tells_which_way_round_a_body_lay_that_is_the_same_turned(turn: float, tmp_path: Path) -> None:
    true = mat_over(*seat(), PRESS, turn_deg=turn, noise=0.1)
    unsure = lay(tmp_path, true)
    ways = [line for line in laid_lines(unsure) if line.startswith("pose")]
    assert len(ways) == len(unsure.poses) and f"pose {unsure.pose}: as taken, seen from the body" in ways[0]
    assert any("turned by 180 degrees, seen from the body" in line for line in ways)
    assert any("also fits turned by 180 degrees" in note for note in unsure.notes)
    ways = [off_mm(replace(unsure, cells=each.cells), true) for each in unsure.poses]
    assert min(ways) < 6.0 and max(ways) > 300.0
    # The place is said to lie where it truly does but for 40 mm: it need tell the way round alone.
    corner = np.array([[0.0, 0.0]])
    points = [(corner, true.cells.flat_of(corner)[0] + [40.0, 0.0])]
    # Or it is where it bears hardest on one side, just where a mirrored mat of a body so alike has it too.
    peak = np.array([np.unravel_index(int(np.argmax(true.kpa)), true.kpa.shape)], dtype=float)
    mirrored = [each.cells.flat_of(peak)[0] for each in unsure.poses if each.is_flipped]
    points.append((peak, min(mirrored, key=lambda at: float(np.linalg.norm(at - true.cells.flat_of(peak)[0])))))
    for cell, at in points:
        place = MatPlace(cell=(float(cell[0, 0]), float(cell[0, 1])), point=tuple(at @ PLANE))
        laid = lay(tmp_path, true, places=(place,))
        # Half a cell at a corner 240 mm away.
        assert not laid.cells.is_flipped and off_mm(laid, true) < 6.0
        assert not any("also fits turned" in note for note in laid.notes)


def test_places_by_ruler_lay_it_as_cells_do(tmp_path: Path) -> None:
    true = mat_over(*seat(), PRESS, turn_deg=10.0)
    cells = np.array([[2.0, 3.0], [28.0, 30.0]])
    points = [tuple(each) for each in true.cells.flat_of(cells) @ PLANE]
    by_cells = [MatPlace(cell=tuple(cell), point=point) for cell, point in zip(cells, points, strict=True)]
    # The first cell's middle lies half a cell from the mat's corner, or where the job says.
    for offset in ((5.0, 5.0), (20.0, 30.0)):
        by_ruler = [
            MatPlace(at_mm=(10.0 * row + offset[0], 10.0 * column + offset[1]), point=point)
            for (row, column), point in zip(cells, points, strict=True)
        ]
        given = {} if offset == (5.0, 5.0) else {"offset_mm": offset}
        laid = lay(tmp_path, true, places=tuple(by_ruler), **given)
        assert off_mm(laid, true) < 1e-6
    assert off_mm(lay(tmp_path, true, places=tuple(by_cells)), true) < 1e-6


def test_without_a_pitch_the_load_centers_tell_it_and_that_is_said(tmp_path: Path) -> None:
    true = mat_over(*seat(), PRESS, turn_deg=10.0, noise=0.05)
    laid = lay(tmp_path, true, pitch_mm=None)
    assert laid.laid == "load_centers" and laid.cell_mm == pytest.approx((10.0, 10.0), rel=0.05)
    assert any("was taken from that of the load centers" in note for note in laid.notes)
    assert laid.force_n == pytest.approx(430.0, rel=0.1)  # as the square of the pitch
    with pytest.raises(InputError, match="the distance of its cells must be known"):
        lay(tmp_path, true, pitch_mm=None, laid="outline")


def test_a_pose_that_there_is_not_is_refused_with_how_many_there_are(tmp_path: Path) -> None:
    true = mat_over(*seat(), PRESS)
    with pytest.raises(InputError, match=r"The mat fits in \d ways; pose 8 was asked for") as raised:
        lay(tmp_path, true, pose=8)
    assert raised.value.key == ("mat", "pose")


def test_zones_come_from_kpa_or_from_percent_of_the_peak(tmp_path: Path) -> None:
    true = mat_over(*seat(), PRESS, turn_deg=10.0)
    laid = lay(tmp_path, true)
    vertices, _ = seat()
    pad: Any = SimpleNamespace(mesh=SimpleNamespace(vertices=vertices), side=np.ones(len(vertices)))
    half = 0.5 * laid.mat.peak
    _, by_kpa = mat_weights(laid, pad, Ends(half, None, None, None))
    _, by_share = mat_weights(laid, pad, Ends(None, None, 50.0, None))
    assert np.array_equal(by_kpa, by_share) and 0.0 < by_kpa.mean() < 0.3
    raw = lay(tmp_path, true, unit="raw")
    assert np.array_equal(mat_weights(raw, pad, Ends(None, None, 50.0, None))[1], by_share)
    with pytest.raises(InputError, match="asks for kPa, and the mat's numbers are raw"):
        mat_weights(raw, pad, Ends(half, None, None, None))
    with pytest.raises(InputError, match="the zone asks for from 500 kPa"):
        mat_weights(laid, pad, Ends(500.0, None, None, None))


def _refused(table: str) -> str:
    with pytest.raises(InputError) as raised:
        parse_job((JOB + table).encode(), "job.toml", None)
    return raised.value.message


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('[mat]\nfile = "m"\nunit = "kPa"\nkpa_per_unit = 2\n', "give either unit or kpa_per_unit"),
        ('[mat]\nfile = "m"\nframes = "one"\n', "say which one: frame = 1"),
        ('[mat]\nfile = "m"\nframe = 2\n', 'one frame is taken with frames = "one" alone'),
        ('[mat]\nfile = "m"\nlaid = "places"\n', "0 [[mat.places]] are given; give 2 or 3"),
        ('[mat]\nfile = "m"\n[[mat.places]]\npoint = [0, 0, 0]\n', "give one of cell, at_mm and, of a picture, pixel"),
        ('[mat]\nfile = "m"\npose = 2\n[[mat.places]]\ncell = [0, 0]\npoint = [0, 0, 0]\n', "leave out pose or"),
        ('[mat]\nfile = "m"\n[body]\npress_direction = "inward"\n', "this part is gripped all around"),
        ('[[zones]]\nname = "z"\nlevel = 1\nsource = "pressure_grid"\nfrom_kpa = 2\n', "the job has no [mat]"),
        ('[mat]\nfile = "m"\n[[zones]]\nname = "z"\nlevel = 1\nsource = "pressure_grid"\n', "give from_kpa, to_kpa"),
        ('[[zones]]\nname = "z"\nlevel = 1\nsource = "pressure_grid"\nfile = "g"\nto_kpa = 2\n', "a file of the zone"),
    ],
)  # fmt: skip
def test_keys_that_do_not_go_together_are_refused(table: str, said: str) -> None:
    assert said in _refused(table)


def test_keys_of_a_mat_without_a_file_change_nothing_and_that_is_said() -> None:
    from padwright.core.job.idle_keys import idle_notes

    job = parse_job((JOB + '[mat]\nunit = "kPa"\n').encode(), "job.toml", None)
    assert any("mat.unit changes nothing: no mat.file is given" in note for note in idle_notes(job))
