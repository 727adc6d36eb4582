"""Make one job under other conditions and say which files come out with other bytes.

    python3.11 scripts/same_files.py [--job JOB] [PYTHON ...]

Each further PYTHON is one with Padwright and its libraries, e.g. .venv-3.13/bin/python. The table stands in
docs/same-files.md.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from setup_env import ROOT, environment_python

EPOCH = {"SOURCE_DATE_EPOCH": "1700000000"}
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
# Without the command line, which asks for one thread: so runs a program that has loaded numpy before, as the modeller.
RUN = """
import sys
from pathlib import Path
from padwright.core.base.progress import drain
from padwright.core.job.read import read_job
from padwright.core.run.into_folder import put_result
from padwright.core.run.pipeline import run_job
job = read_job(sys.argv[1])
for out in sys.argv[2:]:
    put_result(Path(out), job.part.number, drain(run_job(job, Path(sys.argv[1]).parent)))
"""
TELL = (
    "import numpy, scipy, sys; print(f'{sys.version.split()[0]}, numpy {numpy.__version__}, scipy {scipy.__version__}')"
)
NARROW = {  # what a processor without them computes with: sums in other steps
    "NPY_DISABLE_CPU_FEATURES": "AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL AVX512_ICL",
    "OPENBLAS_CORETYPE": "Haswell",
}
NARROWEST = {
    "NPY_DISABLE_CPU_FEATURES": f"{NARROW['NPY_DISABLE_CPU_FEATURES']} AVX2 FMA3",
    "OPENBLAS_CORETYPE": "Nehalem",
}


def made(python: str, code: str, job: Path, outs: list[Path], variables: Mapping[str, str]) -> list[dict[str, bytes]]:
    """Make the job's files once for each folder, in one process, and return what lies in them."""
    environment = {key: value for key, value in os.environ.items() if key not in {*THREADS, *EPOCH, *NARROW}}
    command = [python, "-W", "ignore", "-c", code, str(job), *map(str, outs)]
    subprocess.run(command, env={**environment, **variables}, check=True, stdout=subprocess.DEVNULL)
    return [{path.name: path.read_bytes() for path in sorted(out.iterdir())} for out in outs]


def evidence_of(document: bytes) -> bytes:
    """Return what stands before the line of the evidence's hash."""
    return document.partition(b'\n "evidence_sha256"')[0]


def places(one: Any, other: Any, at: str = "") -> Iterator[str]:
    """Yield the places where two documents differ, with both values."""
    if isinstance(one, dict) and isinstance(other, dict):
        for name in one.keys() | other.keys():
            yield from places(one.get(name), other.get(name), f"{at}.{name}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for number, (left, right) in enumerate(zip(one, other, strict=True)):
            yield from places(left, right, f"{at}[{number}]")
    elif one != other:
        yield f"{at}: {str(one)[:40]} -> {str(other)[:40]}"


def differing(one: Mapping[str, bytes], other: Mapping[str, bytes]) -> str:
    """Name the files whose bytes differ; of the run document the evidence counts."""
    names = sorted(
        name
        for name in one.keys() | other.keys()
        if (evidence_of if name.endswith(".run.json") else bytes)(one.get(name, b""))
        != (evidence_of if name.endswith(".run.json") else bytes)(other.get(name, b""))
    )
    for name in names:
        if name.endswith(".json") and one.keys() == other.keys():
            for place in sorted(places(json.loads(one[name]), json.loads(other[name]))):
                if not place.startswith((".stages", ".files", ".seal", ".evidence_sha256")):
                    print(name, place, file=sys.stderr)
    return ", ".join(name.partition(".")[2].replace("run.json", "run.json (evidence)") for name in names) or "none"


def main(arguments: list[str]) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--job", type=Path, default=ROOT / "shared" / "demo" / "job.toml", help="default: the demo")
    parser.add_argument("pythons", metavar="PYTHON", nargs="*", help="others with Padwright and its libraries")
    asked = parser.parse_args(arguments)
    job, own = asked.job.resolve(), str(environment_python())
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        elsewhere = room / "another folder" / job.name
        shutil.copytree(job.parent, elsewhere.parent, ignore=shutil.ignore_patterns("out*"))
        first, again = made(own, RUN, job, [room / "1", room / "2"], {**EPOCH, THREADS[0]: "1", THREADS[1]: "1"})
        print(f"first: one thread; {len(first)} files, {sum(map(len, first.values())) / 1e6:.1f} MB\n")
        print("| against the first run | files with other bytes |\n|---|---|", flush=True)
        print(f"| again, in the same process | {differing(first, again)} |", flush=True)
        rows: list[tuple[str, str, Path, Mapping[str, str]]] = [
            (f"{count} threads", own, job, {**EPOCH, **dict.fromkeys(THREADS, str(count))}) for count in (2, 4)
        ]
        rows += [
            ("another folder, language, time zone, hash seed", own, elsewhere,
             {**EPOCH, "LC_ALL": "C", "TZ": "Asia/Tokyo", "PYTHONHASHSEED": "7"}),
            ("no SOURCE_DATE_EPOCH", own, job, {}),
            ("a processor without AVX-512", own, job, {**EPOCH, **NARROW}),
            ("one without AVX2 and FMA too", own, job, {**EPOCH, **NARROWEST}),
        ]  # fmt: skip
        for python in asked.pythons:
            told = subprocess.run([python, "-c", TELL], capture_output=True, text=True, check=True).stdout.strip()
            rows.append((f"Python {told}", python, job, EPOCH))
        for number, (what, python, path, variables) in enumerate(rows, 3):
            (other,) = made(python, RUN, path, [room / str(number)], variables)
            print(f"| {what} | {differing(first, other)} |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
