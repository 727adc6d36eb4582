"""The program as a person's machine starts it, and the processor time that it takes."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path


def start_once() -> None:
    """Import what a run does, so that its bytecode is there as it is on a machine where the program was started before.

    It goes to a folder of the system's for this Python and these rows alone.
    """
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = str(Path(tempfile.gettempdir()) / "padwright-bench-bytecode")
    loads = "import padwright.cli.main, padwright.core.run.pipeline, igl, manifold3d"
    subprocess.run([sys.executable, "-c", loads], check=True)


def children_seconds() -> float:
    """Return the processor time of all processes started so far, seconds."""
    return sum(os.times()[2:4])
