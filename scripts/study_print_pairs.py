"""Whether the gaps that stay tell the scan of a print of another part from that of its own.

The table stands in docs/models/compare.md. Prints are shrunk by 1 to 2 %, curled by up to 2 mm and scanned with noise,
from above. Right pairs are held against their own part; wrong ones against another seat, insole, mirror image or size.
"""

from __future__ import annotations

import sys
from functools import cache

import numpy as np

import studying
from padwright.core.base.errors import PadwrightError
from padwright.core.base.estimate import Estimate
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.compare.compare import AskedPart, PrintScan, compare
from padwright.core.stages.compare.fit import PartOnBed
from padwright.core.stages.compare.poses import LEAST_SHARE, MOST_OFF, try_poses
from support.pad_shapes import height_pad, seat_pad
from support.printed import printed_scan
from support.random_pads import random_pad
from support.uneven_pad import uneven_pad

STEP = 2.0

PAIRS = (
    ("bitten pad", "bitten pad", False),
    ("seat", "bitten pad", False),
    ("seat", "seat", False),
    ("insole", "insole", False),
    ("bitten pad", "seat", False),
    ("seat, 7 % smaller, as thick", "seat", False),
    ("flatter insole", "insole", False),
    ("bitten pad", "bitten pad", True),
    ("seat with an opening", "seat", False),
    ("pad drawn at random, 2", "pad drawn at random, 2", False),
    ("seat, 7 % smaller", "seat", False),
    ("insole", "insole", True),
    ("insole, 7 % smaller", "insole", False),
    ("pad drawn at random, 3", "pad drawn at random, 2", False),
    ("seat with deeper hollows", "seat", False),
    ("seat with an opening", "seat with an opening", False),
    ("flatter insole", "flatter insole", False),
    ("pad drawn at random, 3", "pad drawn at random, 3", False),
)
"""What was printed and scanned, the part that it is held against, and if the scan is mirrored."""

_ODD = ("flatter insole", "insole")


def insole(arch_mm: float) -> TriMesh:
    """Return an insole, 240 mm long, with an arch of a height on its inner side."""

    def inside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        wide = 33.0 + 9.0 * np.tanh((x - 20.0) / 40.0)
        middle = 6.0 * np.sin(x / 60.0)
        return np.minimum(wide - np.abs(y - middle), (1.0 - np.hypot(x / 120.0, (y - middle) / 70.0)) * 60.0)

    def top(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        arch = arch_mm * np.exp(-np.square((x + 15.0) / 35.0) - np.square((y - 28.0) / 16.0))
        heel = 5.0 * np.clip(np.hypot(x + 85.0, y) / 35.0, 0.0, 1.0) ** 2
        return 5.0 + arch + heel + 0.0 * x

    return height_pad(top, lambda x, y: 0.0 * x, inside, (122.0, 52.0), (0.0, 25.0), STEP).mesh


@cache
def part_of(name: str) -> TriMesh:
    """Return the part of a name."""
    if name.endswith(", 7 % smaller"):
        return part_of(name.removesuffix(", 7 % smaller")).scaled(0.93)
    if name.startswith("pad drawn at random, "):
        return random_pad(int(name.rsplit(" ", 1)[1])).pad.mesh
    if name == "seat with deeper hollows":
        seat = part_of("seat")
        x, y, z = seat.vertices.T
        deeper = sum(3.0 * np.exp(-(np.square(x - at) + np.square(y + 5.0)) / (2.0 * 18.0**2)) for at in (-35.0, 35.0))
        return TriMesh(np.stack([x, y, z - deeper * np.clip((z - 8.0) / 6.0, 0.0, 1.0)], axis=1), seat.faces)
    return {
        "bitten pad": uneven_pad,
        "seat": lambda: seat_pad(step=STEP).mesh,
        "seat, 7 % smaller, as thick": lambda: seat_pad(step=STEP, scale=0.93).mesh,
        "seat with an opening": lambda: seat_pad(step=STEP, hole_mm=15.0).mesh,
        "insole": lambda: insole(12.0),
        "flatter insole": lambda: insole(6.0),
    }[name]()


def held(seed: int) -> tuple[bool, float, float, str]:
    """Return if a pair is right, its gaps as a percentage of the radius, the share of surface, and what came of it."""
    printed, asked, is_mirrored = PAIRS[seed]
    rng = np.random.default_rng([13, seed])
    shrinkage = rng.uniform(1.0, 2.0, 3)
    mesh = part_of(printed)
    half = 0.5 * float(np.ptp(mesh.bounds, axis=0)[0])
    curl = float(rng.uniform(0.0, 2.0)) * 2.0 / half**2
    made = printed_scan(
        mesh, shrinkage_pct=(float(shrinkage[0]), float(shrinkage[1]), float(shrinkage[2])), curvature=(curl, 0.0, 0.0),
        noise_mm=0.15, wave_mm=0.1, step=STEP, mirrored=is_mirrored, is_turned=not is_mirrored, seed=seed,
    )  # fmt: skip
    part = PartOnBed(part_of(asked))
    best = drain(try_poses(part, made.mesh, seed))[2][0]
    gaps = best.fit.noise_mm / part.size_mm
    if gaps > MOST_OFF or best.score < LEAST_SHARE:
        end = "refused: gaps" if gaps > MOST_OFF else "refused: share of surface"
    else:
        whole = AskedPart(
            "PAD-1", "Pad", "1", [("rest", part.mesh)], False, np.eye(4), np.array([0.0, 0.0, -1.0]),
            Estimate(176.0, 168.0, 185.0, "model"),
        )  # fmt: skip
        try:
            found = drain(compare(whole, PrintScan("scan.ply", made.mesh), seed=seed))
            odd = next((each for each in found.doubts if "seldom so large" in each), "")
            end = f"taken; {found.left_mm['95 of size']:.2f} mm left (95th percentile); {odd or 'no place is odd'}"
        except PadwrightError as error:
            is_known = "mirror image" in str(error)
            end = f"refused: {'mirror image' if is_known else 'sizes apart' if 'differ' in str(error) else error}"
    return printed == asked and not is_mirrored, 100.0 * gaps, best.score, end


def study(seeds: range) -> studying.Finding:
    """Return gaps and outcome of each pair."""
    rows, right, wrong = [], [], []
    for seed in seeds:
        is_right, gaps, share, end = held(seed)
        (right if is_right else wrong).append((gaps, end))
        printed, asked, is_mirrored = PAIRS[seed]
        names = (f"{printed}{', mirrored' if is_mirrored else ''}", "the same" if printed == asked else asked)
        rows.append((*names, f"{gaps:.2f} %", f"{share:.2f}", end))
        print(rows[-1], file=sys.stderr, flush=True)
    most = max(gaps for gaps, _ in right)
    far = [gaps for gaps, end in wrong if end == "refused: gaps"]
    claims = [
        (
            f"right pairs are taken with no place told as odd, the largest gaps {most:.2f} %",
            all(end.startswith("taken") and end.endswith("odd") for _, end in right),
        ),
        (f"refused gaps are twice those of right pairs, {2.0 * most:.2f} %, or more", min(far, default=9.9) > 2 * most),
        *((f"{name} refused", end.startswith("refused")) for name, _, _, _, end in rows if "mirrored" in name),
        *((f"{name} told as odd", "seldom" in end) for name, other, _, _, end in rows if (name, other) == _ODD),
    ]
    head = ("printed and scanned", "held against", "gaps", "share", "outcome")
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=len(PAIRS), sample=2))
