"""What the settings document is made of: plain records that the stages fill."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ...base.files import InputFile
from ...base.mesh import Float
from ...job.cards import Caution, Level
from ..material.region_settings import RegionSettings
from ..regions.bodies import Mirror, RegionBody


@dataclass(frozen=True)
class ScaleRecord:
    """How a scan's lengths were corrected."""

    factor: float
    plus_minus: float
    coverage: str  # k1, k2, limits or unknown
    method: str  # check_lengths, as_base, file_unit or none
    lengths: tuple[tuple[str, float, float, float], ...] = ()  # (name, measured_mm, plus_minus_mm, in_scan_mm) each


@dataclass(frozen=True)
class Provenance:
    """What made the part and from what."""

    version: str  # of this tool
    created_utc: str  # from `run_time_utc`
    inputs: tuple[InputFile, ...]
    # Both scans; the latter None where there is no impression.
    base_scale: ScaleRecord
    impression_scale: ScaleRecord | None = None
    alignment: Mapping[str, float] | None = None  # rms_mm, p95_mm, overlap
    random_seed: int | None = None


@dataclass(frozen=True)
class PartRecord:
    """Who the part is and how it lies."""

    name: str
    number: str
    revision: str
    press_direction: Float | None  # (3,); none for a wrap-around part
    to_bed: Float  # (4, 4) float, mm
    family: str = ""
    description: str = ""
    origin: str = "axes and origin of the base scan, in mm after unit and scale"  # what the part frame is, in words
    mirror: Mirror | None = None  # set when the part was mirrored
    # Of regions that overlap, the volume of their union; left out, it is the sum of the regions.
    volume_cm3: float | None = None
    bed_scale: Float | None = None  # (3,); by what files are multiplied along the bed's axes, where not by 1
    orientation: str = ""  # how `to_bed` lays it, in words ("base side down"); empty where there is only one way


@dataclass(frozen=True)
class MaterialRecord:
    """The filament."""

    id: str
    name: str
    symbol: str = ""
    hardness: str = ""  # as the trade says it: "85A" (Shore A), "45D" (Shore D)
    density_g_cm3: float | None = None
    modulus_kpa: Mapping[str, Any] | None = None  # value, low, high, basis


@dataclass(frozen=True)
class ContactRecord:
    """A face that two regions share."""

    # Both: region ids.
    first: str
    second: str
    area_cm2: float
    joint: str = "coincident"  # coincident or overlap
    amount_mm: float = 0.0  # overlap, mm


@dataclass(frozen=True)
class SidecarParts:
    """Everything the settings document is made of."""

    part: PartRecord
    bodies: Sequence[RegionBody]  # in the order of the 3MF components
    settings: Mapping[str, RegionSettings]  # by region id
    levels: Sequence[Level]
    material: MaterialRecord
    provenance: Provenance
    cautions: Sequence[Caution] = ()
    # By code: how the person answered each caution of severity "stop" ("part.certified_gear = false").
    stops_answered: Mapping[str, str] = field(default_factory=dict)
    contacts: Sequence[ContactRecord] = ()
    predicted: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)  # by region id: {name: estimate}
    predicted_part: Mapping[str, Any] = field(default_factory=dict)
    # SHA-256 by region id, for the regions that have an STL file.
    stl_sha256: Mapping[str, str] = field(default_factory=dict)
    # (4, 4) float: the motion from the part frame to the STLs' own numbers; left out, it is the part's `to_bed`.
    stl_from_part: Float | None = None
    # By region id: the firmness level asked for, where the body's own is that of the region as printed.
    wished: Mapping[str, float] = field(default_factory=dict)
    is_tuned: bool = False  # whether the moduli were tuned to a load
    # Set when these are some of a part's regions: of which part, which, and which are left out.
    selection: Mapping[str, Any] | None = None
    printing: Mapping[str, Any] | None = None  # how the part lies, bed, supports, heat: `printing.print_record`
