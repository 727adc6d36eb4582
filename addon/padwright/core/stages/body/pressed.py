"""What pressing the body into virtual clay gives: a surface that all later stages take as if it had been scanned."""

from __future__ import annotations

from dataclasses import dataclass

from ...base.estimate import Estimate
from ...base.files import InputFile
from ...base.mesh import Float, TriMesh
from .body_scan import LaidBody
from .center_doubt import CenterDoubt
from .press_clay import Imprint


@dataclass(frozen=True, eq=False)
class BodyShape:
    """A scan of the body as it comes down on the part."""

    mesh: TriMesh  # part frame
    record: InputFile


@dataclass(frozen=True, eq=False)
class PressedClay:
    """Virtual clay with the body's imprint."""

    mesh: TriMesh  # part frame; the clay, and the base beside it
    press: Float  # (3,), unit vector from the body into the base, part frame
    press_basis: str  # "given" or "auto"
    press_plus_minus_deg: float
    thickness_mm: float  # of the clay as laid
    wanted_n: float  # what was to be carried
    found: Imprint
    numbers: dict[str, Estimate]  # by their names in `Imprint`
    shape_plus_minus_mm: float  # how far the imprint may be off, root mean square over the contact
    flesh_shape_mm: float  # the part of it that comes from the flesh
    middle_mm: Float  # (3,); the middle of the clay's pressure, part frame
    end_share: float  # share of the contact's outline where the scan of the body ends
    rim_share: float  # share of it that lies on the clay's edge
    step_mm: float  # how far the places lie apart
    has_point: bool  # whether the job says where the load acts
    centers: CenterDoubt  # where load centers would lie had it been pressed otherwise

    @property
    def left_mm(self) -> float:
        """Clay left under the body where that is least, mm."""
        return self.thickness_mm - float(self.found.depth_mm.max())


@dataclass(frozen=True, eq=False)
class PressedBody:
    """What the stage gives to a job with a scan of the body."""

    laid: LaidBody
    shape: BodyShape  # the body where it came to rest, for the load check
    clay: PressedClay | None  # None where clay was scanned
    notes: tuple[str, ...]
