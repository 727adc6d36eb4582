"""The same job gives the same bytes, whatever the threads, the folder, the language and the seed of Python's hashes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from tests.support.cases import make_case
from tests.support.flat_pads import flat_tables
from tests.support.run_folders import files_without_times
from tests.support.writers import write_job

from padwright.core.job.read import job_from_tables
from padwright.core.job.write import write_job as job_text
from padwright.core.stages.printing.orientation import choose_orientation, lying
from padwright.core.stages.reading.load_centers import _powers, _scatter
from padwright.core.stages.regions.ladder import ladder, ring_ladder
from support.packing import block

pytestmark = pytest.mark.slow

# Without the command line, which asks for one thread: so runs a program that has loaded numpy before, as the modeller.
WITHOUT_COMMAND = """
import sys
from pathlib import Path
from padwright.core.base.progress import drain
from padwright.core.job.read import read_job
from padwright.core.run.into_folder import put_result
from padwright.core.run.pipeline import run_job
path = Path(sys.argv[1])
job = read_job(path)
put_result(Path(sys.argv[2]), job.part.number, drain(run_job(job, path.parent)))
"""


CLOCK = {"SOURCE_DATE_EPOCH": "1700000000"}
TELL_THE_TIME = (".project.3mf", ".report.html", ".settings.json", ".sheet.html")


def run(command: list[str], out: Path, threads: int, **variables: str) -> dict[str, bytes]:
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    many = {**dict.fromkeys(names, str(threads)), "PYTHONHASHSEED": str(threads), **variables}
    subprocess.run([*command, str(out)], env={**os.environ, **many}, check=True, capture_output=True, timeout=300)
    return files_without_times(out)


def other_bytes(one: dict[str, bytes], two: dict[str, bytes]) -> list[str]:
    assert one.keys() == two.keys()
    return [name for name in one if one[name] != two[name]]


@pytest.mark.parametrize(
    ("kind", "triangles", "extra"),
    [("seat", 8_000, "\n[load]\nbody_mass_kg = 70.0\n"), ("grip", 6_000, "")],
)
def test_scans_give_the_same_files_with_one_thread_and_with_two(tmp_path, kind, triangles, extra):
    job = write_job(make_case(kind, triangles=triangles), tmp_path, file_format="ply", extra=extra, has_pages=True)
    command = [sys.executable, "-c", WITHOUT_COMMAND, str(job)]
    one, two = (run(command, tmp_path / f"out{threads}", threads, **CLOCK) for threads in (1, 2))
    assert other_bytes(one, two) == []


@pytest.fixture(scope="module")
def flat_job(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("flat")
    tables = flat_tables(folder, (90.0, 70.0, 12.0), (3.0, -7.0, 1.0), load={"force_n": 90.0}, output={})
    (folder / "job.toml").write_text(job_text(job_from_tables(tables)), "utf-8")
    return folder / "job.toml"


@pytest.fixture(scope="module")
def flat_files(flat_job) -> dict[str, bytes]:
    return run([sys.executable, "-m", "padwright", "run", str(flat_job), "--out"], flat_job.parent / "out", 1, **CLOCK)


def test_four_threads_another_folder_language_and_time_zone_give_the_same_files(flat_job, flat_files, tmp_path):
    elsewhere = tmp_path / "another folder" / "more of it"
    shutil.copytree(flat_job.parent, elsewhere, ignore=shutil.ignore_patterns("out"))
    command = [sys.executable, "-c", WITHOUT_COMMAND, str(elsewhere / "job.toml")]
    found = run(command, tmp_path / "parts", 4, LC_ALL="C", TZ="Asia/Tokyo", **CLOCK)
    assert other_bytes(flat_files, found) == []


def test_another_hour_changes_only_the_files_that_tell_it(flat_job, flat_files, tmp_path):
    command = [sys.executable, "-m", "padwright", "run", str(flat_job), "--out"]
    found = run(command, tmp_path / "out", 1, SOURCE_DATE_EPOCH="1700003600")
    assert other_bytes(flat_files, found) == [f"FLAT-1{ending}" for ending in TELL_THE_TIME]


def test_noise_in_the_last_bits_does_not_choose_another_way_up():
    """A box has many ways up equally good, and its hull comes in triangles and slivers as noise has it."""
    box = block((0.0, 0.0, 0.0), (60.0, 40.0, 60.0), 4)
    # What faces (1, -1, 0) would need support as the box lies, so another way up is looked for.
    is_body = np.ones(len(box.faces), dtype=bool)
    tilt = lying(np.array([0.5, -0.5, 0.7]))
    rng = np.random.default_rng(1)
    ways = []
    for _ in range(12):
        noisy = type(box)(box.vertices * (1.0 + 1e-13 * rng.standard_normal(box.vertices.shape)), box.faces)
        best, looked = choose_orientation(noisy, is_body, (300.0, 300.0, 300.0), tilt, "as it was scanned")
        assert best is not looked[0]
        ways.append((best.name, np.round(best.turn, 6).tolist(), [np.round(each.turn, 6).tolist() for each in looked]))
    assert all(way == ways[0] for way in ways)


def test_noise_in_the_last_bits_does_not_draw_another_scatter_of_a_load_center():
    """Axes of a covariance point either way, and those of one size anywhere: what is drawn must not follow them."""
    powers = _powers(4)
    value = np.array([float(i + j == 2 and i != 1) for i, j in powers])  # a round hollow, x^2 + y^2
    rng = np.random.default_rng(3)
    half = rng.standard_normal((len(powers), len(powers)))
    found = []
    for _ in range(10):
        noise = 1e-15 * rng.standard_normal(half.shape)
        found.append(_scatter(value, 1e-4 * (half @ half.T + noise + noise.T), powers))
        turned = np.linalg.qr(rng.standard_normal(half.shape))[0]  # all axes of one size
        found.append(_scatter(value, 1e-4 * (turned @ turned.T), powers))
    # A lowest place hangs on its coefficients smoothly, but for ties on the net, which no draw has here.
    for kind in (found[::2], found[1::2]):
        assert all(np.allclose(each, kind[0], rtol=1e-9, atol=0.0) for each in kind)


def test_noise_in_the_last_bits_does_not_choose_another_diagonal():
    """Walls of a flat pad are rectangles, whose diagonals cost the same."""
    count = 12
    side = np.arange(count)
    level = np.stack([np.tile(2.5 * side, 2), np.zeros(2 * count), np.repeat([0.0, 12.0], count)], axis=1)
    ring = np.stack([np.cos(side), np.sin(side), 0 * side], axis=1)
    tube = np.concatenate([20.0 * ring, 20.0 * ring + [0.0, 0.0, 9.0]])
    rng = np.random.default_rng(2)
    found = []
    for _ in range(10):
        noisy = level + 1e-13 * rng.standard_normal(level.shape), tube + 1e-13 * rng.standard_normal(tube.shape)
        strip = ladder(side, side + count, noisy[0])
        around = ring_ladder(side, side[::-1] + count, noisy[1])
        found.append((strip.tolist(), around.tolist()))
    assert all(each == found[0] for each in found)
