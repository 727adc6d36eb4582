"""Lay scans on each other beside other libraries: `python3.11 scripts/bench_opinions.py [CASE ...] [--folder FOLDER]`.

kiss-matcher and open3d are given nothing, as Padwright is; small_gicp is begun at the true pose and should stay there.
They have an environment of their own, `.venv-opinions`. Cases come from the formulas of the tests; a FOLDER holds
base.ply, impression.ply and truth.json (under "base" and "impression" a "file_to_true_4x4" from its numbers to mm).
Prints a table in Markdown, which docs/models/align.md keeps. Seconds are of the processor, all threads together: they
hang little on what else runs. `--small` takes a tenth of the triangles, to try it.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from setup_env import ROOT, prepared, run_in_environment

sys.path.append(str(ROOT / "tests"))

FOUND_MM, FOUND_DEG = 3.0, 3.0
"""As near as a refinement needs to begin; poses that fit a part in another way lie 14 mm off and more."""
CELL_MM = 4.0  # of the points that the libraries look at
LONGEST_S = 600.0
CASES = {"seat": 100_000, "insole": 100_000, "grip": 80_000, "liner": 100_000}  # triangles of a scan


def main(arguments: list[str]) -> int:
    """Print the table; each library runs in a process of its own, so that none takes the others down."""
    parser = argparse.ArgumentParser(description="Lay scans on each other beside other libraries.")
    parser.add_argument("cases", nargs="*", metavar="CASE", help=f"some of {', '.join(CASES)}; none: all")
    parser.add_argument("--folder", action="append", default=[], type=Path, help="a case of your own")
    parser.add_argument("--small", action="store_true", help="a tenth of the triangles")
    parser.add_argument("--one", nargs=2, metavar=("WAY", "FILE"), help=argparse.SUPPRESS)
    chosen = parser.parse_args(arguments)
    if sys.version_info[:2] != (3, 11):
        sys.exit(f"kiss-matcher is locked for Python 3.11 and this is {sys.version_info[0]}.{sys.version_info[1]}.")
    python = prepared(ROOT / ".venv-opinions", ["opinions.txt"])
    if Path(sys.prefix).resolve() != python.parents[1].resolve():
        return run_in_environment(python, [str(Path(__file__).resolve()), *arguments])
    if chosen.one:
        Path(chosen.one[1]).with_suffix(".json").write_text(json.dumps(_one(*chosen.one)), "utf-8")
        return 0
    if unknown := [name for name in chosen.cases if name not in CASES]:
        parser.error(f"no case called {', '.join(unknown)}; there are {', '.join(CASES)}")
    print(f"| case (triangles) | {' | '.join(f'{way}: error | processor s' for way in WAYS)} |")
    print(f"|---|{'---|---|' * len(WAYS)}", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "case.npz"
        for name, scans in _cases(chosen.cases or list(CASES), chosen.folder, 0.1 if chosen.small else 1.0):
            _save(path, scans)
            cells = [cell for way in WAYS for cell in _asked(way, path)]
            print(f"| {name} | {' | '.join(cells)} |", flush=True)
    return 0


def _cases(names: list[str], folders: list[Path], size: float) -> Iterator[tuple[str, dict[str, Any]]]:
    from support.cases import make_case

    for name in names:
        case = make_case(name, seed=1, triangles=int(CASES[name] * size))
        scans = {"base": case.base_mm, "impression": case.impression_mm, "truth": case.impression_to_base}
        yield f"made {name} ({CASES[name] * size:,.0f})", scans
    for folder in folders:
        scans = _of_folder(folder)
        counts = ", ".join(f"{len(scans[role].faces):,}" for role in ("base", "impression"))
        yield f"{folder.resolve().name} ({counts})", scans


def _of_folder(folder: Path) -> dict[str, Any]:
    """Return the scans of a folder, each in its own frame in true mm, and the motion from one to the other."""
    import numpy as np

    from padwright.core.stages.scans.read import read_scan

    truth = json.loads((folder / "truth.json").read_text("utf-8"))
    scans: dict[str, Any] = {}
    to_true = {}
    for role in ("base", "impression"):
        matrix = np.array(truth[role]["file_to_true_4x4"])
        scale = float(np.cbrt(np.linalg.det(matrix[:3, :3])))
        scans[role] = read_scan((folder / f"{role}.ply").read_bytes(), f"{role}.ply").mesh.scaled(scale)
        to_true[role] = matrix @ np.diag([1.0 / scale] * 3 + [1.0])
    return {**scans, "truth": np.linalg.inv(to_true["base"]) @ to_true["impression"]}


def _save(path: Path, scans: dict[str, Any]) -> None:
    """Write both scans, cleaned, and the truth: all ways are given the same."""
    import numpy as np

    from padwright.core.base.progress import drain
    from padwright.core.stages.scans.clean import clean_scan

    clean = {role: drain(clean_scan(scans[role])).mesh for role in ("base", "impression")}
    held = {f"{role}_{what}": getattr(mesh, what) for role, mesh in clean.items() for what in ("vertices", "faces")}
    np.savez(path, truth=scans["truth"], **held)


def _asked(way: str, path: Path) -> tuple[str, str]:
    """Return the table's two cells for one way."""
    command = [sys.executable, str(Path(__file__).resolve()), "--one", way, str(path)]
    try:
        answer = subprocess.run(command, capture_output=True, text=True, check=False, timeout=LONGEST_S)
    except subprocess.TimeoutExpired:
        return "no end", f"over {LONGEST_S:.0f} by the clock"
    if answer.returncode != 0:
        print(f"{way} failed:\n{answer.stderr}", file=sys.stderr)
        return "failed", ""
    found = json.loads(path.with_suffix(".json").read_text("utf-8"))  # libraries print on what they please
    if found["error_mm"] is None:
        return f"refused: {found['said']}", f"{found['seconds']:.1f}"
    is_found = found["error_mm"] <= FOUND_MM and found["turn_deg"] <= FOUND_DEG
    told = f"{found['error_mm']:.2f} mm, {found['turn_deg']:.2f} deg"
    return (told if is_found else f"not found ({told})"), f"{found['seconds']:.1f}"


def _one(way: str, path: str) -> dict[str, Any]:
    """Return how far one way lays the impression from the truth, and its processor seconds."""
    import numpy as np

    from padwright.core.base.mesh import TriMesh

    with np.load(path) as held:
        base, impression = (TriMesh(held[f"{role}_vertices"], held[f"{role}_faces"]) for role in ("base", "impression"))
        truth = held["truth"]
    prepare = WAYS[way]
    work = prepare(base, impression, truth)
    began = time.process_time()
    matrix, said = work()
    seconds = time.process_time() - began
    if matrix is None:
        return {"error_mm": None, "said": said, "seconds": seconds}
    error = matrix @ np.linalg.inv(truth)
    points = impression.transformed(truth).vertices
    off = np.linalg.norm(points @ error[:3, :3].T + error[:3, 3] - points, axis=1)
    turn = np.degrees(np.arccos(np.clip((np.trace(error[:3, :3]) - 1.0) / 2.0, -1.0, 1.0)))
    return {"error_mm": float(np.sqrt((off**2).mean())), "turn_deg": float(turn), "seconds": seconds}


Work = Callable[[], tuple[Any, str]]


def _padwright(base: Any, impression: Any, _: Any) -> Work:
    from padwright.core.base.errors import SolveError
    from padwright.core.base.progress import drain
    from padwright.core.stages.alignment.align import align_scans

    def work() -> tuple[Any, str]:
        try:
            return drain(align_scans(base, impression)).matrix, ""
        except SolveError as error:
            return None, error.message.split(":")[0].split(".")[0]

    return work


def _kiss_matcher(base: Any, impression: Any, _: Any) -> Work:
    import kiss_matcher
    import numpy as np

    def work() -> tuple[Any, str]:
        matcher = kiss_matcher.KISSMatcher(kiss_matcher.KISSMatcherConfig(voxel_size=CELL_MM))
        found = matcher.estimate(*(mesh.vertices.astype(np.float32) for mesh in (impression, base)))
        if not found.valid:
            return None, "not valid"
        matrix = np.eye(4)
        matrix[:3, :3], matrix[:3, 3] = found.rotation, np.ravel(found.translation)
        return matrix, ""

    return work


def _open3d(base: Any, impression: Any, _: Any) -> Work:
    """Return its usual chain: FPFH features, RANSAC, then point-to-plane ICP."""
    import open3d

    ways = open3d.pipelines.registration
    alike, near = ways.CorrespondenceCheckerBasedOnEdgeLength, ways.CorrespondenceCheckerBasedOnDistance

    def seen(mesh: Any) -> tuple[Any, Any]:
        cloud = open3d.geometry.PointCloud(open3d.utility.Vector3dVector(mesh.vertices.copy())).voxel_down_sample(
            CELL_MM
        )
        cloud.estimate_normals(open3d.geometry.KDTreeSearchParamHybrid(2.0 * CELL_MM, 30))
        around = open3d.geometry.KDTreeSearchParamHybrid(5.0 * CELL_MM, 100)
        return cloud, ways.compute_fpfh_feature(cloud, around)

    def work() -> tuple[Any, str]:
        open3d.utility.random.seed(0)
        (source, one), (target, other) = seen(impression), seen(base)
        coarse = ways.registration_ransac_based_on_feature_matching(
            source, target, one, other, True, 1.5 * CELL_MM, ways.TransformationEstimationPointToPoint(False), 3,
            [alike(0.9), near(1.5 * CELL_MM)], ways.RANSACConvergenceCriteria(100_000, 0.999),
        )  # fmt: skip
        fine = ways.registration_icp(
            source, target, 0.4 * CELL_MM, coarse.transformation, ways.TransformationEstimationPointToPlane()
        )
        return fine.transformation, ""

    return work


def _small_gicp(base: Any, impression: Any, truth: Any) -> Work:
    import small_gicp

    def work() -> tuple[Any, str]:
        found = small_gicp.align(
            base.vertices, impression.vertices, init_T_target_source=truth, downsampling_resolution=0.5 * CELL_MM,
            max_correspondence_distance=CELL_MM, max_iterations=50,
        )  # fmt: skip
        return found.T_target_source, ""

    return work


WAYS = {
    "Padwright": _padwright,
    "kiss-matcher": _kiss_matcher,
    "open3d": _open3d,
    "small_gicp from the truth": _small_gicp,
}

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
