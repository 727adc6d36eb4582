"""How firm a part will be, and what the load check is worked out from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ...base.mesh import TriMesh
from ...job.cards import Family
from ...job.material_cards import MaterialCard
from ...job.schema import Job
from ..alignment.placed_scans import PlacedScans
from ..body.pressed import BodyShape
from ..folds.layout import FoldLayout
from ..material.choosing import Chosen
from ..material.curves import CurveBand
from ..mats.laid_mat import LaidMat
from ..pad.pad import BuiltPad
from ..reading.impression_reading import ImpressionReading
from ..regions.regions import RegionCut
from ..zones.zones import ZonePlan
from .beside_mat import MatBeside
from .contact import LoadResult
from .fold_columns import FoldColumns
from .fold_field import FoldField, ZoneShares
from .fold_stand import Standing
from .level_basis import LevelBasis
from .load_case import ContactPatch, LoadCase
from .tuning import Tuning


@dataclass(frozen=True, eq=False)
class Folded:
    """The walls of a pad, and what its zones rest on."""

    layout: FoldLayout
    field: FoldField
    shares: ZoneShares
    columns: FoldColumns | None  # the contact patch by kinds of columns; None without a contact
    stands: tuple[Standing, ...] = ()  # how it stands under each load that was checked


@dataclass(frozen=True)
class Tried:
    """A pad that was pressed and planned: as it is, or with one thing changed."""

    change: str  # in words; "" for the pad as it is
    how: str  # what to do for it
    give_mm: float  # how far it is pressed in where that is most, with the expected curves
    peak_kpa: float  # of the pressure, with the expected curves
    mass_g: float  # without supports
    least_h: float  # hours it prints at the filament's flow limit
    most_h: float  # hours with travel and cooling


@dataclass(frozen=True, eq=False)
class Firmness:
    """How firm the part will be: settings, load checks, tuning."""

    chosen: Mapping[int, Chosen]  # by zone number; a zone in several pieces is printed alike
    curves: Mapping[str, CurveBand]  # by region id; of each region by its own size
    levels: LevelBasis = field(default_factory=LevelBasis)  # the sizes and strains that moduli are told for
    patch: ContactPatch | None = None  # where the body bears; its zones are those of the plan
    loads: tuple[tuple[LoadCase, LoadResult], ...] = ()  # the job's load first, then its further cases
    rigid: LoadResult | None = None  # the first load by a body without flesh, where it has some: the upper extreme
    felt: tuple[str, ...] = ()  # what the first load means to the person
    advice: tuple[Tried, ...] = ()  # of a pad that gives little, as it is and with what makes it give more; else empty
    tuning: Tuning | None = None
    notes: tuple[str, ...] = ()
    card: MaterialCard | None = None  # of the material the settings were chosen for
    beside: MatBeside | None = None  # the first load beside what a mat showed
    folded: Folded | None = None  # the walls, where they and not settings make it soft

    @property
    def has_coupons(self) -> bool:
        """Whether the material was measured on printed blocks."""
        kind = "settings" if self.folded is None else "folds"
        return self.card is not None and self.card.pressed(kind) is not None


@dataclass(frozen=True, eq=False)
class Ground:
    """What bears the load, and what the job says of load and print."""

    job: Job
    family: Family
    card: MaterialCard
    scans: PlacedScans
    reading: ImpressionReading | None
    aligned: TriMesh | None  # the body side, part frame
    pad: BuiltPad
    zones: ZonePlan
    regions: RegionCut
    body: BodyShape | None = None
    mat: LaidMat | None = None  # what a pressure mat showed
    layout: FoldLayout | None = None  # where folded walls may stand; None where settings make the part soft
