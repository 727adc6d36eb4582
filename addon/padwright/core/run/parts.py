"""What a run gathers from stage to stage."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..base.mesh import Float, TriMesh
from ..job.cards import Family, MaterialCard
from ..job.schema import Job
from ..stages.alignment.align import Alignment
from ..stages.load.contact import LoadResult
from ..stages.load.load_case import ContactPatch, LoadCase
from ..stages.load.tuning import Tuning
from ..stages.material.choosing import Chosen
from ..stages.material.curves import CurveBand
from ..stages.packing.sidecar_parts import InputFile
from ..stages.pad.pad import Pad
from ..stages.reading.impression_reading import ImpressionReading
from ..stages.regions.regions import RegionCut
from ..stages.scans.facts import ScanFacts
from ..stages.scans.read import ReadScan
from ..stages.scans.scale import ScaleFit
from ..stages.zones.zones import ZonePlan


@dataclass(frozen=True, eq=False)
class Scan:
    """A scan after reading, cleaning and scaling.

    Attributes
    ----------
    mesh : TriMesh
        mm, scale corrected.
    unit : str
        Of the file.
    factor : float
        The file's mm were multiplied by it.
    fit : ScaleFit or None
        None where the factor was taken over.
    record : InputFile
    read : ReadScan
    before, after : ScanFacts
        Of the scan before and after cleaning.
    notes : tuple of str
    """

    mesh: TriMesh
    unit: str
    factor: float
    fit: ScaleFit | None
    record: InputFile
    read: ReadScan
    before: ScanFacts
    after: ScanFacts
    notes: tuple[str, ...]

    def moved(self, matrix: Float) -> Scan:
        """Return the scan moved by a rigid 4x4."""
        return replace(self, mesh=self.mesh.transformed(matrix))


@dataclass(frozen=True)
class StageTime:
    """How long a stage took.

    Attributes
    ----------
    name : str
    seconds : float
    peak_memory_mb : float or None
        Of the whole process up to the stage's end; None where the system does not tell.
    """

    name: str
    seconds: float
    peak_memory_mb: float | None


@dataclass(frozen=True, eq=False)
class Firmness:
    """How firm the part will be: settings, load checks, tuning.

    Attributes
    ----------
    chosen : mapping of zone number to Chosen
        One choice a zone; a zone in several pieces is printed alike.
    curves : mapping of region id to CurveBand
        Of each region by its own size.
    patch : ContactPatch or None
        Where the body bears; its zones are those of the plan.
    loads : tuple of (LoadCase, LoadResult)
        The job's load first, then its further cases.
    felt : tuple of str
        What the first load means to the person.
    tuning : Tuning or None
    notes : tuple of str
    """

    chosen: Mapping[int, Chosen]
    curves: Mapping[str, CurveBand]
    patch: ContactPatch | None = None
    loads: tuple[tuple[LoadCase, LoadResult], ...] = ()
    felt: tuple[str, ...] = ()
    tuning: Tuning | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Part:
    """Everything known about the part so far; each stage returns it with its own result added.

    Attributes
    ----------
    to_part : (4, 4) float
        From the base scan's frame (mm, scale corrected) to the part frame; the identity without a datum.
    aligned : TriMesh or None
        The impression in the part frame.
    card : MaterialCard or None
        As read for the choice of the settings: no stage before depends on it.
    """

    job: Job
    family: Family
    base: Scan
    impression: Scan | None
    to_part: Float
    alignment: Alignment | None = None
    aligned: TriMesh | None = None
    reading: ImpressionReading | None = None
    pad: Pad | None = None
    zones: ZonePlan | None = None
    regions: RegionCut | None = None
    card: MaterialCard | None = None
    firmness: Firmness | None = None
    inputs: tuple[InputFile, ...] = ()
    times: tuple[StageTime, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def material(self) -> MaterialCard:
        """What it is printed from; known from the choice of the settings on."""
        assert self.card is not None
        return self.card

    @property
    def on_base_frame(self) -> bool:
        """Whether the part frame is the base scan's own."""
        return bool(np.array_equal(self.to_part, np.eye(4)))


def peak_memory_mb() -> float | None:
    """Return the most memory the process has held, MB (1e6 bytes), or None where the system does not tell."""
    try:
        import resource
    except ImportError:
        return None
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    # getrusage(2): kilobytes on Linux, bytes on macOS.
    return most / 1e6 if sys.platform == "darwin" else most * 1024 / 1e6
