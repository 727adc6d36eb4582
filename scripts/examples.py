"""Make an example of folded walls for each of the other families: `python3 scripts/examples.py [FOLDER] [NAME ...]`.

The scans and the job of each are made from formulas (example_shapes.py) into FOLDER/NAME (default out/examples), then
run into FOLDER/NAME/out. A seat pad of folded walls is the second demo (scripts/demo.py).
"""

from __future__ import annotations

import sys
from pathlib import Path

from setup_env import ROOT, environment_python, run_in_environment

FOLDER = ROOT / "out" / "examples"
NAMES = ("insole", "liner_pad", "nose_pad")


def main(arguments: list[str]) -> int:
    """Make the scans and jobs, run them, and return the first exit code that is not 0."""
    names = [each for each in arguments if each in NAMES] or list(NAMES)
    others = [each for each in arguments if each not in NAMES]
    if len(others) > 1 or any(each.startswith("-") for each in others):
        print(f"usage: python3 scripts/examples.py [FOLDER] [{' '.join(NAMES)}]")
        return 0 if others in (["-h"], ["--help"]) else 2
    folder = Path(others[0]).resolve() if others else FOLDER
    python = environment_python()
    made = [str(ROOT / "scripts" / "make_example_scans.py"), str(folder), *names]
    code = run_in_environment(python, made)
    for name in names if code == 0 else ():
        job, out = folder / name / "job.toml", folder / name / "out"
        code = code or run_in_environment(python, ["-m", "padwright", "run", str(job), "--out", str(out)])
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
