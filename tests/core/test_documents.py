"""Settings, 3MF, STL and evidence of a run agree, whatever the job."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.documents import check_documents
from tests.support.flat_pads import flat_job, flat_tables, rectangle

from padwright.core.errors import InputError
from padwright.core.estimate import Estimate
from padwright.core.job import job_from_tables
from padwright.core.pipeline import run_job
from padwright.core.progress import drain


@pytest.mark.parametrize("seed", range(12))
def test_a_flat_pad_from_an_own_envelope_is_written_wherever_it_lies(tmp_path, seed):
    """Its faces move as a whole when coordinates are rounded, so volumes before and after differ by more than noise."""
    rng = np.random.default_rng(seed)
    size = (rng.uniform(40, 150), rng.uniform(40, 110), rng.uniform(5, 20))
    result = drain(run_job(flat_job(tmp_path, size, tuple(rng.uniform(-300, 300, 3))), tmp_path))
    check_documents(result.files, result.evidence)


def test_bounds_hold_their_value_to_the_last_digit():
    exact = 0.1 + 0.2
    assert Estimate(exact, 0.1, 0.3, "model").high == exact
    assert Estimate(1.0, 1.0 + 2**-52, 2.0, "model").low == 1.0


def test_what_was_changed_or_left_out_is_told_in_the_summary_and_the_evidence(tmp_path):
    part = {"name": "Flat pad", "number": "FLAT-1", "family": "seat_pad", "mirror": True}
    tables = flat_tables(tmp_path, (80.0, 60.0, 10.0), (0.0, 0.0, 0.0), part=part)
    tables |= {"coupons": {"make": True}, "output": {"layout": "items", "report": False}}
    result = drain(run_job(job_from_tables(tables), tmp_path))
    document = check_documents(result.files, result.evidence)
    assert "mirrored" in document["part"] and "mirrored: this is the part for the other side" in result.summary[0]
    shown = " ".join(" ".join(result.summary).split())
    notes = result.evidence["notes"]
    assert len(notes) == 4
    for note, words in zip(notes, ("output.report", "coupons", "output.layout", "The part is mirrored"), strict=True):
        assert words in note and f"Note: {note}" in shown
    selection = drain(run_job(job_from_tables(tables), tmp_path, ["rest"]))
    shown = " ".join(" ".join(selection.summary).split())
    assert all(f"Note: {note}" in shown for note in notes)


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"part": {"name": "a", "number": "1", "family": "seat_pad", "revision": "r" * 41}}, "40 are the most"),
        ({"zones": [{"name": "z" * 81, "level": 2, "source": "rest"}]}, "80 are the most"),
        ({"material": {"card": "tpu_85a", "max_volume_flow_mm3_s": 1e-9}}, "a number from 0.1 to 200"),
        ({"material": {"card": "tpu_85a", "density_g_cm3": 1e-9}}, "a number from 0.1 to 5"),
        ({"printer": {"max_speed_mm_s": 1e-9}}, "a number from 0.1 to 1000"),
    ],
)
def test_what_the_documents_cannot_hold_is_refused_where_it_is_read(tmp_path, tables, words):
    with pytest.raises(InputError, match=words):
        job_from_tables(flat_tables(tmp_path, (80.0, 60.0, 10.0), (0.0, 0.0, 0.0), **tables))


def test_the_most_that_a_job_may_say_fits_into_the_documents(tmp_path):
    at = (0.0, 0.0, 0.0)
    part = {"name": "\"n' <&>" * 28, "number": "N" * 40, "family": "seat_pad", "revision": "r" * 40, "note": "o" * 500}
    zones = [
        {"name": "a" * 80, "level": 4, **rectangle(at, 30.0, 20.0)},
        {"name": "b" * 80, "level": 1, "source": "rest"},
    ]
    tables = flat_tables(tmp_path, (90.0, 70.0, 10.0), at, part=part, zones=zones)
    tables |= {
        "blend": {"steps": 2, "width_mm": 12.0},
        "material": {"card": "tpu_85a", "max_volume_flow_mm3_s": 0.1},
        "printer": {"bead_width_mm": 5.0, "layer_thickness_mm": 2.0, "max_speed_mm_s": 0.1, "nozzle_mm": 3.0},
        "load": {"force_n": 50.0, "posture": "p" * 500},
    }
    result = drain(run_job(job_from_tables(tables), tmp_path))
    document = check_documents(result.files, result.evidence)
    assert all(0.0 < region["settings"]["max_speed_mm_s"] <= 0.1 for region in document["regions"])
