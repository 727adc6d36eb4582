"""What a run gathers from stage to stage."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from ..base.files import InputFile
from ..base.mesh import Float, TriMesh
from ..job.cards import Family
from ..job.material_cards import MaterialCard
from ..job.schema import Job
from ..stages.alignment.align import FoundAlignment
from ..stages.alignment.placed_scans import PlacedScans
from ..stages.body.pressed import PressedBody
from ..stages.load.firmness import Firmness
from ..stages.mats.laid_mat import LaidMat
from ..stages.mats.work import MatResult
from ..stages.pad.pad import BuiltPad
from ..stages.pad.work import ShapedPad
from ..stages.reading.impression_reading import ImpressionReading
from ..stages.reading.work import ReadBodySide
from ..stages.regions.regions import RegionCut
from ..stages.scans.captured import CapturedScans, Scan
from ..stages.shape.work import FoldedPart
from ..stages.stage import Results
from ..stages.zones.work import PlannedZones
from ..stages.zones.zones import ZonePlan


@dataclass(frozen=True)
class StageTime:
    """How long a stage took."""

    name: str
    seconds: float
    peak_memory_mb: float | None  # of the whole process up to the stage's end; None where the system does not tell


@dataclass(frozen=True, eq=False)
class MadePart(Results):
    """Everything known about the part so far: what each stage left, and the words that run and packing add.

    What is asked for most has a name of its own here; any other result is asked for by its type (`find`, `of`).
    """

    job: Job
    found: Mapping[str, object] = field(default_factory=dict)  # by stage name
    times: tuple[StageTime, ...] = ()
    said: tuple[str, ...] = ()  # notes of no stage's own

    def having(self, stage: str, result: object, times: tuple[StageTime, ...]) -> MadePart:
        """Return the part with a stage's result and its seconds added."""
        return replace(self, found={**self.found, stage: result}, times=(*self.times, *times))

    @property
    def family(self) -> Family:
        """The card of its family, with the levels of its fill."""
        return self.of(CapturedScans).family.with_fill(self.job.fill.kind, self.job.fill.voids)

    @property
    def base(self) -> Scan:
        """In the part frame."""
        return self.of(CapturedScans).base

    @property
    def impression(self) -> Scan | None:
        """In its own frame."""
        return self.of(CapturedScans).impression

    @property
    def folded(self) -> FoldedPart | None:
        """The solid whose walls make it soft; None where settings do."""
        return self.find(FoldedPart)

    @property
    def to_part(self) -> Float:
        """The 4x4 from the base scan's frame (mm, scale corrected) to the part frame."""
        return self.of(CapturedScans).to_part

    @property
    def alignment(self) -> FoundAlignment | None:
        """How the impression lies on the base."""
        scans = self.find(PlacedScans)
        return None if scans is None else scans.alignment

    @property
    def aligned(self) -> TriMesh | None:
        """The impression in the part frame, as the last stage that changes it left it."""
        side, scans = self.find(ReadBodySide), self.find(PlacedScans)
        if side is not None and side.mesh is not None:
            return side.mesh
        return None if scans is None else scans.aligned

    @property
    def reading(self) -> ImpressionReading | None:
        """What the body left in the clay."""
        side = self.find(ReadBodySide)
        return None if side is None else side.reading

    @property
    def pad(self) -> BuiltPad | None:
        """The pad, uncut."""
        shaped = self.find(ShapedPad)
        return None if shaped is None else shaped.pad

    @property
    def mat(self) -> LaidMat | None:
        """What a pressure mat showed, laid on the body side."""
        result = self.find(MatResult)
        return None if result is None else result.laid

    @property
    def zones(self) -> ZonePlan | None:
        """How firm it is to be, and where."""
        planned = self.find(PlannedZones)
        return None if planned is None else planned.plan

    @property
    def regions(self) -> RegionCut | None:
        """The pad cut up."""
        return self.find(RegionCut)

    @property
    def firmness(self) -> Firmness | None:
        """Settings, load checks, tuning."""
        return self.find(Firmness)

    @property
    def material(self) -> MaterialCard:
        """What it is printed from; known from the choice of the settings on."""
        card = self.of(Firmness).card
        assert card is not None
        return card

    @property
    def inputs(self) -> tuple[InputFile, ...]:
        """The files it was made from."""
        scans = self.of(CapturedScans)
        both = [scan.record for scan in (scans.base, scans.impression) if scan is not None]
        pressed, mat = self.find(PressedBody), self.find(MatResult)
        body = [] if pressed is None else [pressed.laid.record]
        mats = () if mat is None else mat.inputs
        return (*both, *mats, *self.of(ShapedPad).inputs, *self.of(PlannedZones).inputs, *body)

    @property
    def notes(self) -> tuple[str, ...]:
        """Notes on the part as a whole."""
        side = self.find(ReadBodySide)
        return (*(side.notes if side is not None else ()), *self.said)


def peak_memory_mb() -> float | None:
    """Return the most memory the process has held, MB (1e6 bytes), or None where the system does not tell."""
    status = Path("/proc/self/status")
    if status.exists():
        # proc(5): of this program alone. getrusage(2) keeps what the process was before it, however large, over execve.
        most = re.search(r"^VmHWM:\s*(\d+) kB$", status.read_text("ascii", "replace"), re.MULTILINE)
        if most:
            return int(most[1]) * 1024 / 1e6
    try:
        import resource
    except ImportError:
        return None
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    # getrusage(2): kilobytes on Linux, bytes on macOS.
    return used / 1e6 if sys.platform == "darwin" else used * 1024 / 1e6
