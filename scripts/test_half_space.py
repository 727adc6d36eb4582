"""Check the half-space formulas against ContactMechanics: `python3.13 scripts/test_half_space.py`.

That library needs a newer numpy than the modeller's, so it has an environment of its own, `.venv-half-space`.
"""

from __future__ import annotations

import sys

from setup_env import ROOT, prepared, run_in_environment

CHECK = "tests/outside/test_contact_outside.py::test_half_space_formulas_against_the_library_itself"


def main() -> int:
    """Run the one check that needs the library and return pytest's exit code."""
    if sys.version_info[:2] != (3, 13):
        sys.exit(f"This check is locked for Python 3.13 and this is {sys.version_info[0]}.{sys.version_info[1]}.")
    python = prepared(ROOT / ".venv-half-space", ["half-space.txt"])
    return run_in_environment(python, ["-m", "pytest", "-q", CHECK], cwd=ROOT)


if __name__ == "__main__":
    sys.exit(main())
