"""How often a random pad of folded walls comes out closed, in one piece, with all walls attached, and printable.

The table stands in docs/models/slices.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np
from tests.support.random_pads import RandomPad, random_pad
from tests.support.solids import to_manifold

import studying
from padwright.core.base.errors import PadwrightError
from padwright.core.base.progress import drain
from padwright.core.geometry.pad_length import pad_length
from padwright.core.geometry.through import BODY_SIDE
from padwright.core.job.fill_table import Fill
from padwright.core.stages.folds.layout import FoldLayout, FoldWishes, lay_out
from padwright.core.stages.folds.wall_choice import Places, WallChoice, choose_walls
from padwright.core.stages.shape.build import FoldedSolid, build_shape
from padwright.core.stages.shape.slice_report import SliceLimits, SliceReport
from padwright.core.stages.shape.slices import check_slices
from padwright.core.stages.shape.tips import SolidStuff

BEAD_MM, LAYER_MM = 0.45, 0.2
MOST_TOO_FAR = 0.03
"""Of the largest layer: a little more than the worst of these pads has."""

NO_ERROR = 0.95
"""Share of pads that print without any error: a little less than these pads show, all of which do."""

STUFF = SolidStuff(13.2, 0.48)  # a filament of 85A


@dataclass
class Tally:
    """What became of the pads of one kind."""

    pads: int = 0
    refused: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)  # not whole, or walls that reach no roof: must not be
    to_mend: list[str] = field(default_factory=list)  # whole, but a place of it would print badly
    starts: list[int] = field(default_factory=list)
    bridges: list[float] = field(default_factory=list)
    too_far: list[float] = field(default_factory=list)  # share of the largest layer
    beads: list[float] = field(default_factory=list)

    def words(self) -> tuple[str, ...]:
        """Return the cells of the table."""
        made = self.pads - len(self.refused)
        worst = [
            f"{chosen(found):.{digits}f}" if found else "-"
            for chosen, found, digits in (
                (max, self.starts, 0), (max, self.bridges, 1), (max, [100.0 * each for each in self.too_far], 1),
                (min, self.beads, 1),
            )
        ]  # fmt: skip
        whole, clean = made - len(self.wrong), made - len({*self.wrong, *self.to_mend})
        return str(self.pads), str(len(self.refused)), f"{whole} of {made}", f"{clean} of {made}", *worst


def walls_for(made: RandomPad) -> WallChoice:
    """Return the walls as a job chooses them that leaves them open."""
    mesh = made.pad.mesh
    length = pad_length(mesh, made.pad.side, made.pad.press_direction)
    is_body = (made.pad.side == BODY_SIDE) & length.is_through
    thick = length.length_mm[is_body]
    places = Places(thick, mesh.vertex_areas[is_body], np.full(len(thick), made.wished_kpa))
    return choose_walls(
        places, Fill(kind="folds"), bead_mm=BEAD_MM, layer_mm=LAYER_MM, solid_kpa=1000.0 * STUFF.modulus_mpa,
        poisson=STUFF.poisson,
    )  # fmt: skip


def built(made: RandomPad) -> tuple[FoldLayout, FoldedSolid]:
    """Return layout and solid of a pad."""
    choice = walls_for(made)
    wishes = FoldWishes(choice.width_mm, choice.pitch_mm, choice.skin_mm, choice.skin_mm, choice.folds)
    layout = drain(lay_out(made.pad, wishes))  # type: ignore[arg-type]
    x, y = (layout.origin[axis] + layout.step_mm * np.arange(layout.height_mm.shape[axis]) for axis in (0, 1))
    slope = made.slope_deg(*np.meshgrid(x, y, indexing="ij"))
    return layout, drain(build_shape(made.pad, layout, slope))  # type: ignore[arg-type]


def looked_at(layout: FoldLayout, solid: FoldedSolid) -> SliceReport:
    """Return what its layers tell."""
    laid = solid.mesh.transformed(layout.to_plane)
    on_bed = np.eye(4)
    on_bed[2, 3] = -laid.bounds[0, 2]
    wishes = layout.wishes
    limits = SliceLimits(wishes.most_slope_deg, wishes.longest_bridge_mm, skin_mm=wishes.base_skin_mm)
    return drain(check_slices(laid.transformed(on_bed), layer_mm=LAYER_MM, bead_mm=BEAD_MM, limits=limits))


def add(tally: Tally, seed: int) -> None:
    """Make one pad and count what came of it."""
    made = random_pad(seed)
    tally.pads += 1
    try:
        layout, solid = built(made)
    except PadwrightError as error:
        low, high = made.thickness_mm
        tally.refused.append(f"seed {seed}, {low:.0f} to {high:.0f} mm thick: {error}")
        return
    report = looked_at(layout, solid)
    pieces = len(to_manifold(solid.mesh).decompose()) if solid.mesh.is_closed else 0
    wrong = [] if pieces == 1 else ["it is not closed" if not pieces else f"it is in {pieces} pieces"]
    wrong += [f"{report.loose_tops.count} walls reach no roof"] if report.loose_tops.count else []
    if wrong:
        tally.wrong.append(f"seed {seed} ({made.kind}): {' '.join(wrong)}")
    elif report.errors:
        tally.to_mend.append(f"seed {seed} ({made.kind}): {' '.join(report.errors)}")
    bridge = report.hanging.bridge_mm
    tally.starts.append(report.starts.in_air)
    tally.bridges += [bridge.value] if bridge else []
    tally.too_far.append(report.hanging.too_far_mm2 / float(report.area_mm2.max()))
    tally.beads += [report.least_width_beads] if report.least_width_beads else []


def study(seeds: range) -> studying.Finding:
    """Make the pad of each seed."""
    kinds: dict[str, Tally] = {}
    for seed in seeds:
        add(kinds.setdefault(random_pad(seed).kind, Tally()), seed)
    claims = [(line, False) for tally in kinds.values() for line in tally.wrong]
    refused = [line for tally in kinds.values() for line in tally.refused]
    unexpected = [line for line in refused if "folded walls need" not in line]
    claims += [(line, False) for line in unexpected]
    most = max((each for tally in kinds.values() for each in tally.too_far), default=0.0)
    claims.append((f"{100.0 * most:.1f} % of a largest layer lean out too far over nothing", most <= MOST_TOO_FAR))
    share = (len(seeds) - len(refused)) / len(seeds)
    made = len(seeds) - len(refused)
    clean = made - sum(len(tally.to_mend) for tally in kinds.values())
    claims.append((f"{clean} of {made} print without an error", studying.can_be(clean, made, NO_ERROR)))
    claims.append((f"{len(refused)} of {len(seeds)} are too thin for walls", share >= 0.8))
    head = (
        "outline", "pads", "too thin", "closed, one piece, attached", "no error", "most starts in the air",
        "longest bridge (mm)", "too far an overhang (% of a layer)", "least wall (beads)",
    )  # fmt: skip
    return studying.Finding(head, tuple((kind, *kinds[kind].words()) for kind in sorted(kinds)), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=50, sample=2))
