"""Do the studies: `python3 scripts/run_studies.py [NAME ...] [--sample]`, NAME as in `scripts/study_NAME.py`.

With `--sample` each takes its fixed few draws and must end within 30 s of processor time; this is what `.ci/run` does.
Each has a process of its own with one thread, so that a busy machine and its cores change no figure. Ends with 1 when
a study's claim does not hold or a sample takes too long.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from pathlib import Path

from setup_env import ROOT, environment_python
from studying import PATHS

LIMIT_S = 30.0
SLOWER = 2.0  # a machine half as fast as those the samples were cut on takes twice as long; that alone fails nothing
PATIENCE_S = 600.0  # by the clock: a busy machine may be slow, a study that hangs may not stay
ONE_THREAD = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}


def studies(folder: Path = ROOT / "scripts") -> dict[str, Path]:
    """Return the studies by their names."""
    return {path.stem.removeprefix("study_"): path for path in sorted(folder.glob("study_*.py"))}


def _spent_s() -> float:
    """Return the processor time of all children that have ended; on Windows, which does not tell, the clock's."""
    spent = os.times()
    return time.perf_counter() if os.name == "nt" else spent.children_user + spent.children_system


def run_study(
    python: Path, path: Path, *, is_sample: bool, limit_s: float = SLOWER * LIMIT_S, patience_s: float = PATIENCE_S
) -> str:
    """Run one study and return what is wrong with it, or nothing."""
    command = [str(python), str(path), *(["--sample"] if is_sample else [])]
    environment = {**os.environ, **ONE_THREAD, "PYTHONPATH": os.pathsep.join(PATHS)}
    before = _spent_s()
    try:
        code = subprocess.run(
            command, cwd=ROOT, env=environment, check=False, timeout=patience_s if is_sample else None
        ).returncode
    except subprocess.TimeoutExpired:
        return f"stopped after {patience_s:.0f} s"
    spent = _spent_s() - before
    print(f"{spent:.1f} s of processor time", flush=True)
    if code:
        return f"ended with {code}"
    return f"its sample took {spent:.0f} s of {limit_s:.0f} s" if is_sample and spent > limit_s else ""


def main(arguments: list[str]) -> int:
    """Run the chosen studies one after another; return 1 when one failed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAME", help="none: all")
    parser.add_argument("--sample", action="store_true", help="a fixed few draws of each, at most 30 s")
    chosen = parser.parse_args(arguments)
    known = studies()
    unknown = [name for name in chosen.names if name not in known]
    if unknown:
        parser.error(f"no study called {', '.join(unknown)}; there are {', '.join(known)}")
    python = environment_python(with_tests=True)
    failed = []
    for name in chosen.names or known:
        print(f"\n== study {name}", flush=True)
        wrong = run_study(python, known[name], is_sample=chosen.sample)
        if wrong:
            failed.append(f"{name} ({wrong})")
    if failed:
        print(f"Failed: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
