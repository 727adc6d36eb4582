"""Test the add-on in the modeller as a Python module, and the zip as it is installed; no modeller need be there.

    python3.11 scripts/test_blender.py        # with the 4.2 module; python3.13: with the 5.2 module

What follows goes to pytest. The Python that runs this decides which module is taken; its environment is made once.
"""

from __future__ import annotations

import sys

from setup_env import ROOT, prepared, run_in_environment

VERSIONS = {(3, 11): "blender-3.11.txt", (3, 13): "blender-3.13.txt"}
SUITES = ["tests/blender", "tests/package"]


def main(arguments: list[str]) -> int:
    """Run each suite in a process of its own, and return 0 when all passed."""
    version = sys.version_info[:2]
    if version not in VERSIONS:
        sys.exit(f"The modeller's module is there for Python 3.11 and 3.13; this is {version[0]}.{version[1]}.")
    python = prepared(ROOT / f".venv-blender-{version[0]}.{version[1]}", [VERSIONS[version]])
    names_a_test = any((ROOT / argument.split("::")[0]).exists() for argument in arguments)
    suites = [[]] if names_a_test else [[suite] for suite in SUITES]
    codes = [run_in_environment(python, ["-m", "pytest", *suite, *arguments], cwd=ROOT) for suite in suites]
    return max(codes, key=abs)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
