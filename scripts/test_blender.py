"""Test the add-on in the modeller as a Python module, and the zip as it is installed; no modeller need be there.

    python3.11 scripts/test_blender.py                  # releases 4.2, 4.5 and 5.0, one after another
    python3.13 scripts/test_blender.py                  # releases 5.2 and 5.3
    python3.11 scripts/test_blender.py --release 4.5    # one of them

What follows goes to pytest. Each release has an environment of its own, with the numpy it brings, made once.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from setup_env import ROOT, prepared, run_in_environment

RELEASES = {"4.2": (3, 11), "4.5": (3, 11), "5.0": (3, 11), "5.2": (3, 13), "5.3": (3, 13)}
SUITES = ["tests/blender", "tests/package"]


def modeller_python(release: str) -> Path:
    """Return the Python of a release's environment, which is made first where needed."""
    return prepared(ROOT / f".venv-blender-{release}", [f"blender-{release}.txt"])


def main(arguments: list[str]) -> int:
    """Run each suite in a process of its own, and return 0 when all passed."""
    parser = argparse.ArgumentParser(description="Test the add-on in the modeller as a Python module.")
    parser.add_argument("--release", action="append", choices=RELEASES, help="default: all of this Python")
    chosen, rest = parser.parse_known_args(arguments)
    here = sys.version_info[:2]
    releases = chosen.release or [release for release, version in RELEASES.items() if version == here]
    wrong = [release for release in releases if RELEASES[release] != here]
    if wrong or not releases:
        needed = " or ".join(sorted({"{}.{}".format(*RELEASES[each]) for each in wrong or RELEASES}))
        sys.exit(f"The modeller's module asks for Python {needed}, and this is {here[0]}.{here[1]}.")
    names_a_test = any((ROOT / argument.split("::")[0]).exists() for argument in rest)
    suites = [[]] if names_a_test else [[suite] for suite in SUITES]
    failed = []
    for release in releases:
        python = modeller_python(release)
        for suite in suites:
            start = time.monotonic()
            print(f"\n== release {release}: {' '.join([*suite, *rest])}", flush=True)
            code = run_in_environment(python, ["-m", "pytest", *suite, *rest], cwd=ROOT)
            print(f"== release {release}: {time.monotonic() - start:.0f} s", flush=True)
            if code:
                failed.append(f"{release} {' '.join(suite)}".strip())
    if failed:
        print(f"Failed: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
