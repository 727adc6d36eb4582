"""How well foils are laid by what they show, and how well their zones come out: scanned flat, and photographed.

The table stands in docs/pressed-foils.md. Draws are three heaps of pressure between a body and its imprint, a foil that
darkens ever less with pressure turned any way round, half of them mirrored, as a scanner or a camera sees it.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

import studying
from padwright.core.job.mat_table import Mat
from padwright.core.stages.mats.find_pose import by_pattern
from padwright.core.stages.mats.mat_file import read_mat
from padwright.core.stages.mats.mat_pose import at_cells
from padwright.core.stages.mats.mat_reading import MatReading
from padwright.core.stages.mats.sheet import mapped
from support.foils import TrueFoil, foil_over, heaped_imprint, photographed, picture_file

A4 = (210.0, 297.0)
FROM_PCT = 50.0
RIGHT_MM = 15.0  # at the sheet's farthest corner, 182 mm from its middle: 5 degrees
KINDS = ("scanned, 150 in an inch", "scanned, faint and grainy", "photographed at a slant")


@dataclass(frozen=True)
class Tried:
    """How one foil came out."""

    corner_mm: float  # how far the sheet's corners lie from where they truly lay, root of mean square
    is_right: bool  # the right way round and the right side up
    area_off: float  # of the zone, share of its true area
    middle_mm: float  # of the zone, from its true middle


def one(kind: str, seed: int) -> Tried:
    """Try a foil on an imprint, both of a seed."""
    rng = np.random.default_rng(seed)
    imprint = heaped_imprint(seed)
    faint = {"paper": 85.0, "darkest": 60.0, "grain": 20.0} if "faint" in kind else {}
    foil = foil_over(
        imprint, dpi=150.0, turn_deg=rng.uniform(0.0, 360.0), moved_mm=tuple(rng.normal(0.0, 8.0, 2)),
        flipped=bool(rng.integers(2)), seed=seed, **faint,
    )  # fmt: skip
    mat, pixel_of = _photo(foil, rng) if "photo" in kind else _scan(foil)
    assert mat.pitch_mm is not None and mat.foil is not None
    pose = by_pattern(mat.pressure, mat.pitch_mm, imprint.plan, (False, True))[0]
    high, wide = foil.pixels.shape
    corners = np.array([[0.0, 0.0], [wide, 0.0], [0.0, high], [wide, high]])
    seen = mapped(pixel_of, corners)
    cells = np.array([mat.foil.cell_of((right, down)) for right, down in seen])
    off = np.linalg.norm(pose.cells.flat_of(cells) - foil.places.flat_of(corners[:, ::-1]), axis=1)
    places = imprint.vertices @ imprint.plan.plane.T
    shown = at_cells(mat.pressure, pose.cells.flat_row_column(places))
    is_in, is_true = shown >= 0.01 * FROM_PCT * mat.peak, foil.share(places) >= 0.01 * FROM_PCT
    middle = np.linalg.norm(places[is_in].mean(axis=0) - places[is_true].mean(axis=0)) if is_in.any() else np.inf
    return Tried(
        float(np.sqrt((off**2).mean())), bool(off.max() < RIGHT_MM), float(is_in.sum() / is_true.sum() - 1.0),
        float(middle),
    )  # fmt: skip


def _scan(foil: TrueFoil) -> tuple[MatReading, np.ndarray]:
    data = picture_file(foil.pixels, dpi=(150, 150))
    return read_mat(data, "foil.png", Mat(file="foil.png")), np.eye(3)


def _photo(foil: TrueFoil, rng: np.random.Generator) -> tuple[MatReading, np.ndarray]:
    """Return what a photo shows of a sheet, and the map from the sheet's pixels to the photo's."""
    high, wide = foil.pixels.shape
    corners = np.array([[300.0, 300.0], [1500.0, 300.0], [1500.0, 2000.0], [300.0, 2000.0]])
    corners = corners + rng.normal(0.0, 80.0, (4, 2))
    photo = photographed(foil.pixels, corners, (2300, 1800), seed=int(rng.integers(1 << 30)))
    data = picture_file(photo, "JPEG", quality=90)
    ends = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]]) - 0.5
    rows = [
        row
        for (x, y), (u, v) in zip(ends, corners, strict=True)
        for row in ([x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y])
    ]
    numbers = np.linalg.lstsq(np.array(rows), corners.ravel(), rcond=None)[0]
    return read_mat(data, "foil.jpg", Mat(file="foil.jpg", sheet_mm=A4)), np.append(numbers, 1.0).reshape(3, 3)


def study(seeds: range) -> studying.Finding:
    """Try foils of each kind."""
    rows, claims = [], []
    for kind in KINDS:
        tried = [one(kind, seed) for seed in seeds]
        right = [each for each in tried if each.is_right]
        corner = np.array([each.corner_mm for each in right])
        area = 100.0 * np.array([each.area_off for each in right])
        middle = np.array([each.middle_mm for each in right])
        rows.append(
            (
                kind,
                f"{len(right)} of {len(tried)}",
                f"{np.median(corner):.1f}; {corner.max():.1f}",
                f"{np.median(area):+.1f} ({area.min():+.1f} to {area.max():+.1f})",
                f"{np.median(middle):.1f}; {middle.max():.1f}",
            )
        )
        claims.append(
            (f"{kind}: {len(right)} of {len(tried)} lie right", studying.can_be(len(right), len(tried), 0.95))
        )
        claims.append((f"{kind}: zones' middles are {np.median(middle):.1f} mm off", float(np.median(middle)) < 3.0))
    head = ("foil", "lies right", "corners off, mm: median; most", "zone's area off, %", "its middle off, mm")
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=30, sample=2))
