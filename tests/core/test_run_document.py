"""The run document: the evidence first, the same in each run, then what this run took, its files and the seal."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

from padwright.core.stages.packing.bundle import listed_files, run_document


def test_a_run_document_has_its_times_apart_from_its_evidence():
    evidence = {"part": "PAD-1", "regions": [{"evidence_sha256": "mine"}], "stages": [{"seconds": 1.25}], "print": "é"}
    later = {**evidence, "stages": [{"seconds": 3.5}]}
    one, two = run_document(evidence, {"a": b"1"}), run_document(later, {"a": b"2"})
    assert one != two
    line = b' "evidence_sha256": '
    heads = {data[: data.index(b"\n" + line) + 1] for data in (one, two)}
    assert len(heads) == 1
    told = json.loads(one)
    assert told["evidence_sha256"] == hashlib.sha256(heads.pop()).hexdigest()
    assert list(told) == ["part", "regions", "print", "evidence_sha256", "stages", "files", "seal"]
    assert told["stages"] == evidence["stages"]
    assert json.loads(run_document({**evidence, "part": "PAD-2"}, {}))["evidence_sha256"] != told["evidence_sha256"]
    assert listed_files(one) == {"a": hashlib.sha256(b"1").hexdigest()}


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system does not tell of one program alone")
def test_a_process_does_not_count_the_memory_of_the_program_that_started_it():
    child = "from padwright.core.run.parts import peak_memory_mb; print(peak_memory_mb())"
    parent = (
        "import subprocess, sys; held = bytearray(b'1') * 600_000_000; "
        f"print(subprocess.run([sys.executable, '-c', {child!r}], capture_output=True, text=True, check=True).stdout)"
    )
    said = subprocess.run([sys.executable, "-c", parent], capture_output=True, text=True, check=True).stdout
    assert 10.0 < float(said) < 400.0  # the imports take some 100
