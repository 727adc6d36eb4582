"""Build the extension: one zip a platform, with its wheels for every Python that a release of the modeller has.

    python3.11 scripts/build_extension.py                    # all platforms, into build/extension
    python3.11 scripts/build_extension.py linux-x64          # one

Wheels come from the registry by pip, checked against the hashes in requirements/; of libigl's only the core goes in
(core_wheel.py says why). Nothing but Python and pip is needed.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from dataclasses import dataclass
from email.parser import Parser
from pathlib import Path

from core_wheel import TEXTS, core_wheel

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "addon" / "padwright"
OUT = ROOT / "build" / "extension"
CACHE = ROOT / "build" / "wheels"
BUNDLED = ("scipy", "manifold3d", "libigl", "pillow")  # numpy comes with the modeller, and everything else from Python
# Terms of each and of what is linked into it, as SPDX writes them; all may go together under the GPL 3 and be sold.
TERMS = {
    "scipy": ("BSD-3-Clause", "GPL-3.0-or-later WITH GCC-exception-3.1", "LGPL-2.1-or-later"),
    "manifold3d": ("Apache-2.0", "BSD-3-Clause", "BSL-1.0"),
    "libigl": ("MPL-2.0", "BSD-3-Clause", "MIT"),
    "pillow": (
        "MIT-CMU",
        "0BSD",
        "Apache-2.0",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "FTL",
        "IJG",
        "MIT",
        "Zlib",
        "bzip2-1.0.6",
        "libpng-2.0",
        "libtiff",
    ),
}
LOCKS = {"3.11": "run-3.11.txt", "3.13": "run-3.13.txt", "3.14": "wheels-3.14.txt"}
# Platform of the modeller -> wheel platforms it can load, by the oldest system each release of it supports.
PLATFORMS = {
    "linux-x64": ("manylinux_2_28_x86_64", "manylinux_2_17_x86_64"),
    "windows-x64": ("win_amd64",),
    "macos-arm64": ("macosx_12_0_arm64",),
    "macos-x64": ("macosx_12_0_x86_64",),
}
FITS = {
    "linux-x64": r"manylinux.*_x86_64",
    "windows-x64": r"win_amd64",
    "macos-arm64": r"macosx_(11|12)_\d+_arm64",
    "macos-x64": r"macosx_(10|11|12)_\d+_x86_64",
}
LARGEST_MB = 200.0  # the upload limit of the modeller's extension site, as far as known
FIXED_DATE = (2020, 1, 1, 0, 0, 0)  # so that the same files give the same zip


class BuildError(Exception):
    """The zip would be wrong; the text says why."""


@dataclass(frozen=True)
class Wheel:
    """A wheel file by the parts of its name (Python Packaging User Guide, binary distribution format)."""

    path: Path
    name: str
    version: str
    python: str
    abi: str
    platform: str

    def serves(self, version: str) -> bool:
        """Say if a Python of this version can load it; a stable ABI serves later ones too."""
        major, minor = version.split(".")
        if self.abi == "abi3":
            return self.python.startswith("cp3") and int(self.python[3:]) <= int(minor)
        return self.python == self.abi == f"cp{major}{minor}"


def read_wheel(path: Path) -> Wheel:
    """Return the wheel of a file.

    Raises
    ------
    BuildError
        When it is no wheel.
    """
    parts = path.name.removesuffix(".whl").split("-")
    if path.suffix != ".whl" or len(parts) != 5:
        raise BuildError(f"{path.name} is no wheel: nothing is built from source here.")
    return Wheel(path, parts[0].lower(), *parts[1:])


def pinned(lock: str) -> str:
    """Return the entries of a lock file for what is bundled, each with its hashes.

    Raises
    ------
    BuildError
        When one is missing.
    """
    text = (ROOT / "requirements" / lock).read_text("utf-8")
    entries = re.findall(r"^[a-z0-9._-]+==(?:.*\\\n)*.*", text, re.MULTILINE)
    found = [entry for entry in entries if entry.split("==")[0] in BUNDLED]
    if len(found) != len(BUNDLED):
        raise BuildError(f"requirements/{lock} pins {len(found)} of {', '.join(BUNDLED)}.")
    return "\n".join(found) + "\n"


def fetch_wheels(platform: str, folder: Path) -> None:
    """Download the platform's wheels for every Python into a folder; what is there already is not fetched again."""
    folder.mkdir(parents=True, exist_ok=True)
    for version, lock in LOCKS.items():
        wanted = folder / f"wanted-{version}.txt"
        wanted.write_text(pinned(lock), "utf-8")
        abi = f"cp{version.replace('.', '')}"
        command = [python_with_pip(), "-m", "pip", "--disable-pip-version-check", "download", "--quiet", "--no-deps"]
        command += ["--require-hashes", "--only-binary", ":all:", "--implementation", "cp", "--python-version", version]
        command += ["--abi", abi, "--abi", "abi3", "--dest", str(folder), "-r", str(wanted)]
        for tag in PLATFORMS[platform]:
            command += ["--platform", tag]
        if subprocess.run(command, stdin=subprocess.DEVNULL, check=False).returncode:
            raise BuildError(
                f"pip could not fetch the wheels for {platform}, Python {version}; the reason stands above."
            )


def python_with_pip() -> str:
    """Return the Python that runs this, or the one its environment was made from where the environment has no pip."""
    if importlib.util.find_spec("pip") is not None:
        return sys.executable
    return str(getattr(sys, "_base_executable", sys.executable))


def checked_wheels(platform: str, folder: Path) -> list[Wheel]:
    """Return the wheels of a folder after checking that they are what the zip needs, all of it and nothing else.

    Raises
    ------
    BuildError
        When not.
    """
    wheels = [read_wheel(path) for path in sorted(folder.iterdir()) if not path.name.startswith("wanted-")]
    for wheel in wheels:
        if wheel.name not in BUNDLED:
            raise BuildError(f"{wheel.path.name} must not be bundled.")
        if "universal2" in wheel.platform:
            raise BuildError(f"{wheel.path.name} is for two systems at once and twice as large as it need be.")
        if not all(re.fullmatch(FITS[platform], tag) for tag in wheel.platform.split(".")):
            raise BuildError(f"{wheel.path.name} is not for {platform}.")
        if not any(wheel.serves(version) for version in LOCKS):
            raise BuildError(f"{wheel.path.name} serves none of Python {', '.join(LOCKS)}.")
    for version in LOCKS:
        for name in BUNDLED:
            count = sum(wheel.name == name and wheel.serves(version) for wheel in wheels)
            if count != 1:
                raise BuildError(f"{platform} has {count} wheels of {name} for Python {version}; it needs one.")
    return wheels


def cut_wheel(wheel: Wheel, folder: Path) -> Wheel:
    """Return the wheel that goes into the zip: libigl's core, and any other as it came.

    Raises
    ------
    BuildError
        When libigl's wheel is not built as this was written for.
    """
    if wheel.name != "libigl":
        return wheel
    try:
        return read_wheel(core_wheel(wheel.path, folder))
    except ValueError as error:
        raise BuildError(str(error)) from error


def licence_files(wheel: Wheel) -> dict[str, bytes]:
    """Return the licence texts in a wheel by file name, and its statement of who made it.

    Raises
    ------
    BuildError
        When it has none.
    """
    found: dict[str, bytes] = {}
    with zipfile.ZipFile(wheel.path) as archive:
        inside = [name for name in archive.namelist() if ".dist-info/" in name]
        for name in inside:
            if re.search(r"(?i)licen[cs]e|copying|notice", name.split(".dist-info/")[1]) and not name.endswith("/"):
                found[name.split(".dist-info/")[1].replace("/", "-")] = archive.read(name)
        about = Parser().parsestr(archive.read(next(n for n in inside if n.endswith("/METADATA"))).decode())
    if wheel.name == "manifold3d" and found:  # linked in, its text not in the wheel
        found["nanobind.txt"] = (TEXTS / "nanobind.txt").read_bytes()
    if not found:
        text = about.get("License-Expression") or about.get("License")
        if not text:
            raise BuildError(f"{wheel.path.name} holds no licence text.")
        found["LICENSE-as-stated.txt"] = f"{wheel.name} {wheel.version}: {text}\n".encode()
    return found


def refuse_foreign_parts(wheel: Wheel) -> None:
    """Check that a wheel holds no library under terms that TERMS does not say.

    Raises
    ------
    BuildError
        When it does.
    """
    with zipfile.ZipFile(wheel.path) as archive:
        inside = [name for name in archive.namelist() if re.search(r"\.(so|pyd|dll|dylib|a|lib)(\.|$)", name)]
    foreign = [name for name in inside if wheel.name == "libigl" and not name.startswith("igl/pyigl_core.")]
    if wheel.name not in TERMS or foreign:
        raise BuildError(f"{wheel.path.name} brings {(foreign or [wheel.name])[0]}, whose terms TERMS does not say.")


def terms_text(wheels: list[Wheel]) -> bytes:
    """Return in plain words what the zip holds under which terms."""
    lines = [
        "Padwright is under the GPL-3.0-or-later (LICENSE). The wheels beside it, and what is linked into them:",
        "",
    ]
    for name, version in sorted({(wheel.name, wheel.version) for wheel in wheels}):
        lines.append(f"{name} {version}: {', '.join(TERMS[name])}; texts in licenses/{name}-{version}")
    lines += ["", "All of it may be used, changed, passed on and sold under these terms.", ""]
    return "\n".join(lines).encode()


def manifest_for(platform: str, wheels: list[Wheel]) -> str:
    """Return the manifest with the zip's platform, wheels and their terms in it."""
    head, _, tables = (PACKAGE / "blender_manifest.toml").read_text("utf-8").partition("\n[")
    own = tomllib.loads(head)["license"]
    terms = [*own, *sorted({f"SPDX:{each}" for wheel in wheels for each in TERMS[wheel.name]} - set(own))]
    head = re.sub(r"(?m)^license = .*$", "license = " + str(terms).replace("'", '"'), head)
    listed = "".join(f'  "./wheels/{wheel.path.name}",\n' for wheel in wheels)
    text = f'{head}\nplatforms = ["{platform}"]\nwheels = [\n{listed}]\n\n[{tables}'
    tomllib.loads(text)
    return text


def package_files() -> dict[str, bytes]:
    """Return the add-on's own files and the shared data, by their place in the zip."""
    files: dict[str, bytes] = {}
    for root, place in ((PACKAGE, ""), (ROOT / "shared", "shared/")):
        for path in sorted(root.rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts and path.name != "blender_manifest.toml":
                files[place + path.relative_to(root).as_posix()] = path.read_bytes()
    files["LICENSE"] = (ROOT / "LICENSE").read_bytes()
    return files


def build(platform: str, folder: Path = OUT, cache: Path = CACHE) -> Path:
    """Build the zip of a platform and return it.

    Raises
    ------
    BuildError
        When it would be wrong.
    """
    fetch_wheels(platform, cache / platform)
    wheels = [cut_wheel(wheel, cache / "cut" / platform) for wheel in checked_wheels(platform, cache / platform)]
    for wheel in wheels:
        refuse_foreign_parts(wheel)
    files = package_files()
    files["blender_manifest.toml"] = manifest_for(platform, wheels).encode()
    for wheel in wheels:
        for name, text in licence_files(wheel).items():
            files[f"licenses/{wheel.name}-{wheel.version}/{name}"] = text
    files["licenses/TERMS.txt"] = terms_text(wheels)
    version = tomllib.loads(files["blender_manifest.toml"].decode())["version"]
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"padwright-{version}-{platform.replace('-', '_')}.zip"
    staging = target.with_suffix(f".{os.getpid()}.part")  # two may build at once
    with zipfile.ZipFile(staging, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in sorted(files.items()):
            archive.writestr(_entry(name, zipfile.ZIP_DEFLATED), data)
        for wheel in wheels:  # they are compressed already
            with archive.open(_entry(f"wheels/{wheel.path.name}", zipfile.ZIP_STORED), "w", force_zip64=True) as inside:
                with wheel.path.open("rb") as source:
                    shutil.copyfileobj(source, inside, 1 << 20)
    staging.replace(target)
    size = target.stat().st_size / 1e6
    own = sum(len(data) for data in files.values()) / 1e6
    print(f"{target.relative_to(ROOT) if target.is_relative_to(ROOT) else target}: {size:.1f} MB")
    for wheel in wheels:
        print(f"  {wheel.path.stat().st_size / 1e6:6.1f} MB  {wheel.path.name}")
    print(f"  {own:6.1f} MB  {len(files)} files of the add-on, shared data and licences (before compression)")
    if size > LARGEST_MB:
        raise BuildError(f"{target.name} has {size:.0f} MB; {LARGEST_MB:.0f} MB is the limit.")
    return target


def _entry(name: str, method: int) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, FIXED_DATE)
    entry.compress_type = method
    entry.external_attr = 0o644 << 16
    return entry


def main(arguments: list[str]) -> int:
    """Build the platforms asked for, all by default."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    names = ", ".join(PLATFORMS)
    parser.add_argument("platforms", nargs="*", metavar="PLATFORM", help=f"out of {names} (default: all)")
    chosen = parser.parse_args(arguments).platforms or list(PLATFORMS)
    unknown = [name for name in chosen if name not in PLATFORMS]
    if unknown:
        parser.error(f"{unknown[0]} is no platform; choose out of {names}")
    try:
        for platform in chosen:
            build(platform)
    except BuildError as error:
        print(f"Not built: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
