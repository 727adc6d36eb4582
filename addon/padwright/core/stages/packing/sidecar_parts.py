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
    """How a scan's lengths were corrected.

    Attributes
    ----------
    factor : float
    plus_minus : float
    coverage : str
        k1, k2, limits or unknown.
    method : str
        check_lengths, as_base, file_unit or none.
    lengths : tuple of (name, measured_mm, plus_minus_mm, in_scan_mm)
    """

    factor: float
    plus_minus: float
    coverage: str
    method: str
    lengths: tuple[tuple[str, float, float, float], ...] = ()


@dataclass(frozen=True)
class Provenance:
    """What made the part and from what.

    Attributes
    ----------
    version : str
        Of this tool.
    created_utc : str
        From `run_time_utc`.
    inputs : tuple of InputFile
    base_scale, impression_scale : ScaleRecord
        The latter None where there is no impression scan.
    alignment : mapping, optional
        rms_mm, p95_mm, overlap.
    random_seed : int, optional
    """

    version: str
    created_utc: str
    inputs: tuple[InputFile, ...]
    base_scale: ScaleRecord
    impression_scale: ScaleRecord | None = None
    alignment: Mapping[str, float] | None = None
    random_seed: int | None = None


@dataclass(frozen=True)
class PartRecord:
    """Who the part is and how it lies.

    Attributes
    ----------
    name, number, revision, family, description : str
    press_direction : (3,) float or None
        None for a wrap-around part.
    to_bed : (4, 4) float, mm
    origin : str
        What the part frame is, in words.
    mirror : Mirror, optional
        Set when the part was mirrored.
    volume_cm3 : float, optional
        Of regions that overlap, the volume of their union; left out, it is the sum of the regions.
    orientation : str
        How `to_bed` lays it, in words ("base side down"); empty where there is only one way.
    """

    name: str
    number: str
    revision: str
    press_direction: Float | None
    to_bed: Float
    family: str = ""
    description: str = ""
    origin: str = "axes and origin of the base scan, in mm after unit and scale"
    mirror: Mirror | None = None
    volume_cm3: float | None = None
    orientation: str = ""


@dataclass(frozen=True)
class MaterialRecord:
    """The filament.

    Attributes
    ----------
    id, name, symbol : str
    hardness : str
        As the trade says it: "85A" (Shore A), "45D" (Shore D).
    density_g_cm3 : float, optional
    modulus_kpa : mapping, optional
        value, low, high, basis.
    """

    id: str
    name: str
    symbol: str = ""
    hardness: str = ""
    density_g_cm3: float | None = None
    modulus_kpa: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class ContactRecord:
    """A face that two regions share.

    Attributes
    ----------
    first, second : str
        Region ids.
    area_cm2 : float
    joint : str
        coincident or overlap.
    amount_mm : float
        Overlap, mm.
    """

    first: str
    second: str
    area_cm2: float
    joint: str = "coincident"
    amount_mm: float = 0.0


@dataclass(frozen=True)
class SidecarParts:
    """Everything the settings document is made of.

    Attributes
    ----------
    part : PartRecord
    bodies : sequence of RegionBody
        In the order of the 3MF components.
    settings : mapping of region id to RegionSettings
    levels : sequence of Level
    material : MaterialRecord
    provenance : Provenance
    cautions : sequence of Caution
    stops_answered : mapping of caution code to text
        How the person answered each caution of severity "stop" ("part.certified_gear = false").
    contacts : sequence of ContactRecord
    predicted : mapping of region id to {name: estimate}
    predicted_part : mapping
    stl_sha256 : mapping of region id to SHA-256
        For the regions that have an STL file.
    stl_from_part : (4, 4) float, optional
        The motion from the part frame to the STLs' own numbers; left out, it is the part's `to_bed`.
    wished : mapping of region id to float
        The firmness level asked for, where the body's own is that of the region as printed.
    is_tuned : bool
        Whether the moduli were tuned to a load.
    printing : mapping, optional
        How the part lies, bed, supports, heat: `printing.print_record`.
    selection : mapping, optional
        Set when these are some of a part's regions: of which part, which, and which are left out.
    """

    part: PartRecord
    bodies: Sequence[RegionBody]
    settings: Mapping[str, RegionSettings]
    levels: Sequence[Level]
    material: MaterialRecord
    provenance: Provenance
    cautions: Sequence[Caution] = ()
    stops_answered: Mapping[str, str] = field(default_factory=dict)
    contacts: Sequence[ContactRecord] = ()
    predicted: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    predicted_part: Mapping[str, Any] = field(default_factory=dict)
    stl_sha256: Mapping[str, str] = field(default_factory=dict)
    stl_from_part: Float | None = None
    wished: Mapping[str, float] = field(default_factory=dict)
    is_tuned: bool = False
    selection: Mapping[str, Any] | None = None
    printing: Mapping[str, Any] | None = None
