"""Make the demo parts: `python3 scripts/demo.py [FOLDER]`; without a folder they go to out/demo, -2 and -folds."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from setup_env import ROOT, environment_python, run_in_environment

JOBS = (
    (
        "job.toml",
        "",
        "A sculler's sliding-seat pad, from two scans: the bare seat, and the seat under clay that was sat on.",
    ),
    (
        "job-2.toml",
        "-2",
        "Its second revision, as `revise` made it from what its wearer said of the first (DEMO-1.trials.toml).",
    ),
    ("folds.toml", "-folds", "The same pad, made soft by folded walls instead of by settings."),
)
"""Job file, what is put behind the folder's name (a folder holds one part), and what it makes."""

MEANING = {
    ".project.3mf": "the part with its regions, to open for printing",
    ".cutaway.png": "a picture of the part cut open",
    ".stl": "one region by itself",
    ".settings.json": "what each region should be printed with",
    ".run.json": "the evidence: every number with where it comes from",
    ".report.html": "the report with pictures",
    ".places.svg": "zones and cells, to name a place by",
}


def main(arguments: list[str]) -> int:
    """Run the demo jobs and say where the files are; return the first exit code that is not 0."""
    if len(arguments) > 1 or any(argument.startswith("-") for argument in arguments):
        print("usage: python3 scripts/demo.py [FOLDER]")
        return 0 if arguments in (["-h"], ["--help"]) else 2
    first = Path(arguments[0]).resolve() if arguments else ROOT / "out" / "demo"
    folders = [first.with_name(f"{first.name}{behind}") for _, behind, _ in JOBS]
    python = environment_python()
    for (name, _, about), out in zip(JOBS, folders, strict=True):
        print(f"{about}\n", flush=True)
        job = ROOT / "shared" / "demo" / name
        command = ["-m", "padwright", "run", str(job), "--out", str(out)]
        if name == "job-2.toml":  # the files of the first revision lie where this demo put them
            before = Path(os.path.relpath(folders[0], job.parent)).as_posix()
            command += ["--set", f'part.previous="{before}"']
        code = run_in_environment(python, command)
        if code != 0:
            print(f"\nThe demo stopped with exit code {code}; nothing half-made was left behind.")
            return code
        print(flush=True)
    for out in folders:
        print(f"The files are in {out}:")
        for path in sorted(out.iterdir()):
            meaning = next((text for ending, text in MEANING.items() if path.name.endswith(ending)), "")
            print(f"  {path.name:<34} {path.stat().st_size / 1024:>8.0f} KiB  {meaning}".rstrip())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
