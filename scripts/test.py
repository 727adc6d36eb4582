"""Run the tests of the core: `python3.11 scripts/test.py`; what follows goes to pytest (`-k scale`, a file, ...)."""

from __future__ import annotations

import sys

from setup_env import ROOT, environment_python, run_in_environment

DEFAULT = ["tests/core", "tests/outside", "tests/test_layers.py", "tests/test_docs.py", "tests/test_studies.py"]


def main(arguments: list[str]) -> int:
    """Run pytest in the environment of the Python that runs this, and return its exit code."""
    python = environment_python(with_tests=True)
    names_a_test = any((ROOT / argument.split("::")[0]).exists() for argument in arguments)
    chosen = arguments if names_a_test else [*DEFAULT, *arguments]
    return run_in_environment(python, ["-m", "pytest", *chosen], cwd=ROOT)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
