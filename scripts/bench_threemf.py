"""Time our 3MF writer against lib3mf's documented call on the same half million triangles, in one run.

    python scripts/bench_threemf.py [triangles]

Prints CPU seconds, file size and the ratios; each writer is timed three times, in turn, and its best counts.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np


def noisy_slab(triangles: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a closed box of two noisy grids (a pad-like solid); the noise keeps neighbors from being alike."""
    size = int((triangles / 4) ** 0.5) + 1
    rng = np.random.default_rng(0)
    x, y = np.meshgrid(np.arange(size) * 0.5, np.arange(size) * 0.5)
    flat = [np.stack([x, y, np.full_like(x, height)], axis=-1) for height in (0.0, 20.0)]
    sheets = [sheet + rng.normal(0.0, 0.1, sheet.shape) for sheet in flat]
    index = np.arange(size * size).reshape(size, size)
    a, b, c, d = (part.ravel() for part in (index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]))
    top = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    rim = np.concatenate([index[0, :-1], index[:-1, -1], index[-1, :0:-1], index[:0:-1, 0]])
    after = np.roll(rim, -1)
    count = size * size
    wall = np.concatenate(
        [np.column_stack([rim, after, after + count]), np.column_stack([rim, after + count, rim + count])]
    )
    return np.concatenate(sheets).reshape(-1, 3), np.concatenate([top[:, ::-1], wall, top + count])


def main() -> None:
    """Measure and print."""
    import lib3mf

    from padwright.core.base.mesh import TriMesh
    from padwright.core.stages.packing.threemf import PartSheet, to_bed_matrix, write_threemf
    from padwright.core.stages.regions.bodies import pack_bodies

    vertices, faces = noisy_slab(int(sys.argv[1]) if len(sys.argv) > 1 else 500_000)

    class Region:
        """One region."""

        id, name, firmness_level, mesh = "pad", "Pad", 2.0, TriMesh(vertices, faces)

    sheet = PartSheet("Pad", "PAD-1", "TPU", "2026-01-31T12:00:00Z", "bench")

    def ours() -> bytes:
        """Round, check and write: what a run does."""
        bodies = pack_bodies([Region()])
        return write_threemf(bodies, sheet, sidecar=b"{}", to_bed=to_bed_matrix(bodies))

    points = [lib3mf.Position((lib3mf.ctypes.c_float * 3)(*row)) for row in vertices.tolist()]
    corners = [lib3mf.Triangle((lib3mf.ctypes.c_uint32 * 3)(*row)) for row in faces.tolist()]

    def theirs() -> bytes:
        """SetGeometry with lists, as its documentation shows; making the lists from arrays is not counted."""
        wrapper = lib3mf.get_wrapper()
        model = wrapper.CreateModel()
        mesh = model.AddMeshObject()
        mesh.SetGeometry(points, corners)
        model.AddBuildItem(mesh, wrapper.GetIdentityTransform())
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "pad.3mf"
            model.QueryWriter("3mf").WriteToFile(str(file))
            return file.read_bytes()

    best = {"padwright": (np.inf, 0), "lib3mf": (np.inf, 0)}
    for _ in range(3):
        for name, write in (("padwright", ours), ("lib3mf", theirs)):
            begin = time.process_time()
            data = write()
            best[name] = min(best[name], (time.process_time() - begin, len(data)))
    print(f"{len(faces)} triangles, {len(vertices)} vertices; lib3mf {lib3mf.get_wrapper().GetLibraryVersion()}")
    for name, (seconds, size) in best.items():
        print(f"{name:10} {seconds:6.2f} CPU s   {size / 1e6:6.2f} MB")
    (one, small), (other, large) = best["padwright"], best["lib3mf"]
    print(f"ratio padwright / lib3mf: time {one / other:.2f}, size {small / large:.2f}")


if __name__ == "__main__":
    main()
