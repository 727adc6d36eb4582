"""Measure speed and memory beside general libraries: `python3.11 scripts/bench.py [ROW ...] [--small]`.

Each row runs in a process of its own, so that its peak memory is its own; ratios come from one run on one machine.
Prints a table in Markdown, which docs/performance.md keeps. `--small` takes a tenth of the triangles, to try the rows.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
from collections.abc import Mapping
from importlib import metadata
from pathlib import Path
from typing import Any

from setup_env import ROOT, environment_python, run_in_environment
from test_blender import RELEASES

LIBRARIES = ("numpy", "scipy", "manifold3d", "libigl", "trimesh", "lib3mf")
HEAD = ("work", "seconds", "peak memory", "beside it", "its seconds", "ratio", "reach", "accuracy", "also measured")


def main(arguments: list[str]) -> int:
    """Run the chosen rows and print the table; return 1 when a row failed."""
    parser = argparse.ArgumentParser(description="Measure speed and memory beside general libraries.")
    parser.add_argument("rows", nargs="*", metavar="ROW", help="names of rows; none: all")
    parser.add_argument("--small", action="store_true", help="a tenth of the triangles")
    parser.add_argument("--list", action="store_true", help="name the rows")
    chosen = parser.parse_args(arguments)
    python = environment_python(with_tests=True)
    if Path(sys.prefix).resolve() != python.parents[1].resolve():
        return run_in_environment(python, [str(Path(__file__).resolve()), *arguments])
    from bench_rows import ROWS

    if chosen.list:
        print("\n".join(ROWS))
        return 0
    unknown = [name for name in chosen.rows if name not in ROWS]
    if unknown:
        parser.error(f"no row called {', '.join(unknown)}; there are {', '.join(ROWS)}")
    print(_machine())
    print(f"\n| {' | '.join(HEAD)} |\n|{'---|' * len(HEAD)}", flush=True)
    failed = 0
    for name in chosen.rows or ROWS:
        command = [sys.executable, str(ROOT / "scripts" / "bench_rows.py"), name, "0.1" if chosen.small else "1"]
        answer = subprocess.run(command, capture_output=True, text=True, check=False, env=_one_thread_a_sum())
        if answer.returncode != 0:
            failed = 1
            print(f"{name} failed:\n{answer.stderr}", file=sys.stderr)
            continue
        print(_line(json.loads(answer.stdout.splitlines()[-1])), flush=True)
    if not chosen.rows:
        failed |= _modeller_rows()
    return failed


def _one_thread_a_sum() -> dict[str, str]:
    """Return the environment as the program makes it for itself: threads of numpy's sums would only wait."""
    return {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def _modeller_rows() -> int:
    """Print the rows in the modeller for each release whose environment is there (test_blender.py makes them)."""
    places = [ROOT / f".venv-blender-{release}" / end for release in RELEASES for end in ("bin", "Scripts")]
    pythons = [path for place in places for path in (place / "python", place / "python.exe") if path.exists()]
    if not pythons:
        print("\nRows in the modeller left out: no environment for it here; scripts/test_blender.py makes them.")
        return 0
    print("\n| in the modeller, best of several | release | ms | reach | |\n|---|---|---|---|---|", flush=True)
    failed = 0
    for python in pythons:
        answer = subprocess.run(
            [str(python), str(ROOT / "scripts" / "bench_modeller.py")], capture_output=True, text=True, check=False
        )
        if answer.returncode != 0:
            failed = 1
            print(f"{python.parents[1].name} failed:\n{answer.stderr}", file=sys.stderr)
            continue
        found = json.loads(answer.stdout.splitlines()[-1])
        for row in found["rows"]:
            is_over = " (missed)" if row["ms"] > row["target_ms"] else ""
            cells = [row["work"], found["release"], f"{row['ms']:.3g}{is_over}", f"{row['target_ms']:g}", row["also"]]
            print(f"| {' | '.join(cells)} |", flush=True)
    return failed


def _machine() -> str:
    versions = ", ".join(f"{name} {metadata.version(name)}" for name in LIBRARIES)
    memory = ""
    if hasattr(os, "sysconf") and "SC_PHYS_PAGES" in os.sysconf_names:
        memory = f", {os.sysconf('SC_PHYS_PAGES') * os.sysconf('SC_PAGE_SIZE') / 2**30:.0f} GiB"
    load = f", load average {os.getloadavg()[0]:.1f} at the start" if hasattr(os, "getloadavg") else ""
    return (
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores{memory}{load}; "
        f"Python {platform.python_version()}, {versions}"
    )


def _line(row: Mapping[str, Any]) -> str:
    beside = row.get("beside_seconds")
    memory = row["peak_mib"]
    cells = [
        row["work"],
        f"{row['seconds']:.2f}",
        "" if memory is None else f"{memory:.0f} MiB",
        row.get("beside", ""),
        "" if beside is None else f"{beside:.2f}",
        "" if beside is None else f"{row['seconds'] / beside:.2f}",
        row["reach"],
        row.get("accuracy", ""),
        row.get("also", ""),
    ]
    return f"| {' | '.join(cells)} |"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
