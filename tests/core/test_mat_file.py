"""Files of pressure mats of any make: what they hold, what they state, what is wrong with them."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from tests.support.mats import csv_of, two_bumps

from padwright.core.base.errors import InputError
from padwright.core.job.mat_table import KPA_PER_UNIT, Mat
from padwright.core.stages.mats.mat_file import read_mat
from padwright.core.stages.mats.mat_reading import MatReading

GRID = np.round(two_bumps(), 2)
FORCE = GRID.sum() * 10.0 * 10.0 / 1000.0


def read(text: str | bytes, **asked: Any) -> MatReading:
    data = text if isinstance(text, bytes) else text.encode()
    return read_mat(data, "mat.csv", Mat(file="mat.csv", **asked))


def told(mat: MatReading) -> str:
    return " ".join(mat.notes)


@pytest.mark.parametrize(
    ("sign", "comma"), [(",", False), (";", False), (";", True), ("\t", True), (" ", False), (" ", True)]
)
@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_cells_are_read_whatever_parts_them_and_however_it_is_saved(sign: str, comma: bool, code: str) -> None:
    head = f"Name{sign or ' '}Ä\nUnit: kPa\nSensor pitch: 10 mm\n\n"
    mat = read(csv_of(GRID, sign=sign, comma=comma, head=head).replace("\n", "\r\n").encode(code))
    assert np.array_equal(mat.pressure, GRID)
    assert (mat.unit, mat.unit_basis, mat.pitch_mm, mat.pitch_basis) == ("kPa", "file", (10.0, 10.0), "file")
    assert mat.force_n == pytest.approx(FORCE)


@pytest.mark.parametrize("unit", KPA_PER_UNIT)
def test_each_unit_that_a_file_states_gives_the_same_pressures(unit: str) -> None:
    text = csv_of(GRID / KPA_PER_UNIT[unit], decimals=9, head=f"UNITS {unit}\nSPACING 1 cm\n")
    mat = read(text)
    assert mat.unit == unit
    # Nine decimals of the largest unit are 1e-6 kPa.
    assert np.allclose(mat.pressure, GRID, atol=1e-6)
    assert mat.force_n == pytest.approx(FORCE, rel=1e-6)


@pytest.mark.parametrize(
    ("line", "pitch"),
    [
        ("Sensor pitch: 8,466 mm", (8.466, 8.466)),
        ("ROW_SPACING 0.4 in\nCOL_SPACING 0.5 in", (10.16, 12.7)),
        ("cell size = 15 x 12 mm", (15.0, 12.0)),
        ("Resolution; 1,5 cm", (15.0, 15.0)),
        ("SENSEL_WIDTH: 7\nSENSEL_HEIGHT: 14", (14.0, 7.0)),
    ],
)
def test_the_distance_of_cells_is_taken_from_the_header(line: str, pitch: tuple[float, float]) -> None:
    mat = read(csv_of(GRID, sign=";", head=f"Unit;kPa\n{line}\n"))
    assert mat.pitch_mm == pytest.approx(pitch)
    assert ("without a unit: taken as mm" in told(mat)) == ("SENSEL" in line)


def test_a_unit_that_nothing_states_is_asked_for_with_what_each_would_mean() -> None:
    with pytest.raises(InputError, match="does not state what unit") as raised:
        read(csv_of(GRID), pitch_mm=(10.0,))
    assert f"{FORCE:.0f} N in kPa, {FORCE * 0.133322387415:.0f} N in mmHg" in raised.value.hint
    with pytest.raises(InputError, match="names kPa and mmHg"):
        read(csv_of(GRID, head="kPa or mmHg\n"), pitch_mm=(10.0,))
    mat = read(csv_of(GRID, head="unit: mmHg\n"), unit="kPa")
    assert (mat.unit, mat.unit_basis) == ("kPa", "job") and "The file names mmHg" in told(mat)


def test_raw_numbers_have_no_force_unless_a_factor_is_given() -> None:
    raw = csv_of(np.round(GRID * 20.0), decimals=0, head="raw counts\n")
    assert read(raw).is_kpa is False and read(raw, pitch_mm=(10.0,)).force_n is None
    mat = read(raw, unit="raw", kpa_per_unit=0.05, pitch_mm=(10.0,))
    assert mat.force_n == pytest.approx(FORCE, rel=0.01)  # of whole counts


def test_what_an_unloaded_cell_reads_is_taken_off() -> None:
    mat = read(csv_of(GRID + 2.5), unit="kPa", pitch_mm=(10.0,), zero=2.5)
    assert np.allclose(mat.pressure, GRID)


def _framed(frames: np.ndarray, between: str) -> str:
    return "Unit: kPa\nPitch: 10 mm\n" + "".join(
        f"{between.format(number)}{csv_of(each)}" for number, each in enumerate(frames, 1)
    )


SHARES = (0.1, 0.8, 1.0, 1.2)  # of the load in each frame; in the first nobody sits yet


@pytest.mark.parametrize("between", ["\n", "\nFrame {}\n", "\nTime;0,{}\n"])
def test_frames_parted_by_lines_give_their_mean_maximum_or_one(between: str) -> None:
    moved = [np.roll(share * GRID, number, axis=1) for number, share in enumerate(SHARES)]
    text = _framed(np.array(moved), between)
    mean = read(text)
    assert mean.frame_count == 4 and "1 frame of 4 bore less than half" in told(mean)
    # Each cell is written with two decimals.
    assert np.allclose(mean.pressure, np.mean(moved[1:], axis=0), atol=0.006)
    most = read(text, frames="maximum")
    assert np.allclose(most.pressure, np.max(moved[1:], axis=0), atol=0.006)
    assert most.force_n > 1.1 * mean.force_n and "it never bore so much at once" in told(most)
    assert np.allclose(read(text, frames="one", frame=4).pressure, moved[3], atol=0.006)
    with pytest.raises(InputError, match="no cell is pressed"):
        read(_framed(np.zeros((3, 4, 5)), between), frames="maximum")
    with pytest.raises(InputError, match="holds 4 frames; frame 9 was asked for"):
        read(text, frames="one", frame=9)


def test_a_frame_in_each_row_is_read_with_its_time_left_out() -> None:
    head = "time," + ",".join(f"c{number}" for number in range(GRID.size)) + "\n"
    rows = "\n".join(
        f"0.{number}," + ",".join(f"{each:.2f}" for each in (share * GRID).ravel())
        for number, share in enumerate(SHARES)
    )
    mat = read(head + rows, unit="kPa", grid=(20, 24))
    assert mat.shape == (20, 24) and mat.frame_count == 4
    assert "The first number of each row (a time, a count) was left out" in told(mat)
    assert "if a row is a whole frame" in told(read(head + rows, unit="kPa"))
    square = "\n".join(" ".join(str(number % 7) for number in range(1025)) for _ in range(40))
    assert "[32, 32] would fit, with 1 before it" in told(read(square, unit="kPa"))
    with pytest.raises(InputError, match=r"frames of 20 x 25 cells were asked for"):
        read(head + rows, unit="kPa", grid=(20, 25))


def test_frames_below_each_other_in_one_table_are_parted_by_the_rows_stated() -> None:
    text = "ROWS 20\nCOLS 24\nUNITS kPa\n" + csv_of(np.concatenate([GRID, GRID]))
    assert read(text).frame_count == 2


def test_names_and_numbers_of_rows_and_columns_are_no_pressures() -> None:
    names = ";" + ";".join(str(number) for number in range(1, 25))
    for label in ("{}", "R{}"):
        rows = "\n".join(
            label.format(number) + ";" + ";".join(f"{each:.2f}" for each in row) for number, row in enumerate(GRID, 1)
        )
        assert np.array_equal(read(f"{names}\n{rows}\n", unit="kPa").pressure, GRID), label


def test_no_sensor_and_missing_cells_are_told_apart() -> None:
    grid = GRID.copy()
    grid[:4, :6] = -1.0  # a corner of the mat that there is not
    text = csv_of(grid).replace("-1.00", "-1").split("\n")
    row = text[10].split(",")
    row[7] = ""  # one cell amid others that was not read
    text[10] = ",".join(row)
    mat = read("\n".join(text), unit="kPa", pitch_mm=(10.0,))
    assert not mat.is_sensor[:4, :6].any() and mat.is_sensor[4:].all() and "-1 was taken for: no sensor" in told(mat)
    assert mat.filled == ((10, 7),)
    # The mean of its neighbors, on a peak one cell wide: a tenth or two low.
    assert 0.75 * GRID[10, 7] < mat.pressure[10, 7] < GRID[10, 7]
    assert "1 cell amid others had no reading and was filled in" in told(mat) and "[10, 7]" in told(mat)
    given = read(csv_of(np.where(grid < 0.0, 999.0, grid)), unit="kPa", no_sensor=(999.0,))
    assert not given.is_sensor[:4, :6].any() and given.pressure.max() < 50.0
    stated = read(csv_of(np.where(grid < 0.0, 999.0, grid), head="NO_DATA: 999\n"), unit="kPa")
    assert not stated.is_sensor[:4, :6].any()


def test_a_dead_row_is_filled_in_and_said() -> None:
    grid = GRID.copy()
    grid[12] = 0.0
    mat = read(csv_of(grid), unit="kPa", pitch_mm=(10.0,))
    assert "Row 12 reads nothing between two that are pressed" in told(mat)
    assert mat.force_n == pytest.approx(FORCE, rel=0.03)  # a straight line between two rows of round heaps
    assert "reads nothing" not in told(read(csv_of(GRID), unit="kPa"))


@pytest.mark.parametrize(("top", "asked"), [(30.0, {}), (255.0, {}), (20.0, {"saturated_at": 20.0})])
def test_cells_at_the_end_of_what_they_can_read_are_said(top: float, asked: dict[str, Any]) -> None:
    grid = GRID * (8.0 if top == 255.0 else 1.0)
    cut = np.minimum(np.round(grid) if top == 255.0 else grid, top)
    mat = read(csv_of(cut), unit="kPa", **asked)
    assert set(mat.saturated) == {tuple(each) for each in np.argwhere(cut >= top).tolist()}
    assert "saturated" in told(mat)


def test_a_mat_that_reads_whole_numbers_is_not_called_saturated() -> None:
    assert read(csv_of(np.round(GRID), decimals=0), unit="kPa").saturated == ()
    assert read(csv_of(GRID), unit="kPa").saturated == ()


def test_the_layout_of_an_open_data_set_of_lying_people_is_read() -> None:
    """A file made here in the layout that doi 10.3390/data8070120 describes (CC0; its own files cannot be had here)."""
    snapshots = {
        str(number): {"id": f"s{number}", "tactilus_readings": np.round(share * GRID * 50).astype(int).ravel().tolist()}
        for number, share in enumerate((1.0, 0.9))
    }
    document = {
        **{"volunteer_id": 7, "sex": "F", "height": 170, "weight": 61, "tactilus_columns": 24, "tactilus_rows": 20},
        **{"position": "supine1", "variation": 0, "snapshots": snapshots},
    }
    mat = read(json.dumps(document), unit="raw")
    assert (mat.shape, mat.frame_count, mat.written) == ((20, 24), 2, "JSON")
    assert np.allclose(mat.pressure, 0.95 * 50.0 * GRID, atol=1.0)  # of whole counts
    del document["tactilus_rows"]
    with pytest.raises(InputError, match="lists of 480 numbers and does not say how many rows"):
        read(json.dumps(document), unit="raw")
    assert read(json.dumps(document), unit="raw", grid=(20, 24)).shape == (20, 24)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("nothing here\n", "holds no grid of numbers; it begins with"),
        ("1,2,3\n4,5\n6,7,8\n", r"line 2: 2 cells; the rows beside it have 3"),
        ("0,0,0\n0,0,0\n0,0,0\n", "no cell is pressed"),
        ('{"a": [1, 2', "looks like JSON and is none"),
        ("1,2,3\n", "is no grid: it has 1 row of 3 cells"),
        ("1,2\n3,4\n\nx\n1,2\n\n3,4\n5,6\n", r"line \d: a grid of 1 row begins; others have 2"),
    ],
)
def test_what_is_no_mat_is_refused_with_its_place(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read(text, unit="kPa")


def test_a_whole_number_of_json_that_no_float_holds_is_no_reading() -> None:
    text = json.dumps(GRID.tolist()).replace(f"{GRID[10, 7]}", "1" + 400 * "0")
    mat = read_mat(f'{{"unit": "kPa", "frame": {text}}}'.encode(), "mat.json", Mat(file="mat.json"))
    around = [GRID[9, 7], GRID[11, 7], GRID[10, 6], GRID[10, 8]]
    assert (10, 7) in mat.filled and mat.pressure[10, 7] == pytest.approx(np.mean(around), rel=1e-6)
