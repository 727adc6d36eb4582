"""A scan format is a file: one that is put into the folder is told, read and offered, and goes with its file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from padwright.core.base.errors import InputError, ScanError
from padwright.core.job.read import read_job
from padwright.core.stages.scans import formats, known_formats
from padwright.core.stages.scans.file_head import read_scan_head
from padwright.core.stages.scans.read import read_scan

TRIAL = '''"""A trial: as many bytes after the mark as there are corners, each a vertex on a parabola."""

import numpy as np

from padwright.core.stages.scans.formats.draft import Draft
from padwright.core.stages.scans.formats.scan_format import ScanFormat


def _read(data):
    x = np.arange(len(data) - 5, dtype=float)
    return Draft(np.stack([x, x**2, 0 * x], axis=1), np.array([len(x)]), np.arange(len(x)))


FORMATS = (
    ScanFormat(
        "trial", _read, is_marked=lambda look: look.head.startswith(b"TRIAL"), unit="cm",
        counts=lambda head, size: (size - 5, 1),
    ),
)
'''


@pytest.fixture
def known() -> Iterator[None]:
    known_formats.known_formats.cache_clear()
    yield
    known_formats.known_formats.cache_clear()


def test_a_format_is_one_file(known: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scan = tmp_path / "scan.trial"
    scan.write_bytes(b"TRIALabcd")
    with pytest.raises(ScanError, match=r"GLB, OBJ, OFF, PLY and STL are read"):
        read_scan(scan.read_bytes(), scan.name)
    (tmp_path / "trial_format.py").write_text(TRIAL, "utf-8")
    with monkeypatch.context() as planted:
        planted.setattr(formats, "__path__", [*formats.__path__, str(tmp_path)])
        known_formats.known_formats.cache_clear()
        read = read_scan(scan.read_bytes(), scan.name)
        assert (read.file_format, len(read.mesh.vertices), len(read.mesh.faces)) == ("trial", 4, 2)
        head = read_scan_head(scan, scan.name, "base scan")
        assert (head.file_format, head.file_unit, head.vertices, head.faces) == ("trial", "cm", 4, 1)
        assert "trial" in known_formats.endings()
        with pytest.raises(InputError, match=r'"scan.trial" is a scan \(TRIAL\), not a job file'):
            read_job(scan, (), known_formats.scan_kinds())
    known_formats.known_formats.cache_clear()
    assert "trial" not in known_formats.endings()
    with pytest.raises(ScanError):
        read_scan(scan.read_bytes(), scan.name)


def test_the_formats_that_come_with_the_tool(known: None) -> None:
    assert list(known_formats.known_formats()) == ["glb", "off", "ply", "stl binary", "stl text", "obj"]
    assert known_formats.endings() == ["glb", "obj", "off", "ply", "stl"]
