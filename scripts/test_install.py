"""Build the wheel, install it in a fresh environment and make the demo there: `python3 scripts/test_install.py`.

The build's own tools have an environment of their own, `.venv-build`; what is installed into is made anew each time.
"""

from __future__ import annotations

import sys

from setup_env import ROOT, prepared, run_in_environment


def main(arguments: list[str]) -> int:
    """Run the tests of what is installed and return pytest's exit code; what follows goes to pytest."""
    python = prepared(ROOT / ".venv-build", ["build.txt"])
    return run_in_environment(python, ["-m", "pytest", "-q", "tests/installed", *arguments], cwd=ROOT)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
