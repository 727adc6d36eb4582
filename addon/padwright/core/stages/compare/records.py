"""What a comparison of the printed part with the part as asked for finds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Bool, Float, TriMesh
from ...job.toml_lines import Path


@dataclass(frozen=True)
class ScanScale:
    """By what the scan of the print was multiplied, and what that rests on."""

    factor: float  # applied to the scan, once in mm; 1 where nothing tells it
    standard_error: float | None  # of the factor; None where no length was measured
    basis: str  # "check length", "caliper", "both" or "unknown"

    @property
    def is_known(self) -> bool:
        """True when a length tells the scan's scale, so that shrinkage can be told from it."""
        return self.standard_error is not None


@dataclass(frozen=True, eq=False)
class Shrinkage:
    """How much smaller the print came out along one direction, percent of what was asked for; below 0: larger."""

    name: str  # "x", "y", "z" (axes of the bed, z is the direction of build) or "press direction"
    direction: Float  # (3,); unit vector in the part frame
    # None where the scan's own scale is not known: then only the differences between directions are.
    shrinkage_pct: Estimate | None
    # Beside the mean of the directions that are measured; what the scan's scale does to all directions is not in it.
    against_mean_pct: Estimate | None
    standard_error_pct: float  # of the shape alone, without the scan's scale; infinite where the scan does not show it
    is_measured: bool  # False where the scan hardly shows it: the standard error is above a limit

    @property
    def words(self) -> str:
        """What it is along, for the person."""
        return {"x": "x of the bed", "y": "y of the bed", "z": "z, the direction of build"}.get(self.name, self.name)


@dataclass(frozen=True, eq=False)
class Bend:
    """Warp of the part as a whole, apart from shrinkage: how far its ends rise off the bed."""

    lift_mm: Mapping[str, Estimate]  # by "along x", "along y", "twist": of the ends over the middle; below 0: they dip
    is_clear: bool  # True when one of them is clearly not 0
    note: str  # in words, with numbers


@dataclass(frozen=True, eq=False)
class WorstPatch:
    """A patch where the print is off most, once laid on the part as a whole."""

    position_mm: Float  # (3,); in the part frame
    distance_mm: float  # mean over the patch; above 0: the print stands out there
    area_cm2: float
    region: str  # name of the region it lies in or next to
    words: str  # "body side, at the left end, near "sit bones 1""
    # Whether it stays once shrinkage and bend are taken out: a fault of the place, not of the size.
    is_local: bool


@dataclass(frozen=True)
class Weighing:
    """The print on a kitchen scale, held against the mass that was predicted."""

    measured_g: float
    plus_minus_g: float  # limits of the kitchen scale
    predicted_g: Estimate
    is_explained: bool  # True when the measured lies within the predicted bounds and the scale's limits
    note: str


@dataclass(frozen=True)
class Correction:
    """A key of the job to change in the next revision."""

    path: Path
    value: Any  # what to write, TOML form
    old: Any  # what the job has; None where it has nothing
    why: str


@dataclass(frozen=True, eq=False)
class Comparison:
    """The print held against the part as asked for."""

    number: str
    revision: str
    shape_sha256: str  # of the files of the part it was compared with; "": the part was made anew
    scan_file: str
    # The scan of the print, cleaned, without table, turned outward, laid on the part: part frame, mm, scale corrected.
    scan: TriMesh
    distance_mm: Float  # (n,); of its vertices from the part, above 0 where the print stands out
    is_judged: Bool  # (n,); False for what is no part of the print, as clutter or what it lies on
    part: TriMesh  # the part's outside as asked for; part frame, mm
    part_distance_mm: Float  # (k,); the same at the part's vertices, nan where the scan does not show them
    scan_to_part: Float  # (4, 4); from the scan in mm, scale corrected, to the part frame
    scale: ScanScale
    percentiles_mm: Mapping[str, float]  # "5", "50", "95" signed; "95 of size": 95th percentile of the size; "rms"
    left_mm: Mapping[str, float]  # the same once shrinkage and bend are taken out
    color_limit_mm: float  # a round distance at which the colors of a picture end
    seen_share: float  # share of the part's outside that the scan shows
    noise_mm: float  # standard deviation of a distance that is left once shrinkage and bend are taken out
    shrinkage: tuple[Shrinkage, ...]
    bend: Bend
    worst: tuple[WorstPatch, ...]  # the worst first
    weighing: Weighing | None
    corrections: tuple[Correction, ...]
    doubts: tuple[str, ...]  # of what the scan cannot tell: left from right, end for end, scale from shrinkage
    notes: tuple[str, ...]

    @property
    def share_seen_within(self) -> Mapping[float, float]:
        """The share of what was seen that lies within 0.25, 0.5, 1 and 2 mm of the part."""
        size = np.abs(self.part_distance_mm[np.isfinite(self.part_distance_mm)])
        return {limit: float((size <= limit).mean()) if len(size) else 0.0 for limit in (0.25, 0.5, 1.0, 2.0)}
