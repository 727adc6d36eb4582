"""What the zip bundles and under which terms: nothing that the manifest does not say, and every text there."""

from __future__ import annotations

import base64
import hashlib
import io
import re
import tomllib
import zipfile
from pathlib import Path

import pytest

import build_extension
from build_extension import BuildError
from core_wheel import core_wheel

LIBRARY = re.compile(r"\.(so|pyd|dll|dylib|a|lib)(\.|$)")
# Terms that may go together under the GPL 3 and be sold (the GNU project's list of licences, GPL-compatible ones).
MAY_GO_TOGETHER = {
    "SPDX:GPL-3.0-or-later",
    "SPDX:GPL-3.0-or-later WITH GCC-exception-3.1",
    "SPDX:LGPL-2.1-or-later",
    "SPDX:Apache-2.0",
    "SPDX:BSD-3-Clause",
    "SPDX:BSL-1.0",
    "SPDX:MIT",
    "SPDX:MPL-2.0",
    "SPDX:MIT-CMU",
    "SPDX:0BSD",
    "SPDX:BSD-2-Clause",
    "SPDX:FTL",
    "SPDX:IJG",
    "SPDX:Zlib",
    "SPDX:bzip2-1.0.6",
    "SPDX:libpng-2.0",
    "SPDX:libtiff",
}


@pytest.fixture(scope="module")
def contents(zip_file) -> dict[str, bytes]:
    with zipfile.ZipFile(zip_file) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def wheels(contents) -> dict[str, zipfile.ZipFile]:
    return {Path(name).name: zipfile.ZipFile(io.BytesIO(data)) for name, data in contents.items() if ".whl" in name}


def test_the_manifest_says_every_licence_and_no_other(contents):
    said = set(tomllib.loads(contents["blender_manifest.toml"].decode())["license"])
    bundled = {name.split("-")[0] for name in wheels(contents)}
    assert bundled == set(build_extension.TERMS)
    assert said == {"SPDX:GPL-3.0-or-later"} | {
        f"SPDX:{each}" for name in bundled for each in build_extension.TERMS[name]
    }
    assert said <= MAY_GO_TOGETHER


def test_the_only_library_of_libigl_is_its_core_as_the_registry_has_it(contents):
    cut = {name: wheel for name, wheel in wheels(contents).items() if name.startswith("libigl")}
    assert len(cut) == 2  # 3.11, and 3.12 onwards
    for name, wheel in cut.items():
        libraries = [each for each in wheel.namelist() if LIBRARY.search(each)]
        assert len(libraries) == 1 and libraries[0].startswith("igl/pyigl_core."), name
        notice = next(each for each in wheel.namelist() if each.endswith("licenses/NOTICE"))
        origin = next(word for word in wheel.read(notice).decode().split() if word.endswith(".whl"))
        whole = next(build_extension.CACHE.glob(f"*/{origin}"))
        assert hashlib.sha256(whole.read_bytes()).hexdigest() in wheel.read(notice).decode()
        with zipfile.ZipFile(whole) as archive:
            assert archive.read(libraries[0]) == wheel.read(libraries[0])


def test_no_part_under_other_terms_is_in_any_wheel(contents):
    """The triangulator and the mesher by their own names and notices, wherever they might hide."""
    for name, wheel in wheels(contents).items():
        assert not [each for each in wheel.namelist() if re.search(r"copyleft|restricted|tetgen|/triangle/", each)], (
            name
        )
        for each in wheel.namelist():
            if name.startswith(("libigl", "manifold3d")) and LIBRARY.search(each):
                data = wheel.read(each)
                for words in (b"tetrahedralize", b"Shewchuk", b"CGAL", b"Affero"):
                    assert words not in data, (each, words)


def test_every_wheel_lists_its_files_truly(contents):
    """Recording installed projects (PyPA): each file with its hash and size, which installers may check."""
    for name, wheel in wheels(contents).items():
        record = next(each for each in wheel.namelist() if each.endswith(".dist-info/RECORD"))
        rows = dict(line.split(",", 1) for line in wheel.read(record).decode().splitlines() if not line.startswith('"'))
        files = [each for each in wheel.namelist() if not each.endswith("/")]
        if name.startswith("libigl"):
            assert sorted(rows) == sorted(files)
        for each in files[:50]:
            if each != record and each in rows:
                digest = base64.urlsafe_b64encode(hashlib.sha256(wheel.read(each)).digest()).rstrip(b"=").decode()
                assert rows[each] == f"sha256={digest},{len(wheel.read(each))}", (name, each)


def test_every_text_is_there(contents):
    texts = {name: data.decode() for name, data in contents.items() if name.startswith("licenses/")}
    core = "licenses/libigl-2.6.0+core.of.2.6.3/licenses-"
    assert "Mozilla Public License Version 2.0" in texts[core + "LICENSE.MPL2"]
    assert "Side Effects Software" in texts[core + "fast-winding-numbers.txt"]
    for holder in ("licenses-nanobind.txt", "licenses-tsl-robin-map.txt"):
        assert (
            "Permission is hereby granted" in texts[core[:-9] + holder] or "Redistribution" in texts[core[:-9] + holder]
        )
    assert "Apache License" in texts["licenses/manifold3d-3.5.4/licenses-LICENSE"]
    assert "GCC RUNTIME LIBRARY EXCEPTION" in texts["licenses/scipy-1.15.3/LICENSE.txt"]
    pictures = texts["licenses/pillow-13.0.0/licenses-LICENSE"]
    for holder in ("Fredrik Lundh", "FreeType Project", "Thomas G. Lane", "Sam Leffler", "Jean-loup Gailly"):
        assert holder in pictures, holder
    for name in ("scipy 1.15.3", "scipy 1.17.1", "manifold3d 3.5.4", "libigl 2.6.0+core.of.2.6.3", "pillow 13.0.0"):
        assert f"{name}: " in texts["licenses/TERMS.txt"]
        assert [each for each in texts if each.startswith(f"licenses/{name.replace(' ', '-')}/")]


def fake(path: Path, *names: str) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        for name in names:
            archive.writestr(name, b"x")
    return path


INFO = "libigl-2.6.3.dist-info/"
CORE = ("igl/__init__.py", "igl/pyigl_core.abi3.so", INFO + "WHEEL", INFO + "licenses/LICENSE.MPL2")


def test_a_whole_wheel_is_refused_and_its_core_taken(tmp_path):
    whole = fake(tmp_path / "libigl-2.6.3-cp312-abi3-win_amd64.whl", *CORE, "igl/triangle/pyigl_restricted.pyd")
    with pytest.raises(BuildError, match=r"brings igl/triangle/pyigl_restricted\.pyd"):
        build_extension.refuse_foreign_parts(build_extension.read_wheel(whole))
    cut = build_extension.cut_wheel(build_extension.read_wheel(whole), tmp_path / "cut")
    build_extension.refuse_foreign_parts(cut)
    assert cut.path.name == "libigl-2.6.0+core.of.2.6.3-cp312-abi3-win_amd64.whl"
    assert core_wheel(whole, tmp_path / "again").read_bytes() == cut.path.read_bytes()


@pytest.mark.parametrize("missing", CORE)
def test_a_wheel_built_in_another_way_is_refused(tmp_path, missing):
    whole = fake(tmp_path / "libigl-2.6.3-cp312-abi3-win_amd64.whl", *(each for each in CORE if each != missing))
    with pytest.raises(BuildError, match="expected one of 4"):
        build_extension.cut_wheel(build_extension.read_wheel(whole), tmp_path / "cut")


def test_a_library_nobody_weighed_is_refused(tmp_path):
    wheel = fake(tmp_path / "other-1.0-cp312-abi3-win_amd64.whl", "other/other.pyd")
    with pytest.raises(BuildError, match="brings other, whose terms"):
        build_extension.refuse_foreign_parts(build_extension.read_wheel(wheel))
