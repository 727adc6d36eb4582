"""Cut libigl's wheel to its core: the one library Padwright loads, and nothing under terms the extension does not have.

The wheel in the registry also brings libraries that Padwright never loads: a triangulator that may not be part of a
commercial system (igl.triangle), a mesher under the AGPL (igl.copyleft.tetgen), solids under the GPL
(igl.copyleft.cgal), a ray tracer (igl.embree). The extension is free software as a whole, to be sold too, so they stay
out. What is kept is kept byte by byte.
"""

from __future__ import annotations

import base64
import hashlib
import re
import zipfile
from pathlib import Path

TEXTS = Path(__file__).resolve().parent / "license_texts"
KEPT = re.compile(r"igl/(__init__\.py|pyigl_core\.[^/]*(so|pyd))|[^/]+\.dist-info/(WHEEL|licenses/LICENSE\.MPL2)")
VERSION = "2.6.0+core.of."
"""Before the registry's version. The modeller keeps one wheel of a name, the newest, for all its extensions: by this
number a whole libigl that another extension brings is taken before this part of one, and serves Padwright as well."""

NOTICE = """\
This wheel holds the core of libigl, cut by scripts/core_wheel.py of Padwright out of

    {name}
    sha256 {digest}

as the Python package index has it. The library in it is unchanged; the other libraries of that wheel, which are under
other terms, are left out. Terms of what is here:

    libigl {version} core     MPL-2.0        LICENSE.MPL2
    Eigen 3.4.0               MPL-2.0        LICENSE.MPL2
    fast winding numbers      MIT            fast-winding-numbers.txt
    nanobind 2.7.0            BSD-3-Clause   nanobind.txt
    tsl robin-map             MIT            tsl-robin-map.txt

Source: https://github.com/libigl/libigl-python-bindings and, of libigl itself, https://github.com/libigl/libigl
"""

METADATA = """\
Metadata-Version: 2.1
Name: libigl
Version: {version}
Summary: The core of libigl, a C++ library for geometry processing; see licenses/NOTICE
License: MPL-2.0 AND MIT AND BSD-3-Clause
Project-URL: Homepage, https://github.com/libigl/libigl-python-bindings
Requires-Python: >=3.8
Requires-Dist: numpy
Requires-Dist: scipy
"""


def core_wheel(whole: Path, folder: Path) -> Path:
    """Write the core of a libigl wheel into a folder and return the new wheel; the same bytes for the same wheel.

    Raises
    ------
    ValueError
        When the wheel does not hold exactly one core library.
    """
    name, version, tags = whole.name.split("-", 2)
    ours = VERSION + version
    info = f"{name}-{ours}.dist-info"
    members: dict[str, bytes] = {}
    with zipfile.ZipFile(whole) as archive:
        for each in archive.namelist():
            if KEPT.fullmatch(each):
                members[re.sub(r"^[^/]+\.dist-info", info, each)] = archive.read(each)
    cores = [each for each in members if each.startswith("igl/pyigl_core")]
    if len(cores) != 1 or len(members) != 4:
        raise ValueError(f"{whole.name} holds {len(cores)} core libraries among {sorted(members)}; expected one of 4.")
    members[f"{info}/METADATA"] = METADATA.format(version=ours).encode()
    digest = hashlib.sha256(whole.read_bytes()).hexdigest()
    members[f"{info}/licenses/NOTICE"] = NOTICE.format(name=whole.name, digest=digest, version=version).encode()
    for text in sorted(TEXTS.glob("*.txt")):
        members[f"{info}/licenses/{text.name}"] = text.read_bytes()
    members[f"{info}/RECORD"] = _record(members, f"{info}/RECORD")
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{name}-{ours}-{tags}"
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for each, data in sorted(members.items()):
            entry = zipfile.ZipInfo(each, (2020, 1, 1, 0, 0, 0))  # the same bytes each time
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = (0o755 if each in cores else 0o644) << 16
            archive.writestr(entry, data)
    return target


def _record(members: dict[str, bytes], own: str) -> bytes:
    """Return the list of files with their hashes (PyPA specification "Recording installed projects")."""
    lines = []
    for name, data in sorted(members.items()):
        digest = base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()
        lines.append(f"{name},sha256={digest},{len(data)}")
    return "\n".join([*lines, f"{own},,", ""]).encode()
