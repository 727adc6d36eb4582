"""The demo, an insole and a grip read true: their pressures lie where people's were measured in that posture."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.support.cases import make_case
from tests.support.writers import write_job

from padwright.core.base.progress import drain
from padwright.core.job.read import read_job
from padwright.core.run.pipeline import run_job
from padwright.core.stages.load.contact import LoadResult
from padwright.core.stages.load.load_case import LoadCase

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]


def _loaded(job: Path) -> tuple[LoadCase, LoadResult]:
    firmness = drain(run_job(read_job(job), job.parent)).part.firmness
    assert firmness is not None
    return firmness.loads[0]


def _made(folder: Path, kind: str, extra: str = "") -> tuple[LoadCase, LoadResult]:
    return _loaded(write_job(make_case(kind, triangles=8_000), folder, extra=extra))


@pytest.fixture(scope="module")
def seat() -> tuple[LoadCase, LoadResult]:
    return _loaded(ROOT / "shared" / "demo" / "job.toml")


def test_the_demo_seat_reads_true(seat):
    # 435 N on 245 cm2. Mean: above a chair's 6.3 kPa, the lowest of four groups, on 660 cm2 and more (doi
    # 10.1589/jpts.29.57), below that between the sit bones on a saddle with a nose, 42 +/- 5 kPa (doi
    # 10.1111/j.1743-6109.2005.00089.x). Peak: below that under the sit bone on a hard flat seat, 52 to 149 kPa by how
    # much fat there is (doi 10.1155/2021/4496416, abstract), and no more than the 41.3 +/- 12.4 kPa of 15 people on
    # air cells and foam (doi 10.1186/s12938-018-0621-2, table 2), whose shape those do not have.
    _, result = seat
    mean, peak = result.mean_pressure_kpa, result.peak_pressure_kpa
    assert 6.3 < mean.low < mean.high < 42.0
    assert mean.value < peak.low < peak.high < 52.0
    assert peak.value < 41.3 + 12.4


def test_flesh_is_squeezed_under_the_demo_as_it_was_seen_on_seats(seat):
    # 23 to 60 % of what lies under a sit bone on cushions (Sonenblum, Ulster record, 4 people), 40 to 61 % simulated
    # (PMC10267746, table 4).
    case, result = seat
    assert case.flesh is not None
    share = float(case.flesh.squeezed_mm(result.largest_pressure_kpa.value)) / case.flesh.thickness_mm
    assert 0.23 < share < 0.61


def test_an_insole_reads_true_for_one_foot(tmp_path):
    # On both feet, barefoot, quiet: heel 139, forefoot 53 kPa (Cavanagh, Rodgers & Iiboshi 1987, cited, not read); on
    # one foot up to twice that. Walking at 1.5 m/s, which passes the weight by a fifth: 517 +/- 158 (Shorten 1989).
    case, result = _made(tmp_path, "insole", "\n[load]\nbody_mass_kg = 70\n")
    assert case.posture == "standing on one foot"
    peak = result.peak_pressure_kpa
    assert 53.0 < peak.low < peak.high < 517.0
    assert 2.0 * 53.0 < peak.value < 2.0 * 139.0
    # A foot bears on less than the rectangle around it, 271 x 102 mm (ANSUR II, men).
    assert 60.0 < result.contact_area_cm2.value < 27.1 * 10.2


def test_a_grip_reads_true_for_holding(tmp_path):
    # From 30 kPa on skin blood flow falls, at 50 it stands (doi 10.1007/s00421-001-0562-4); a firm grip loads a
    # fingertip with 80 kPa and more (doi 10.1007/978-3-319-21070-4_2), and at 100 to 200 people call it uncomfortable.
    _, result = _made(tmp_path, "grip")
    peak = result.peak_pressure_kpa
    assert 30.0 < peak.low < peak.high < 200.0
    assert 50.0 < peak.value < 100.0
