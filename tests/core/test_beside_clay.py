"""What virtual clay shows beside itself: the base as it was scanned, and nothing that would be taken for clay."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from demo_shapes import HeightPart, seat_part
from example_shapes import insole_part
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.geometry.query import NearestSurface
from padwright.core.job.read import read_job
from padwright.core.run.parts import MadePart
from padwright.core.run.pipeline import do_stage
from padwright.core.run.stages import STAGES
from padwright.core.stages.body.clay_bed import ClayBed, lay_clay
from padwright.core.stages.body.clay_border import clay_share, with_wall
from padwright.core.stages.reading.impression import patch_area
from scan_making import noisy, sheet_over
from support.scanned import grid
from support.writers import write_ply

DOWN = np.array([0.0, 0.0, -1.0])
PARTS = {"seat": (seat_part, "seat_pad", 30.0), "insole": (insole_part, "insole", 15.0)}


def scanned(part: HeightPart) -> TriMesh:
    """Return the base as a scanner sees it: top, sides and a lip of the underside, with noise."""
    rng = np.random.default_rng(0)
    size = {"fillet": part.fillet, "lip": part.lip, "wall": part.wall}
    return TriMesh(*noisy(sheet_over(part.base, part.outline, part.floor, 12_000, rng, **size), 0.1, rng))


def whole_surface(bed: ClayBed, base: TriMesh) -> TriMesh:
    """Return the surface of clay that nobody pressed, up to its own edge."""
    share = clay_share(bed.is_clay, np.zeros_like(bed.is_clay), bed.step_mm, np.inf)
    return bed.surface(with_wall(bed.top_mm, bed.base_mm, share), base)


@pytest.mark.parametrize("kind", PARTS)
def test_beside_the_clay_all_of_the_base_is_shown(kind: str) -> None:
    """Sides and the lip below, to where they were scanned; no triangle of the surface cuts through the base."""
    part, _, thickness = PARTS[kind]
    base = scanned(part())
    bed = lay_clay(base, DOWN, thickness)
    surface = whole_surface(bed, base)
    middle = base.triangles.mean(axis=1)
    is_below = middle[:, 2] < part().base(*middle[:, :2].T) - 3.0  # sides and lip: bare
    off = NearestSurface(surface).find(middle[is_below]).distance
    assert is_below.mean() > 0.1
    # A place of the grid is left out where a triangle lies so near: rows of the sheet round an edge by up to that.
    assert off.max() < bed.step_mm
    found = NearestSurface(base).find(surface.triangles.mean(axis=1))
    outward = base.vertex_normals[base.faces[found.face]].mean(axis=1)
    height = np.einsum("ij,ij->i", surface.triangles.mean(axis=1) - found.point, outward)
    # Between two places of the grid the sheet cuts an edge off: a corner of a place by a place, by 0.7 of it.
    assert height.min() > -bed.step_mm


@pytest.mark.parametrize("kind", PARTS)
def test_no_clay_is_found_where_none_was_laid(kind: str, tmp_path: Path) -> None:
    """The pad of a body pressed into it has no lumps of clay below the base's rim and no hollow in its base side."""
    make, family, thickness = PARTS[kind]
    part = make()
    write_ply(scanned(part), tmp_path / "base.ply")
    low, high = part.outline.min(axis=0) - 10.0, part.outline.max(axis=0) + 10.0
    ends = [np.arange(low[i], high[i], 2.0) for i in range(2)]
    body = grid(*ends, lambda x, y: np.minimum(part.body(x, y), 90.0) + 40.0).flipped()
    write_ply(body, tmp_path / "body.ply")
    (tmp_path / "job.toml").write_text(
        f'schema = 1\n[part]\nname = "P"\nnumber = "P-1"\nfamily = "{family}"\n[base]\nscan = "base.ply"\nunit = "mm"\n'
        f'[impression]\nclay_thickness_mm = {thickness}\n[body]\nscan = "body.ply"\nscan_unit = "mm"\n'
        "press_direction = [0.0, 0.0, -1.0]\n[load]\nforce_n = 400.0\n",
        "utf-8",
    )
    made = MadePart(read_job(tmp_path / "job.toml"))
    for stage in STAGES:
        made = drain(do_stage(stage, made, tmp_path))
        if stage.name == "pad":
            break
    pad = made.pad
    assert pad is not None
    assert not any("hang together" in note or "thinner than" in note for note in pad.notes)
    # As it was laid, less what the body pressed away and the fit gap.
    assert pad.least_thickness_mm is not None and pad.least_thickness_mm > 0.25 * thickness


@pytest.mark.parametrize("radius", [0.0, 12.0])
def test_the_area_of_a_patch_that_reaches_the_scan_s_border(radius: float) -> None:
    """The border of the scan itself is no hole; a hole within counts, one that the patch meets half does not."""
    ends = np.arange(-40.0, 40.1, 2.0)
    sheet = grid(ends, ends, lambda x, y: 0.0 * x)
    middle = sheet.triangles.mean(axis=1)
    holed = sheet.submesh(np.hypot(*middle[:, :2].T) > radius) if radius else sheet
    everywhere = np.ones(len(holed.vertices), dtype=bool)
    assert patch_area(holed, holed.vertices, everywhere, DOWN) == pytest.approx(80.0**2)
    half = holed.vertices[:, 0] > 1.0
    missing = 80.0**2 - holed.area
    # The border's faces count by the share of their corners: half a place, 1 mm, off the line.
    assert patch_area(holed, holed.vertices, half, DOWN) == pytest.approx(39.0 * 80.0 - 0.5 * missing, abs=85.0)
