"""Whatever job can be written reads back equal, and a job's meaning hangs on nothing but its tables."""

from __future__ import annotations

import json
import tomllib

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from padwright.core.job.read import job_from_tables, parse_job
from padwright.core.job.toml_values import toml_value
from padwright.core.job.write import job_tables, write_job
from support.any_job import jobs


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(jobs())
def test_a_written_job_reads_back_equal(tables):
    job = job_from_tables(tables)
    text = write_job(job)
    assert parse_job(text.encode(), "job.toml", None) == job
    assert write_job(parse_job(text.encode(), "job.toml", None)) == text
    assert job_from_tables(job_tables(job)) == job
    assert json.dumps(job_tables(job)) == json.dumps(tomllib.loads(text))  # the order too


@settings(max_examples=100, deadline=None)
@given(
    st.recursive(
        st.booleans() | st.integers(-(2**53), 2**53) | st.floats() | st.text(st.characters(exclude_categories=["Cs"])),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.from_regex(r"[a-z_]{1,5}", fullmatch=True), inner, max_size=3)
        ),
    )
)
def test_any_value_is_written_as_the_standard_reader_reads_it(value):
    assert repr(tomllib.loads("k = " + toml_value(value))["k"]) == repr(value)
