"""How firm a part will be, and what the load check is worked out from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ...base.mesh import TriMesh
from ...job.cards import Family
from ...job.material_cards import MaterialCard
from ...job.schema import Job
from ..alignment.placed_scans import PlacedScans
from ..material.choosing import Chosen
from ..material.curves import CurveBand
from ..pad.pad import BuiltPad
from ..reading.impression_reading import ImpressionReading
from ..regions.regions import RegionCut
from ..zones.zones import ZonePlan
from .body_shape import BodyShape
from .contact import LoadResult
from .level_basis import LevelBasis
from .load_case import ContactPatch, LoadCase
from .tuning import Tuning


@dataclass(frozen=True)
class Tried:
    """A pad that was pressed and planned: as it is, or with one thing changed.

    Attributes
    ----------
    change : str
        In words; "" for the pad as it is.
    how : str
        What to do for it.
    give_mm, peak_kpa : float
        How far it is pressed in where that is most, and the peak of the pressure, with the expected curves.
    mass_g : float
        Without supports.
    least_h, most_h : float
        Hours it prints: at the filament's flow limit, and with travel and cooling.
    """

    change: str
    how: str
    give_mm: float
    peak_kpa: float
    mass_g: float
    least_h: float
    most_h: float


@dataclass(frozen=True, eq=False)
class Firmness:
    """How firm the part will be: settings, load checks, tuning.

    Attributes
    ----------
    chosen : mapping of zone number to Chosen
        One choice a zone; a zone in several pieces is printed alike.
    curves : mapping of region id to CurveBand
        Of each region by its own size.
    levels : LevelBasis
        The sizes and strains that moduli are told for.
    patch : ContactPatch or None
        Where the body bears; its zones are those of the plan.
    loads : tuple of (LoadCase, LoadResult)
        The job's load first, then its further cases.
    rigid : LoadResult or None
        The first load by a body without flesh, where it has some: the upper extreme.
    felt : tuple of str
        What the first load means to the person.
    advice : tuple of Tried
        Of a pad that gives little, as it is and with what would make it give more; else empty.
    tuning : Tuning or None
    notes : tuple of str
    card : MaterialCard or None
        Of the material the settings were chosen for.
    body : BodyShape or None
        The body beyond its imprint, where the job has a scan of it.
    """

    chosen: Mapping[int, Chosen]
    curves: Mapping[str, CurveBand]
    levels: LevelBasis = field(default_factory=LevelBasis)
    patch: ContactPatch | None = None
    loads: tuple[tuple[LoadCase, LoadResult], ...] = ()
    rigid: LoadResult | None = None
    felt: tuple[str, ...] = ()
    advice: tuple[Tried, ...] = ()
    tuning: Tuning | None = None
    notes: tuple[str, ...] = ()
    card: MaterialCard | None = None
    body: BodyShape | None = None

    @property
    def has_coupons(self) -> bool:
        """Whether the material was measured on printed blocks."""
        return self.card is not None and self.card.calibration is not None


@dataclass(frozen=True, eq=False)
class Ground:
    """What bears the load, and what the job says of load and print.

    Attributes
    ----------
    job : Job
    family : Family
    card : MaterialCard
    scans : PlacedScans
    reading : ImpressionReading or None
    aligned : TriMesh or None
        The body side, part frame.
    pad : BuiltPad
    zones : ZonePlan
    regions : RegionCut
    body : BodyShape or None
    """

    job: Job
    family: Family
    card: MaterialCard
    scans: PlacedScans
    reading: ImpressionReading | None
    aligned: TriMesh | None
    pad: BuiltPad
    zones: ZonePlan
    regions: RegionCut
    body: BodyShape | None = None
