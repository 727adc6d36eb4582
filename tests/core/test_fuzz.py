"""Every reader, fuzzed in a process of its own with little memory; the study of it has thousands more files."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np

from padwright.core.stages.packing.bundle import listed_files
from support import scan_files
from support.hostile import changed

ROOT = Path(__file__).resolve().parents[2]


def test_changed_files_end_in_a_result_or_one_clear_error() -> None:
    """Seeds apart from those of the study's sample: 200 files for each of nine readers, some ten seconds."""
    done = subprocess.run(
        [sys.executable, "scripts/study_fuzz.py", "--draws", "200", "--first", "500000"],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    rows = [line for line in done.stdout.splitlines() if line.endswith("| 0 |")]
    assert len(rows) == 9  # one for each reader, and nothing in the last column


def test_the_same_seed_makes_the_same_file_and_changes_are_many() -> None:
    for good in (scan_files.glb(), scan_files.ply(), scan_files.binary_stl()):
        files = [changed(good, np.random.default_rng(seed)) for seed in range(60)]
        assert files == [changed(good, np.random.default_rng(seed)) for seed in range(60)]
        assert len(set(files)) > 30 and good in files


def test_a_run_document_that_is_none_lists_nothing() -> None:
    # A seal that no text can hold, and lists deeper than Python goes: both once ended in a traceback.
    broken = b'{"seal": "' + rb"\ud800" * 64 + b'", "files": {}}'
    assert [listed_files(data) for data in (broken, b"[" * 200_000, b"{}", b"", b'{"seal": 1}')] == [None] * 5
