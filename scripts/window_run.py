"""Start the modeller of a tree on a virtual screen, in name spaces of its own: nothing stays mounted or running."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from window_tree import WindowError

SIZE = (1600, 1000)
_STRAY_S = 30  # the tour has a time limit of its own; so much later the whole is stopped from outside
# A network of its own as well: a display listens on a socket without a file too, which all of one network see, so two
# windows at once would share a screen. Nothing in the window asks for a network.
NAME_SPACES = ("unshare", "--mount", "--net", "--pid", "--fork", "--kill-child", "--propagation", "private")
_SETUP = """
set -eu
mount -t proc proc "$TREE/proc"
mount -t tmpfs -o mode=1777 tmpfs "$TREE/tmp"
cd "$TREE/tmp"
mkdir home out scripts zip scans
mount --bind -o ro "$SCRIPTS" scripts
mount --bind -o ro "$ZIP_FOLDER" zip
mount --bind -o ro "$SCANS" scans
mount --bind "$OUT" out
exec env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/tmp/home XDG_RUNTIME_DIR=/tmp LANG=C.UTF-8 \\
  LIBGL_ALWAYS_SOFTWARE=1 ZIP="$ZIP" LIMIT="$LIMIT" SCREEN="$SCREEN" chroot "$TREE" bash -c "$INNER" tour "$@"
"""
_INNER = """
set -u
blender --offline-mode --command extension install-file --repo user_default --enable "/tmp/zip/$ZIP" \\
  >/tmp/out/install.log 2>&1 || exit 2
Xvfb :9 -screen 0 "${SCREEN}x24" +extension GLX -nolisten tcp -noreset >/tmp/out/screen.log 2>&1 &
for _ in $(seq 100); do DISPLAY=:9 xdpyinfo >/dev/null 2>&1 && break; sleep 0.1; done
DISPLAY=:9 timeout "$LIMIT" blender --gpu-backend opengl -noaudio --offline-mode --enable-event-simulate \\
  --window-geometry 0 0 "${SCREEN%x*}" "${SCREEN#*x}" \\
  --python-exit-code 1 --python /tmp/scripts/window_tour.py -- "$@" >/tmp/out/window.log 2>&1
code=$?
kill %1 2>/dev/null
exit $code
"""
_MEANING = {
    1: "a step of the tour did not hold",
    2: "the zip could not be installed",
    3: "the tour took too long",
    124: "the window stood still and was stopped",
}


@dataclass(frozen=True)
class Outcome:
    """How a run in the window ended.

    Attributes
    ----------
    code : int
        0 when every step held and the log is clean.
    reason : str
        What went wrong, or nothing.
    log : str
        What the modeller said.
    """

    code: int
    reason: str
    log: str


def faults_in(log: str) -> list[str]:
    """Return the lines of the modeller's log that show a bug: tracebacks, and what it says of wrong interface code.

    A panel whose drawing fails prints a traceback and the modeller goes on, so its exit code does not tell.
    """
    wrong = re.compile(r"Traceback \(most recent|rna_uiItem\w+: .*not found|Error: Python:|is not in the .*enum")
    return [line for line in log.splitlines() if wrong.search(line)]


def run_tour(
    tree: Path, archive: Path, scans: Path, out: Path, *, limit_s: int = 600, arguments: Sequence[str] = ()
) -> Outcome:
    """Install the zip in a fresh home, start the window and do the tour in it.

    Raises
    ------
    WindowError
        When name spaces cannot be had.
    """
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        raise WindowError("The window needs root and unshare (util-linux).")
    out.mkdir(parents=True, exist_ok=True)
    environment = {
        **os.environ,
        "TREE": str(tree),
        "SCRIPTS": str(Path(__file__).resolve().parent),
        "ZIP_FOLDER": str(archive.parent),
        "ZIP": archive.name,
        "SCANS": str(scans),
        "OUT": str(out),
        "LIMIT": str(limit_s + _STRAY_S),
        "SCREEN": f"{SIZE[0]}x{SIZE[1]}",
        "INNER": _INNER,
    }
    command = [*NAME_SPACES, "bash", "-c", _SETUP, "setup", str(limit_s), *arguments]
    code = subprocess.run(command, env=environment, stdin=subprocess.DEVNULL, check=False).returncode
    logs = {path.name: path.read_text("utf-8", "replace") for path in out.glob("*.log")}
    log = logs.get("window.log", "")
    faults = faults_in(log)
    if code == 0 and faults:
        return Outcome(4, f"the log shows {len(faults)} faults, first: {faults[0]}", log)
    if code == 2 and not log:
        log = logs.get("install.log", "")
    return Outcome(code, "" if code == 0 else _MEANING.get(code, f"exit code {code}"), log)
