"""Fuzz of every reader: files changed by a seed, in little memory, each to end in a result or one clear error, soon.

The table stands in docs/models/clean.md.
"""

from __future__ import annotations

import atexit
import io
import json
import shutil
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

import studying
from padwright.cli.look import look_at
from padwright.core.base.errors import PadwrightError
from padwright.core.base.progress import drain
from padwright.core.base.resources import shared_path
from padwright.core.job.mat_table import Mat
from padwright.core.job.material_cards import load_material, read_material
from padwright.core.job.read import key_notes, parse_job
from padwright.core.job.toml_lines import parse_toml
from padwright.core.run.coupons import pack_coupons, read_record
from padwright.core.stages.material.coupons.coupons import CouponWish
from padwright.core.stages.material.coupons.readings import read_readings
from padwright.core.stages.mats.mat_file import read_mat
from padwright.core.stages.packing.bundle import listed_files, run_document
from padwright.core.stages.scans.clean import clean_scan
from padwright.core.stages.scans.read import read_scan
from padwright.core.stages.zones.weights_file import read_weights
from support import scan_files
from support.hostile import changed
from support.scanned import sphere
from support.writers import write_scan

ROOM_BYTES = 700_000_000
"""Address space a reader may take beside what the program takes by itself. Files here have up to 300 kB."""
LONGEST_S = 10.0
"""Processor time for one file; the slowest good one takes 0.2 s."""


@dataclass(frozen=True)
class Door:
    """One way in: good files, and what reads them."""

    name: str
    seeds: Callable[[], tuple[bytes, ...]]
    read: Callable[[bytes], object]


def _scan(data: bytes) -> None:
    scan = read_scan(data, "scan")
    drain(clean_scan(scan.mesh.scaled(10.0)))


def _look(data: bytes) -> None:
    path = _folder() / "fuzz.scan"
    path.write_bytes(data)
    json.dumps(look_at(path)[0], allow_nan=False)


@cache
def _folder() -> Path:
    made = tempfile.mkdtemp(prefix="padwright-fuzz-")
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return Path(made)


@cache
def _scans() -> tuple[bytes, ...]:
    small = [scan_files.binary_stl(), scan_files.text_stl().encode(), scan_files.obj(), scan_files.off()]
    small += [scan_files.ply(order) for order in ("ascii", "binary_little_endian", "binary_big_endian")]
    small += [scan_files.glb(), scan_files.glb(index_type=5125)]
    ball = sphere(rows=12, columns=20)
    for kind in ("stl", "obj", "ply", "ply ascii", "off"):
        small.append(write_scan(ball, _folder(), "ball", kind).read_bytes())
    return tuple(small)


@cache
def _packed() -> bytes:
    packed = pack_coupons(load_material("tpu_85a"), CouponWish())
    return run_document(packed.evidence, packed.files)


@cache
def _coupons() -> tuple[object, ...]:
    return read_record(_packed(), "run.json")[2]


def _readings() -> bytes:
    rows = [
        f"{block},{load},{25.0 - 0.1 * load:.1f},{25.0 - 0.1 * load:.2f}"
        for block in range(1, 5)
        for load in (0, 9, 20)
    ]
    return "\n".join(["# read on Monday", "block,load_kg,height_mm,height_2_mm", *rows]).encode()


def _weights() -> tuple[bytes, ...]:
    file = io.BytesIO()
    np.savez_compressed(file, positions=np.arange(60.0).reshape(20, 3), weights=np.linspace(0, 1, 20))
    return file.getvalue(), b"x,y,z,weight\n" + b"\n".join(b"%d,2,3,0.5" % row for row in range(20))


def _mats() -> tuple[bytes, ...]:
    rows = [[float(3 * row + column) for column in range(5)] for row in range(4)]
    text = "\n".join(";".join(f"{each:.1f}".replace(".", ",") for each in row) for row in rows)
    return b"1,2,3\n4,5,6\n7,8,9\n", f"Unit: kPa\nPitch: 10 mm\n{text}\n".encode(), json.dumps({"kPa": rows}).encode()


def _mat(data: bytes) -> None:
    read_mat(data, "g.csv", Mat(file="g.csv"), needs_unit=False)


def _job(data: bytes) -> None:
    key_notes(parse_job(data, "job.toml", None))


def _material(data: bytes) -> None:
    read_material(*parse_toml(data, "card.toml"), "card.toml")


def _jobs() -> tuple[bytes, ...]:
    demo = (shared_path("demo") / "job.toml").read_bytes()
    more = b"""
[pad]
footprint = [[0, 0, 0], [1, 0, 0], [0, 1, 0]]
[[pad.reliefs]]
kind = "channel"
points = [[0, 0, 0], [1, 0, 0]]
width_mm = 6
depth_mm = 3
[[zones]]
name = "a"
level = 3
source = "pressure_grid"
file = "grid.csv"
from_kpa = 10
places = [{ cell = [0, 0], point = [0, 0, 0] }, { cell = [5, 5], point = [1, 0, 0] }]
[[zones]]
name = "rest"
level = 2.5
source = "rest"
[[load.cases]]
name = "leaning"
share = 0.3
[blend]
between = [{ zones = ["a", "rest"], steps = 2 }]
"""
    head = b'schema = 1\n[part]\nname = "Pad"\nnumber = "P-1"\nfamily = "seat_pad"\n[base]\nscan = "base.ply"\n'
    return demo, head + b'unit = "m"\n[impression]\nscan = "impression.ply"\nunit = "m"\n' + more


DOORS = (
    Door("scan, read and cleaned", _scans, _scan),
    Door("scan, looked at", _scans, _look),
    Door("job", _jobs, _job),
    Door("material card", lambda: ((shared_path("materials") / "tpu_85a.toml").read_bytes(),), _material),
    Door("table of readings", lambda: (_readings(),), lambda data: read_readings(data, "r.csv", _coupons())),  # type: ignore[arg-type]
    Door("record of blocks", lambda: (_packed(),), lambda data: read_record(data, "run.json")),
    Door("record of a run", lambda: (_packed(),), listed_files),
    Door("pressure mat", _mats, _mat),
    Door("weights", _weights, lambda data: read_weights(data, "w.npz")),
)


def limit_memory() -> bool:
    """Let this process take no more than `ROOM_BYTES` beside what it has; False where the system cannot."""
    try:
        import resource
    except ImportError:  # Windows
        return False
    pages = Path("/proc/self/statm")
    if not pages.exists():
        return False
    has = int(pages.read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (has + ROOM_BYTES, resource.RLIM_INFINITY))
    return True


def study(seeds: range) -> studying.Finding:
    """Try each door with one file a seed."""
    warnings.simplefilter("error")
    for door in DOORS:  # what loads libraries or makes seeds is done before memory is counted
        for data in door.seeds():
            door.read(data)
    limit_memory()
    rows, claims = [], []
    for number, door in enumerate(DOORS):
        files = door.seeds()
        taken = refused = 0
        slowest = 0.0
        broken: list[str] = []
        for seed in seeds:
            dice = np.random.default_rng([seed, number])
            data = changed(files[int(dice.integers(len(files)))], dice)
            began = time.process_time()
            try:
                door.read(data)
                taken += 1
            except PadwrightError as error:
                refused += 1
                if not error.message or len(str(error)) > 6000:
                    broken.append(f"seed {seed}: a message of {len(str(error))} characters")
            except Exception as error:  # noqa: BLE001  a study of what must not come out
                told = traceback.extract_tb(error.__traceback__)[-1]
                broken.append(f"seed {seed}: {type(error).__name__} at {Path(told.filename).name}:{told.lineno}")
            spent = time.process_time() - began
            slowest = max(slowest, spent)
            if spent > LONGEST_S:
                broken.append(f"seed {seed}: {spent:.1f} s")
        rows.append((door.name, str(taken), str(refused), f"{slowest:.2f} s", str(len(broken))))
        claims.append((f"{door.name}: {'; '.join(broken[:5]) or 'every file ends well'}", not broken))
    return studying.Finding(
        ("what is read", "read", "refused in words", "slowest, processor time", "tracebacks, too slow, too large"),
        tuple(rows), tuple(claims),
    )  # fmt: skip


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=3000, sample=80))
