"""Run the tests of the core: `python3 scripts/test.py`; what follows goes to pytest (`-k scale`, a file, ...)."""

from __future__ import annotations

import sys

from setup_env import ROOT, environment_python, run_in_environment


def main(arguments: list[str]) -> int:
    """Run pytest in the environment of the Python that runs this, and return its exit code."""
    python = environment_python(with_tests=True)
    return run_in_environment(python, ["-m", "pytest", *arguments], cwd=ROOT)  # pyproject.toml lists the tests


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
