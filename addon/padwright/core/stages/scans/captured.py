"""Both scans as later stages take them: read, cleaned, scaled, in the part frame."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.files import InputFile
from ...base.mesh import Float, TriMesh
from ...base.units import mm_per_unit
from ...job.cards import Family
from ...job.schema import Job
from .formats.draft import Draft
from .mended import Mended
from .scale import ScaleFit
from .scan_facts import ScanFacts
from .working_copy import CopyFacts


@dataclass(frozen=True, eq=False)
class Scan:
    """A scan after reading, cleaning and scaling."""

    mesh: TriMesh  # mm, scale corrected
    unit: str  # of the file
    factor: float  # the file's mm were multiplied by it
    fit: ScaleFit | None  # None where the factor was taken over
    record: InputFile
    file_format: str  # a name of `known_formats`
    mended: Mended  # in the frame of the mesh
    # before, after: of the scan before and after cleaning; the mesh may be a lighter copy of what `after` tells of.
    before: ScanFacts
    after: ScanFacts
    notes: tuple[str, ...]
    copy: CopyFacts | None = None  # where the mesh is a lighter copy of the cleaned scan
    # of an impression with colors: as its file has it, so that a zone that asks for them does not parse it again
    draft: Draft | None = None

    @property
    def mm_per_number(self) -> float:
        """How many true mm one of the file's own numbers is."""
        return mm_per_unit(self.unit) * self.factor

    def moved(self, matrix: Float) -> Scan:
        """Return the scan moved by a rigid 4x4."""
        return replace(self, mesh=self.mesh.transformed(matrix), mended=self.mended.moved(matrix))


@dataclass(frozen=True, eq=False)
class CapturedScans:
    """What the stage gives."""

    family: Family  # the part's
    base: Scan  # in the part frame
    impression: Scan | None  # in its own frame
    # (4, 4); from the base scan's frame (mm, scale corrected) to the part frame; the identity without a datum
    to_part: Float

    @property
    def on_base_frame(self) -> bool:
        """Whether the part frame is the base scan's own."""
        return bool(np.array_equal(self.to_part, np.eye(4)))


def named(scans: CapturedScans, job: Job) -> CapturedScans:
    """Return the scans with the names that their files have now: the same content may have been read under others."""
    impression = scans.impression
    if impression is not None and job.impression is not None and job.impression.scan is not None:
        impression = _named(impression, job.impression.scan)
    return replace(scans, base=_named(scans.base, job.base.scan), impression=impression)


def _named(scan: Scan, name: str) -> Scan:
    return scan if scan.record.file == name else replace(scan, record=replace(scan.record, file=name))
