"""The benchmark's load check: a body on a pad of five zones, with low and high."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import numpy as np

POINTS = 100_000


def measure_load(size: float) -> dict[str, Any]:
    """Measure it on real triangles with flesh: thickness with noise, five gyroid fills, free tilt, low and high."""
    from padwright.core.job.cards import load_family
    from padwright.core.job.schema import Body
    from padwright.core.stages.body.flesh import flesh_of
    from padwright.core.stages.load.clay_pressure import clay_pressure
    from padwright.core.stages.load.contact import check_load
    from padwright.core.stages.load.load_case import LoadCase, patch_of
    from padwright.core.stages.material.curves import CurveBand
    from padwright.core.stages.material.fill import fill_curve
    from support.patches import sheet

    side = 200.0
    mesh = sheet(side, side, side / (np.sqrt(POINTS * size) - 1))
    count = len(mesh.vertices)
    x, y = mesh.vertices[:, 0], mesh.vertices[:, 1]
    noise = np.random.default_rng(0).normal(0.0, 0.1, count)
    thickness = 18.0 + 4.0 * np.sin(x / 25.0) + 3.0 * np.cos(y / 18.0) + noise
    zone = np.digitize(np.hypot(x, y), [20.0, 40.0, 60.0, 80.0])
    curves = [fill_curve("gyroid", density, 13_000.0, 0.48) for density in (0.10, 0.15, 0.20, 0.12, 0.25)]
    bands = [
        CurveBand(c, c.scaled(0.6), c.scaled(1.7), "literature", (), ((c.scaled(0.6), c.scaled(1.7)),) * 4, 1.18)
        for c in curves
    ]
    flesh = flesh_of(Body(press_direction="auto"), load_family("seat_pad"))
    case = LoadCase(force_n=530.0, point_mm=(5.0, 10.0, 0.0), load_factor=1.15, flesh=flesh)
    patch, _ = patch_of(mesh, np.ones(count, dtype=bool), thickness, zone, np.array([0.0, 0.0, -1.0]))
    patch = replace(patch, clay_kpa=clay_pressure(patch, np.ones(count), 530e3))
    seconds, processor = [], []
    for _ in range(5):
        start, used = time.perf_counter(), time.process_time()
        result = check_load(case, patch, bands)
        seconds.append(time.perf_counter() - start)
        processor.append(time.process_time() - used)
    return {
        "work": f"load check, {count:,} points, {len(bands)} zones, free tilt, with flesh, low and high",
        "seconds": float(np.median(seconds)),
        "reach": "0.5 s, balance 0.1 %",
        "also": f"processor time {np.median(processor):.2f} s",
        "accuracy": f"load left over {result.imbalance:.1e}",
    }
