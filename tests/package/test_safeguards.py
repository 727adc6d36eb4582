"""What the build must refuse."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

import build_extension
from build_extension import BuildError

GOOD = [
    "libigl-2.6.3-cp311-cp311-manylinux_2_28_x86_64.whl",
    "libigl-2.6.3-cp312-abi3-manylinux_2_28_x86_64.whl",
    *(f"manifold3d-3.5.4-cp{n}-cp{n}-manylinux_2_28_x86_64.whl" for n in (311, 313, 314)),
    *(f"pillow-13.0.0-cp{n}-cp{n}-manylinux_2_27_x86_64.manylinux_2_28_x86_64.whl" for n in (311, 313, 314)),
    *(f"scipy-1.15.3-cp{n}-cp{n}-manylinux_2_17_x86_64.manylinux2014_x86_64.whl" for n in (311, 313)),
    "scipy-1.17.1-cp314-cp314-manylinux_2_28_x86_64.whl",
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in GOOD:
        (tmp_path / name).write_bytes(b"")
    return tmp_path


def test_a_whole_set_is_taken(folder):
    wheels = build_extension.checked_wheels("linux-x64", folder)
    assert sorted(wheel.path.name for wheel in wheels) == sorted(GOOD)


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        ("scipy-1.15.3.tar.gz", "is no wheel"),
        ("numpy-2.3.4-cp313-cp313-manylinux_2_28_x86_64.whl", "must not be bundled"),
        ("scipy-1.15.3-cp311-cp311-win_amd64.whl", "is not for linux-x64"),
        ("manifold3d-3.5.4-cp311-cp311-macosx_11_0_universal2.whl", "two systems at once"),
        ("scipy-1.15.3-cp312-cp312-manylinux_2_28_x86_64.whl", "serves none of Python"),
        ("scipy-1.16.0-cp311-cp311-manylinux_2_28_x86_64.whl", "has 2 wheels of scipy for Python 3.11"),
    ],
)
def test_a_wrong_file_is_refused(folder, extra, said):
    (folder / extra).write_bytes(b"")
    with pytest.raises(BuildError, match=said):
        build_extension.checked_wheels("linux-x64", folder)


def test_a_missing_wheel_is_told_with_its_python(folder):
    (folder / "libigl-2.6.3-cp312-abi3-manylinux_2_28_x86_64.whl").unlink()
    with pytest.raises(BuildError, match=r"linux-x64 has 0 wheels of libigl for Python 3\.13"):
        build_extension.checked_wheels("linux-x64", folder)


def test_a_wheel_without_licence_is_refused(tmp_path):
    path = tmp_path / "scipy-1.0-cp311-cp311-win_amd64.whl"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("scipy-1.0.dist-info/METADATA", "Name: scipy\n")
    with pytest.raises(BuildError, match="holds no licence text"):
        build_extension.licence_files(build_extension.read_wheel(path))


def test_every_lock_pins_what_is_bundled(monkeypatch):
    for lock in build_extension.LOCKS.values():
        text = build_extension.pinned(lock)
        names = [line.split("==")[0] for line in text.splitlines() if "==" in line]
        assert names == ["libigl", "manifold3d", "pillow", "scipy"]
        assert text.count("--hash=sha256:") > 10
    monkeypatch.setattr(build_extension, "BUNDLED", ("scipy", "no-such-thing"))
    with pytest.raises(BuildError, match="pins 1 of"):
        build_extension.pinned("run-3.11.txt")
