"""How often a pad is refused because a border of its zones cannot be cut through it, and whether volumes add up.

The table stands in docs/models/cut.md.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from tests.support.cases import Case, make_case
from tests.support.dished_seat import make_dished_seat
from tests.support.writers import write_job

import studying
from padwright.core.base.errors import PadwrightError
from padwright.core.base.progress import drain
from padwright.core.geometry.through import PadShape
from padwright.core.job.read import parse_job
from padwright.core.run import pipeline
from padwright.core.run.parts import MadePart
from padwright.core.run.stages import STAGES
from padwright.core.stages.alignment.placed_scans import PlacedScans
from padwright.core.stages.regions.regions import VOLUME_TOLERANCE, RegionCut, cut_regions
from padwright.core.stages.zones.zone_sources import Rest, Weights
from padwright.core.stages.zones.zones import ZonePlan, ZoneRequest, plan_zones

TRIANGLES = 6000  # a second or two of work a pad
NOSE_PAD_TRIANGLES = 12_000  # its load centers need them
WIDTH_MM = 0.9  # two beads
KINDS = ("seat", "insole", "liner", "nose_pad", "grip", "round_grip", "dished_seat")
SQUARES_MM = (5.0, 12.0)  # about as fine and as coarse as a brush's specks
FLIPPED = 0.15
PAINTED, PAINTINGS = 5, 3  # every fifth pad is painted too, three times over: that takes longer than all else


@dataclass
class Tally:
    """What became of the pads of one kind, cut one way."""

    cut: int = 0
    refused: list[str] = field(default_factory=list)
    moved: list[float] = field(default_factory=list)
    worst: float = 0.0

    def add(self, pad: PadShape, plan: ZonePlan) -> None:
        """Cut one pad and count what came of it."""
        try:
            found = drain(cut_regions(pad, plan, least_width_mm=WIDTH_MM))
        except PadwrightError as error:
            self.refused.append(str(error))
            return
        self.cut += 1
        self.worst = max(self.worst, found.volume_error)
        self.moved += _moved(found)

    def words(self) -> tuple[str, ...]:
        """Return the cells of the table."""
        far = f"{np.median(self.moved):.1f}, {max(self.moved):.1f} mm" if self.moved else "-"
        return f"{len(self.refused)} of {self.cut + len(self.refused)}", str(len(self.moved)), far, f"{self.worst:.0e}"


def _moved(found: RegionCut) -> list[float]:
    return [float(note.split("moved by up to ")[1].split(" mm")[0]) for note in found.notes if "moved by up to" in note]


def made(kind: str, seed: int) -> Case:
    """Return two scans in their true pose."""
    if kind == "dished_seat":
        return make_dished_seat(seed, triangles=TRIANGLES, pose="none")
    triangles = NOSE_PAD_TRIANGLES if kind == "nose_pad" else TRIANGLES
    return make_case(kind, seed=seed, triangles=triangles, pose="none")


def planned(case: Case, folder: Path) -> MadePart:
    """Return the part up to its zones, those the family asks for, with both scans in their true pose."""
    path = write_job(case, folder)
    job = parse_job(path.read_bytes(), path.name, folder)
    part = drain(pipeline.do_stage(STAGES[0], MadePart(job), folder))
    aligned = part.impression.mesh.transformed(case.impression_to_base)
    placed = PlacedScans(part.base, part.impression, part.to_part, None, aligned)
    part = part.having("alignment", placed, ())
    for stage in STAGES[2:]:
        if stage.name == "regions":
            return part
        part = drain(pipeline.do_stage(stage, part, folder))
    raise AssertionError("no stage is called regions")


def painted(pad: PadShape, seed: int) -> ZonePlan:
    """Return one zone painted in squares with specks: far more ragged than a hand paints."""
    random = np.random.default_rng(seed)
    size = random.uniform(*SQUARES_MM)
    square = np.floor((pad.mesh.vertices + random.uniform(0.0, size, 3)) / size).sum(axis=1) % 2 == 0
    weights = (square ^ (random.random(len(square)) < FLIPPED)).astype(np.float64)
    zones = [ZoneRequest("painted", 4.0, Weights(pad.mesh.vertices, weights)), ZoneRequest("rest", 2.0, Rest())]
    return plan_zones(pad, None, zones)


def study(seeds: range) -> studying.Finding:
    """Cut pads of every kind along the zones found on them, and along ragged paint."""
    rows, claims = [], []
    for number, kind in enumerate(KINDS):
        found, ragged, without = Tally(), Tally(), 0
        for seed in seeds:
            with tempfile.TemporaryDirectory() as folder:
                try:
                    part = planned(made(kind, seed), Path(folder))
                except PadwrightError:  # no load center where the zones want some: another study's matter
                    without += 1
                    continue
            found.add(part.pad, part.zones)
            for again in range(PAINTINGS if (seed + number) % PAINTED == 2 else 0):
                ragged.add(part.pad, painted(part.pad, PAINTINGS * seed + again))
        for words, tally in (("found", found), ("ragged paint", ragged)):
            if not tally.cut + len(tally.refused):
                continue
            rows.append((kind.replace("_", " "), words, *tally.words()))
            said = f"{kind}, {words}: {len(tally.refused)} refused ({'; '.join(tally.refused)})"
            claims.append((said, not tally.refused))
            claims.append((f"{kind}, {words}: volumes off by {tally.worst:.1e}", tally.worst <= VOLUME_TOLERANCE))
        claims.append((f"{kind}: {without} without zones", studying.can_be(len(seeds) - without, len(seeds), 0.9)))
    head = ("pad", "zones", "refused", "smoothed to be cut", "border moved (median, most)", "sum of volumes off by")
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=5, sample=1))
