"""Single files are written whole or not at all, and never over another."""

from __future__ import annotations

import subprocess
import sys

import pytest

from padwright.core.base.errors import ExportError
from padwright.core.base.files import write_new

resource = pytest.importorskip("resource", reason="limits on a file's size are of POSIX")


def limited(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the command line where no file may grow past 100 bytes: the disk is full in the midst of writing."""
    return subprocess.run(
        [sys.executable, "-m", "padwright", *arguments],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100)),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_nothing_is_left_of_a_job_that_did_not_fit_on_the_disk(tmp_path):
    ended = limited("new", "--family", "insole", "--out", str(tmp_path / "job.toml"))
    assert ended.returncode == 4 and ended.stderr.count("error:") == 1 and "cannot be written" in ended.stderr
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_left_of_blocks_that_did_not_fit_on_the_disk(tmp_path):
    ended = limited("coupons", "--out", str(tmp_path / "deep" / "blocks"))
    assert ended.returncode == 4 and "nothing was changed" in ended.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_stays(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("mine", "utf-8")
    with pytest.raises(FileExistsError):
        write_new(path, b"other")
    assert path.read_text("utf-8") == "mine"
    with pytest.raises(ExportError, match="No such file or directory"):
        write_new(tmp_path / "none" / "a.toml", b"other")
    write_new(tmp_path / "b.toml", b"other")
    assert (tmp_path / "b.toml").read_bytes() == b"other"
