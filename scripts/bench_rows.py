"""The rows of the benchmark; each is a small function that makes its input, measures, and returns what it found.

Scans come from the formulas that the tests use too (tests/support), so every row knows the truth. Run by bench.py.
"""

from __future__ import annotations

import io
import json
import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.append(str(ROOT / "tests"))

from bench_accuracy import job_words, pad_words, pose_words  # noqa: E402
from bench_job import GAP_MM, STRIPS, write_job  # noqa: E402
from bench_meshes import capped, sheet_solid  # noqa: E402
from bench_process import children_seconds, start_once  # noqa: E402
from padwright.core.base.mesh import TriMesh  # noqa: E402
from padwright.core.base.progress import drain  # noqa: E402

Row = dict[str, Any]
Result = TypeVar("Result")
SCAN_TRIANGLES = 260_000
WITHOUT_PAGES = "[output]\nreport = false\nsheet = false\n"


def timed(work: Callable[[], Result], *, repeats: int = 1) -> tuple[float, Result]:
    """Return the median of the seconds that `work` takes, and its last result."""
    seconds = []
    for _ in range(repeats):
        start = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - start)
    return float(np.median(seconds)), result


def peak_mib() -> float | None:
    """Return the greatest resident memory of this row so far, MiB; None where the system does not tell."""
    from padwright.core.run.parts import peak_memory_mb

    most = peak_memory_mb()
    return None if most is None else most * 1e6 / 2**20


def run_peak_mib(evidence: Mapping[str, Any]) -> float:
    """Return the greatest resident memory of a run as its evidence tells it, MiB; nan where the system does not."""
    return max(stage["peak_memory_mb"] or math.nan for stage in evidence["stages"]) * 1e6 / 2**20


def seat(size: float, **options: Any) -> Any:
    """Return the seat case, `size` times the usual number of triangles."""
    from support.cases import make_case

    return make_case("seat", triangles=int(SCAN_TRIANGLES * size), **options)


def cleaned(mesh: TriMesh) -> TriMesh:
    """Return the scan as the stages after cleaning see it."""
    from padwright.core.stages.scans.clean import clean_scan

    return drain(clean_scan(mesh)).mesh


def whole_job(size: float) -> Row:
    """Measure a run from two scan files to files on disk, in a process of its own as a person starts it."""
    start_once()
    before = children_seconds()
    seconds, evidence = run_job(size)
    used = children_seconds() - before
    bare_seconds, _ = run_job(size, WITHOUT_PAGES)
    beside = bare_subtraction(seat(size, holes=False, debris=False, turntable=False, pose="none"))
    slowest = sorted(evidence["stages"], key=lambda stage: -stage["seconds"])[:4]
    return {
        "work": f"whole job, two scans of {SCAN_TRIANGLES * size:,.0f} triangles, {len(evidence['regions'])} regions",
        "seconds": seconds,
        "peak_mib": run_peak_mib(evidence),
        "beside": "manifold3d, one bare subtraction of such scans closed",
        "beside_seconds": beside.seconds,
        "reach": "ratio 6, 1 GiB",
        "also": f"without report and print sheet {bare_seconds:.1f} s; processor time {used:.1f} s, the subtraction's "
        f"{beside.processor_seconds:.1f} s; "
        + ", ".join(f"{stage['name']} {stage['seconds']:.1f} s" for stage in slowest),
        "accuracy": evidence["accuracy"],
    }


def folded_walls(size: float) -> Row:
    """Measure what folded walls add to a run: their layout, their solid, the look at its layers."""
    _, evidence = run_job(size, '[fill]\nkind = "folds"\n[printer]\nbed_mm = [300, 300, 300]\n')  # stands on this
    taken = {stage["name"]: stage["seconds"] for stage in evidence["stages"]}
    memory = {stage["name"]: stage["peak_memory_mb"] for stage in evidence["stages"]}
    return {
        "work": f"shape of folded walls, pad of {evidence['pad']['volume_cm3']:.0f} cm3",
        "seconds": taken["lay out the walls"] + taken["shape the walls"],
        "peak_mib": memory["shape the walls"] / 1.048576,
        "reach": "10 s, 600,000 triangles, 1.5 GiB",
        "also": f"{evidence['fill']['triangles']:,} triangles; every layer looked at in "
        f"{taken['look at every layer']:.1f} s",
    }


def run_job(size: float, more: str = "") -> tuple[float, dict[str, Any]]:
    """Return the seconds of a run of the benchmark's job, with more lines of TOML in it, and its evidence.

    The job without more is held against the truth too: under "accuracy", in words.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        case = seat(size, unit="m", base_scale_error=1.01, seed=3)
        write_job(folder, case, more)
        command = [sys.executable, "-m", "padwright", "run", str(folder / "job.toml"), "--out", str(folder / "out")]
        seconds, answer = timed(lambda: subprocess.run(command, capture_output=True, text=True, check=False))
        if answer.returncode != 0:
            raise RuntimeError(answer.stderr)
        evidence = json.loads((folder / "out" / "BENCH.run.json").read_text("utf-8"))
        evidence["accuracy"] = "" if more else job_words(case, evidence, folder / "out" / "BENCH.project.3mf")
        return seconds, evidence


def made_pad(case: Any) -> tuple[float, Any]:
    """Return the seconds and the pad of a case by the true motion: with the lighter copies that a run makes first."""
    from padwright.core.base.together import both
    from padwright.core.stages.pad.pad import build_pad
    from padwright.core.stages.pad.pad_settings import PadSettings
    from padwright.core.stages.reading.impression import read_impression
    from padwright.core.stages.scans.working_copy import working_copy

    scans = case.base_mm, case.impression_aligned
    copying, copies = timed(lambda: both(lambda: working_copy(scans[0]), lambda: working_copy(scans[1])))
    base, impression = (scan if copy is None else copy[0] for scan, copy in zip(scans, copies, strict=True))
    reading = read_impression(base, impression, press_direction=case.press_direction_in_base)
    settings = PadSettings(fit_gap_mm=GAP_MM, least_thickness_mm=4.0)
    building, pad = timed(lambda: drain(build_pad(base, impression, reading, settings)))
    return copying + building, pad


class Subtraction(NamedTuple):
    """What a subtraction took, and what it left."""

    seconds: float
    processor_seconds: float
    volume_mm3: float


def bare_subtraction(case: Any) -> Subtraction:
    """Return what manifold3d takes to subtract a case's closed scans from each other."""
    from support.solids import to_manifold

    base, impression = (to_manifold(capped(mesh)) for mesh in (case.base_mm, case.impression_aligned))
    before = time.process_time()
    seconds, volume = timed(lambda: float((impression - base).volume()))
    return Subtraction(seconds, time.process_time() - before, volume)


def pad_against_subtraction(size: float) -> Row:
    """Measure building the pad beside one subtraction of the same two scans, closed at their undersides."""
    case = seat(size, holes=False, debris=False, turntable=False, pose="none")
    seconds, pad = made_pad(case)
    memory = peak_mib()
    beside = bare_subtraction(case)
    return {
        "work": f"pad from two noisy scans of {SCAN_TRIANGLES * size:,.0f} triangles, their lighter copies included",
        "seconds": seconds,
        "peak_mib": memory,
        "beside": "manifold3d, one bare subtraction of the same scans closed",
        "beside_seconds": beside.seconds,
        "reach": "ratio 1",
        "also": f"pad {pad.volume_cm3:.1f} cm3; bare subtraction {beside.volume_mm3 / 1000:.1f} cm3",
        "accuracy": pad_words(case, pad.volume_cm3, pad.mesh),
    }


def align(size: float) -> Row:
    """Measure alignment from any pose, scale corrected, and its error against the true motion."""
    from padwright.core.stages.alignment.align import align_scans

    case = seat(size, seed=1)
    base, impression = cleaned(case.base_mm), cleaned(case.impression_mm)
    seconds, found = timed(lambda: drain(align_scans(base, impression)))
    return {
        "work": f"align from any pose, two scans of {SCAN_TRIANGLES * size:,.0f} triangles",
        "seconds": seconds,
        "peak_mib": peak_mib(),
        "reach": "10 s, 0.3 mm, 0.1 deg",
        "accuracy": pose_words(case, found.matrix),
    }


def regions_against_cuts(size: float) -> Row:
    """Measure cutting five regions beside four bare cuts of the same pad along the same lines."""
    import manifold3d

    from padwright.core.stages.regions.regions import cut_regions
    from padwright.core.stages.zones.zone_sources import Outline, Rest
    from padwright.core.stages.zones.zones import ZoneRequest, plan_zones
    from support.solids import to_manifold

    case = seat(size, pose="none")
    _, pad = made_pad(case)
    angle = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    circles = [
        center + 28.0 * np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], axis=1)
        for center in case.load_centers_in_base
    ]
    outlines = [*circles, *STRIPS]
    requests = [ZoneRequest(f"zone {index}", 1.0 + index % 4, Outline(line)) for index, line in enumerate(outlines)]
    requests.append(ZoneRequest("rest", 2.0, Rest()))

    def bare() -> float:
        rest, volumes = to_manifold(pad.mesh), []
        for line in outlines:
            section = manifold3d.CrossSection([line[:, :2]])
            inside, rest = rest.split(section.extrude(400.0).translate((0.0, 0.0, -200.0)))
            volumes.append(inside.volume())
        return sum(volumes) + rest.volume()

    plan_seconds, plan = timed(lambda: plan_zones(pad, None, requests))
    seconds, cut = timed(lambda: drain(cut_regions(pad, plan, least_width_mm=0.9)))
    memory = peak_mib()
    beside_seconds, _ = timed(bare)
    return {
        "work": f"cut {len(cut.regions)} regions from a pad of {len(pad.mesh.faces):,} triangles",
        "seconds": seconds,
        "peak_mib": memory,
        "beside": "manifold3d, the four bare cuts",
        "beside_seconds": beside_seconds,
        "reach": "ratio 2, volumes to 1e-6",
        "also": f"planning the zones before it {plan_seconds:.2f} s",
        "accuracy": f"volumes against the pad {cut.volume_error:.1e}",
    }


def write_threemf_against_lib3mf(size: float) -> Row:
    """Measure writing one body as 3MF, from arrays to bytes, beside lib3mf's SetGeometry and WriteToFile."""
    import lib3mf

    from padwright.core.stages.packing.threemf import PartSheet, to_bed_matrix, write_threemf
    from padwright.core.stages.regions.bodies import pack_bodies
    from padwright.core.stages.regions.regions import Region

    mesh = sheet_solid(int(500_000 * size))
    region = Region("body", "body", 2.0, mesh, mesh.volume / 1000.0, 0)
    sheet = PartSheet("Benchmark", "BENCH", "TPU", "2026-01-01T00:00:00Z", "benchmark")

    def ours() -> bytes:
        bodies = pack_bodies([region])
        return write_threemf(bodies, sheet, sidecar=b"{}", to_bed=to_bed_matrix(bodies))

    def theirs(path: str) -> float:
        vertices, faces = mesh.vertices.astype(np.float32), mesh.faces.astype(np.uint32)
        model = lib3mf.get_wrapper().CreateModel()
        body = model.AddMeshObject()
        body.SetGeometry(
            (lib3mf.Position * len(vertices)).from_buffer_copy(vertices),
            (lib3mf.Triangle * len(faces)).from_buffer_copy(faces),
        )
        model.AddBuildItem(body, lib3mf.get_wrapper().GetIdentityTransform())
        start = time.perf_counter()
        model.QueryWriter("3mf").WriteToFile(path)
        return time.perf_counter() - start

    seconds, written = timed(ours, repeats=3)
    memory = peak_mib()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "body.3mf"
        beside_seconds, writing = timed(lambda: theirs(str(path)), repeats=3)
        their_bytes = path.stat().st_size
    return {
        "work": f"write {len(mesh.faces):,} triangles as 3MF",
        "seconds": seconds,
        "peak_mib": memory,
        "beside": "lib3mf, SetGeometry and WriteToFile",
        "beside_seconds": beside_seconds,
        "reach": "ratio 1, smaller file",
        "also": f"{len(written) / 2**20:.1f} MiB against {their_bytes / 2**20:.1f} MiB; "
        f"lib3mf's WriteToFile alone {writing:.2f} s",
    }


def load_check(size: float) -> Row:
    """Measure the load check."""
    from bench_load import measure_load

    return {**measure_load(size), "peak_mib": peak_mib()}


def _read(kind: str, size: float) -> Row:
    import trimesh

    from padwright.core.stages.scans.read import read_scan

    mesh = sheet_solid(int(3_000_000 * size))
    data = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(file_type=kind)
    count = len(mesh.faces)
    del mesh

    def ours() -> TriMesh:
        return cleaned(read_scan(data, f"scan.{kind}").mesh)

    seconds, clean = timed(ours)
    memory = peak_mib()
    beside_seconds, _ = timed(lambda: trimesh.load(io.BytesIO(data), file_type=kind, process=True))
    return {
        "work": f"read and clean {count:,} triangles, {kind.upper()}",
        "seconds": seconds,
        "peak_mib": memory,
        "beside": "trimesh, load with its own merging of vertices",
        "beside_seconds": beside_seconds,
        "reach": "10 s, 1.5 GiB",
        "also": f"file of {len(data) / 2**20:.0f} MiB",
        "accuracy": f"{len(clean.faces):,} triangles kept",
    }


def read_stl(size: float) -> Row:
    """Measure reading and cleaning a large binary STL."""
    return _read("stl", size)


def read_ply(size: float) -> Row:
    """Measure reading and cleaning a large binary PLY."""
    return _read("ply", size)


def growth(size: float) -> Row:
    """Measure the whole job at growing scans; the slope of log time against log size says how work grows."""
    counts = np.array([60_000, 260_000, 850_000, 3_000_000]) * size
    start_once()
    seconds, used, memory, accuracy = [], [], [], []
    for count in counts:
        before = children_seconds()
        taken, evidence = run_job(float(count) / SCAN_TRIANGLES)
        seconds.append(taken)
        accuracy.append(f"{count:,.0f}: {evidence['accuracy']}")
        used.append(children_seconds() - before)
        memory.append(run_peak_mib(evidence))
    slope = float(np.polyfit(np.log(counts), np.log(seconds), 1)[0])
    return {
        "work": f"whole job from {counts[0]:,.0f} to {counts[-1]:,.0f} triangles a scan",
        "seconds": seconds[-1],
        "peak_mib": memory[-1],
        "reach": "slope 1.15, 45 s, 2 GiB",
        "also": f"slope {slope:.2f}; seconds {', '.join(f'{value:.1f}' for value in seconds)}; of processor time "
        f"{', '.join(f'{value:.1f}' for value in used)}; MiB {', '.join(f'{value:.0f}' for value in memory)}",
        "accuracy": "; ".join(accuracy),
    }


def tune_zones(size: float) -> Row:
    """Measure tuning six zones over a contact patch of 100k points to even pressure."""
    from bench_firmness import tune_six_zones

    used = time.process_time()
    seconds, found, points = tune_six_zones(size)
    used = time.process_time() - used
    assert found.before is not None
    even = min(pad.borne[0].evenness for pad in found.tried)
    return {
        "work": f"tune 6 zones over {points:,} points, with flesh",
        "seconds": seconds,
        "peak_mib": peak_mib(),
        "reach": "10 s",
        "also": f"processor time {used:.2f} s; pressed {found.asked} times",
        "accuracy": f"peak over mean {found.before.evenness.value:.2f}, of the most even pad {even:.2f}",
    }


ROWS: dict[str, Callable[[float], Row]] = {
    "job": whole_job,
    "folds": folded_walls,
    "pad": pad_against_subtraction,
    "align": align,
    "regions": regions_against_cuts,
    "load": load_check,
    "threemf": write_threemf_against_lib3mf,
    "read_stl": read_stl,
    "read_ply": read_ply,
    "growth": growth,
    "tune": tune_zones,
}

if __name__ == "__main__":
    print(json.dumps(ROWS[sys.argv[1]](float(sys.argv[2]))))
