"""How well the sizes of a print come back from its scan, and whether their bounds hold.

The table stands in docs/models/compare.md. Draws are prints of a pad whose outline is uneven, 17 cm long: shrunk by 0
to 2 % along each axis, curled, scanned from above, half of them on a table, with noise of which a part is shared over
centimeters, a scan scale off by up to 3 %, one length by hand.
"""

from __future__ import annotations

import sys

import numpy as np

import studying
from padwright.core.base.estimate import Estimate
from padwright.core.base.progress import drain
from padwright.core.stages.compare.compare import AskedPart, PrintScan, compare
from padwright.core.stages.compare.scale import PrintLength
from support.printed import printed_scan
from support.uneven_pad import uneven_pad


def study(seeds: range) -> studying.Finding:
    """Return errors and coverage of sizes along x, y and z, of the scan's scale and of the bend."""
    part = uneven_pad()
    whole = np.ptp(part.bounds, axis=0)
    asked = AskedPart(
        "PAD-1", "Pad", "1", [("rest", part)], False, np.eye(4), np.array([0.0, 0.0, -1.0]),
        Estimate(176.0, 168.0, 185.0, "model"),
    )  # fmt: skip
    rows: dict[str, list[tuple[float, float, bool]]] = {}
    for seed in seeds:
        rng = np.random.default_rng([11, seed])
        shrinkage = rng.uniform(0.0, 2.0, 3)
        curl = rng.normal(scale=2e-4, size=2)
        factor = float(rng.uniform(0.97, 1.03))
        made = printed_scan(
            part,
            shrinkage_pct=tuple(float(each) for each in shrinkage),
            curvature=(float(curl[0]), float(curl[1]), 0.0),
            noise_mm=float(rng.uniform(0.08, 0.25)),
            wave_mm=float(rng.uniform(0.0, 0.15)),
            wave_reach_mm=float(rng.uniform(4.0, 20.0)),
            step=1.8,
            with_table=bool(rng.random() < 0.5),
            scan_factor=factor,
            seed=seed,
        )
        by_hand = float(whole[0]) * (1.0 - shrinkage[0] / 100.0) + float(rng.uniform(-0.3, 0.3))
        found = drain(compare(asked, PrintScan("scan.ply", made.mesh, extents=[PrintLength("x", by_hand, 0.3)])))
        for each, true in zip(found.shrinkage[:3], shrinkage, strict=True):
            estimate = each.shrinkage_pct
            assert estimate is not None
            _add(rows, f"shrinkage {each.name}, %", estimate, float(true))
        scale, error = found.scale.factor, 1.645 * float(found.scale.standard_error or 0.0)
        scaled = Estimate(100 * scale, 100 * (scale - error), 100 * (scale + error), "measured")
        _add(rows, "scan scale, %", scaled, 100 * factor)
        for way, reach, true in (("along x", whole[0], curl[0]), ("along y", whole[1], curl[1])):
            _add(rows, f"lift {way}, mm", found.bend.lift_mm[way], float(0.125 * reach**2 * true))
    draws = len(seeds)
    table = []
    claims = []
    for name, values in rows.items():
        miss, half, is_in = (np.array(column) for column in zip(*values, strict=True))
        shown = (np.sqrt(np.mean(miss**2)), half.mean())
        table.append((name, *(f"{each:.2f}" for each in shown), f"{100 * is_in.mean():.0f} %"))
        # Curvature is fitted to second order alone, so its bounds may hold a little less often.
        share = 0.8 if name.startswith("lift") else 0.85
        claims.append(
            (f"{name}: within bounds in {share:.0%} or more", studying.can_be(int(is_in.sum()), draws, share))
        )
    head = ("quantity", "error (root mean square)", "half width of its bounds", "within them (90 % asked)")
    return studying.Finding(head, tuple(table), tuple(claims))


def _add(rows: dict[str, list[tuple[float, float, bool]]], name: str, found: Estimate, true: float) -> None:
    half = 0.5 * (found.high - found.low)
    rows.setdefault(name, []).append((found.value - true, half, found.low <= true <= found.high))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=100, sample=2))
