"""Check the load; the body's shape pressed on the pad's columns, balanced, with bounds on every number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError
from ...base.estimate import Estimate, largest, least, weaker
from ...base.mesh import Float, Int
from ..material.curves import CurveBand, StressCurve
from .bulging_layers import Bounds
from .contact_notes import contact_notes
from .contact_pieces import ContactPiece
from .contact_solve import MN_PER_N, Run, SolveInput, make_setting, press, refuse_impossible
from .contact_spread import Spread, moves, spread
from .load_case import ContactPatch, LoadCase
from .zone_sides import layer_ratios

_SEARCH_TOLERANCE = 1e-6
"""Share of the load that a search may leave over: far below the 1 % in a modulus that it tells apart."""

PEAK_PERCENTILE = 99.5
"""The peak is this percentile of pressure over the contact area (our definition)."""


@dataclass(frozen=True)
class ZoneLoad:
    """What one zone bears; sinkage, peak and margin as in `LoadResult`, within the zone."""

    name: str
    share: Estimate  # of the force
    sinkage_mm: Estimate
    mean_sinkage_mm: Estimate  # over the area that bears
    mean_pressure_kpa: Estimate  # over all that the body covers, touching or not: what a groove spares counts
    peak_pressure_kpa: Estimate
    bottoming_margin: Estimate


@dataclass(frozen=True, eq=False)
class LoadResult:
    """How the pad bears the load."""

    # pressure, compression, strain: (n,); at each point, with the expected curves; compression is the pad's own.
    pressure_kpa: Float
    compression_mm: Float
    strain: Float
    force_n: float  # along the press direction (around a wrap-around part: pressure summed over area)
    sinkage_mm: Estimate  # how far the body sinks into the pad where it sinks deepest
    mean_sinkage_mm: Estimate  # the same, mean over the area that bears
    # How far the bone comes down at the load point: from where it was when the clay took its shape, where the flesh's
    # squeeze there is known (`ContactPatch.clay_kpa`), else from where the body first touches.
    body_motion_mm: Estimate
    flesh_squeezed_mm: Estimate | None  # how far, by what bears, mean over its area; None: no flesh
    tilt_deg: Estimate  # how far the body turns
    contact_area_cm2: Estimate  # area and mean pressure: of what bears
    mean_pressure_kpa: Estimate
    # 99.5th percentile over the contact area: the largest of the zones', each over its own area and none above the
    # whole's; never below the mean.
    peak_pressure_kpa: Estimate
    # largest_*: of the point that bears most; place (3,).
    largest_pressure_kpa: Estimate
    largest_index: int
    largest_place_mm: Float
    # Peak over the mean on all that the body covers, touching or not; 1 is even. Over what bears alone a body that
    # stands on a few high places would look the more even the fewer they are.
    evenness: Estimate
    # 1 - strain / densification strain where that is least: the least of the zones'. 1 is unloaded, 0 shut; below 0
    # the shut fill itself is squeezed, down to 1 - 1 / densification strain, where nothing of the pad is left.
    bottoming_margin: Estimate
    margin_index: int
    margin_place_mm: Float  # (3,)
    least_pad_left_mm: Estimate  # thickness left where that is least
    zones: tuple[ZoneLoad, ...]
    pieces: tuple[ContactPiece, ...]  # separate contacts
    imbalance: float  # largest unbalanced force or moment (over the patch's half-width), share of the load
    basis: str
    notes: tuple[str, ...]


def check_load(
    case: LoadCase,
    patch: ContactPatch,
    bands: Sequence[CurveBand | StressCurve],
    *,
    zone_names: Sequence[str] | None = None,
    zone_of: Sequence[int] | None = None,
    materials: Sequence[str] | None = None,
    cell_mm: Sequence[float | None] | None = None,
    is_explained: bool = True,
) -> LoadResult:
    """Press the body's shape on the pad and say how the pad bears it.

    For each zone there are a band (a bare curve is taken as exact), a name, a material (zones of one are soft together
    or stiff together; None: all one) and, for the note on coarse fills, the size of its fill cell. Where the columns of
    a zone are of several kinds, `patch.zone` and the bands count kinds, `zone_of` says which zone each belongs to, and
    the names are the zones'. With `is_explained`
    a pad that cannot carry the load is told what would help; a search that reads no message need not work that out.

    Raises InputError when the zones and the curves do not fit each other; SolveError when no balance exists (the load
    point lies outside the patch), when the pad cannot carry the load (bottomed out all over, or pressed to nothing
    somewhere), or when no balance was found.

    Notes
    -----
    Each point is a column: pressure = r sigma(s / h), s the body's sinkage there less the gap, h the thickness of the
    pad, sigma the zone's curve, r the constrained ratio of its own Poisson's ratio (Johnson 1985, Contact Mechanics,
    4.3 and 5.8, cited, not read). Nearly incompressible zones take the block rule (`bulging_layers.solid_ratio`). The
    rigid motion (along the press direction and two turns, small ones) makes forces and moments about the load point
    balance. Low and high are the 5th and 95th percentile over what zones of one material share, what each has of its
    own, how the sides of solid zones are held, the load, the flesh and how the clay pressed (`contact_spread`). Not in
    them: the scans' own error in thickness, posture.
    """
    every = [band if isinstance(band, CurveBand) else CurveBand(band, band, band, "measured") for band in bands]
    count = len(every)
    if count == 0 or int(patch.zone.max()) >= count:
        raise InputError(f"The contact patch has zone {int(patch.zone.max())}, but there are {count} stress curves.")
    zones = count if zone_of is None else max(zone_of) + 1
    names = list(zone_names) if zone_names is not None else [f"zone {number + 1}" for number in range(zones)]
    groups = list(materials) if materials is not None else [""] * count
    if zone_of is not None and len(names) < zones:
        raise InputError(f"zone_names has {len(names)} entries for {zones} zones.")
    rows = (("zone_names", names), ("materials", groups), ("cell_mm", cell_mm or [None] * count))
    for what, given in rows if zone_of is None else rows[1:]:
        if len(given) != count:
            raise InputError(f"{what} has {len(given)} entries for {count} stress curves.")
    setting = make_setting(case, patch, every, names, zone_of)
    curves = [band.value for band in every]
    setting, middle, ratios = press(setting, curves, layer_ratios(patch, curves))
    refuse_impossible(setting, middle, curves, ratios, is_explained=is_explained)
    factors = np.array([ratio.value for ratio in ratios])
    pairs = moves(setting, groups, every, ratios)
    spreads = spread(setting, middle, every, factors, pairs, _measures)
    return _result(setting, middle, spreads, every, ratios, cell_mm or [None] * count)


def measure_load(
    case: LoadCase, patch: ContactPatch, curves: Sequence[StressCurve], names: Sequence[str], start: Float | None = None
) -> tuple[Mapping[str, float], Float]:
    """Return the measures of `check_load` for exact curves, without bounds and words, and the body's motion.

    For a search, which asks hundreds of times: `start` is the motion of a pad much like it. Raises SolveError when the
    pad cannot carry the load, or no balance was found.
    """
    setting, found = _pressed(case, patch, curves, names, start)
    return _measures(setting, found), found.found.motion


def press_load(
    case: LoadCase, patch: ContactPatch, curves: Sequence[StressCurve], zone_of: Sequence[int] | None = None
) -> tuple[Run, Float | None]:
    """Return where the body comes to rest on exact curves, and what walls even out (n,), without bounds and words.

    Raises SolveError when the pad cannot carry the load, or no balance was found.
    """
    zones = len(curves) if zone_of is None else max(zone_of) + 1
    setting, found = _pressed(case, patch, curves, [f"zone {number + 1}" for number in range(zones)], zone_of=zone_of)
    return found, setting.evened


def _pressed(
    case: LoadCase,
    patch: ContactPatch,
    curves: Sequence[StressCurve],
    names: Sequence[str],
    start: Float | None = None,
    zone_of: Sequence[int] | None = None,
) -> tuple[SolveInput, Run]:
    setting = make_setting(case, patch, [CurveBand(each, each, each, "measured") for each in curves], names, zone_of)
    setting, found, ratios = press(setting, curves, layer_ratios(patch, curves), start, tolerance=_SEARCH_TOLERANCE)
    refuse_impossible(setting, found, curves, ratios, is_explained=False)
    return setting, found


def _percentile(value: Float, area: Float, percent: float) -> float:
    """Return the percentile over area of values that rise; each stands at the middle of its own share."""
    reached = np.cumsum(area)
    return float(np.interp(percent / 100.0 * reached[-1], reached - 0.5 * area, value))


def _mean(value: Float, area: Float, some: Int) -> float:
    return float(value[some] @ area[some]) / float(area[some].sum())


def _measures(setting: SolveInput, run: Run) -> dict[str, float]:
    patch, pressure = setting.patch, run.pressure
    is_loaded = (pressure > 0.0) & (patch.area_mm2 > 0.0)
    is_under = is_loaded | patch.is_covered
    load = pressure * patch.area_mm2
    area = float(patch.area_mm2[is_loaded].sum())
    # Past a strain of 1 nothing of the pad is left to give.
    strain = np.minimum(run.strain, 1.0)
    compression = strain * patch.thickness_mm
    margin = 1.0 - strain / setting.densification[patch.zone]
    turns = run.found.motion[1:] / setting.reach_mm
    order = np.flatnonzero(is_loaded)
    order = order[np.argsort(pressure[order])]
    zone = setting.zone_at[order]
    whole = _percentile(pressure[order], patch.area_mm2[order], PEAK_PERCENTILE)
    own: dict[str, float] = {}
    peaks = []
    for number in range(len(setting.names)):
        here = order[zone == number]
        bears, force = len(here) > 0, float(load[here].sum())
        # No zone's peak lies above what the part leaves out as standing alone, none below its own mean where it bears.
        peak = _percentile(pressure[here], patch.area_mm2[here], PEAK_PERCENTILE) if bears else 0.0
        peak = max(min(peak, whole), force / float(patch.area_mm2[here].sum())) if bears else 0.0
        peaks.append(peak)
        covered = float(patch.area_mm2[(setting.zone_at == number) & is_under].sum())
        own[f"{number}.share"] = min(force / float(load.sum()), 1.0)
        own[f"{number}.mean"] = min(force / covered, peak) if bears else 0.0
        own[f"{number}.sinkage"] = float(compression[here].max()) if bears else 0.0
        own[f"{number}.give"] = _mean(compression, patch.area_mm2, here) if bears else 0.0
        own[f"{number}.peak"] = peak
        own[f"{number}.margin"] = float(margin[here].min()) if bears else 1.0
    mean = min(float(load.sum()) / area, max(peaks))  # beyond the largest mean of a zone by rounding alone
    out = {
        "sinkage": float(compression.max()),
        "give": _mean(compression, patch.area_mm2, order),
        "motion": float(run.found.motion[0]),
        "tilt": float(np.degrees(np.arctan(np.linalg.norm(turns)))),
        "area": area / 100.0,
        "mean": mean,
        "peak": max(peaks),
        "largest": max(float(pressure.max()), *peaks),
        "even": max(max(peaks) * float(patch.area_mm2[is_under].sum()) / float(load.sum()), 1.0),
        "margin": float(margin.min()),
        "left": float(np.maximum(patch.thickness_mm - compression, 0.0).min()),
    }
    if setting.case.flesh is not None:
        squeezed = setting.case.flesh.squeezed_mm(pressure[is_loaded])
        out["flesh"] = float(patch.area_mm2[is_loaded] @ squeezed) / area
    return {**out, **own}


def _stiffer(patch: ContactPatch, run: Run, number: int, band: CurveBand) -> float:
    """Return a zone's pressure over strain, both means over area, over its secant modulus."""
    weight = np.where(patch.zone == number, patch.area_mm2, 0.0)
    strain = float(weight @ run.strain)
    return float(weight @ run.pressure) / strain / band.modulus_kpa.value if strain > 0.0 else 0.0


@dataclass(frozen=True)
class _Told:
    """Measures of a pressed pad as estimates, each within what it can be at all."""

    values: Mapping[str, float]
    spreads: Spread
    basis: str

    def estimate(self, name: str, bottom: float = -np.inf, top: float = np.inf) -> Estimate:
        """Return a measure; its bounds, added up from single sources, know no such ends by themselves."""
        low, high = np.clip(self.spreads.bounds(name, self.values[name]), bottom, top)
        return Estimate(self.values[name], float(low), float(high), self.basis)

    def pressures(self, mean: str, peak: str) -> tuple[Estimate, Estimate]:
        """Return mean and peak; the peak is never below the mean, so neither are its bounds below the mean's."""
        average = self.estimate(mean, 0.0)
        return average, largest(self.estimate(peak, 0.0), (average,))

    def zone(self, number: int, name: str, thickest: float, most_shut: float) -> ZoneLoad:
        """Return what a zone bears; it sinks by no more than the pad is thick, and its margin has an end too."""
        average, peak = self.pressures(f"{number}.mean", f"{number}.peak")
        return ZoneLoad(
            name,
            self.estimate(f"{number}.share", 0.0, 1.0),
            self.estimate(f"{number}.sinkage", 0.0, thickest),
            self.estimate(f"{number}.give", 0.0, thickest),
            average,
            peak,
            self.estimate(f"{number}.margin", most_shut, 1.0),
        )


def _result(
    setting: SolveInput,
    middle: Run,
    spreads: Spread,
    bands: Sequence[CurveBand],
    ratios: Sequence[Bounds],
    cells: Sequence[float | None],
) -> LoadResult:
    patch = setting.patch
    basis = "model"
    for number in np.unique(patch.zone):
        basis = weaker(basis, bands[int(number)].basis)
    told = _Told(_measures(setting, middle), spreads, basis)
    estimate = told.estimate
    pieces = setting.narrow.pieces if setting.narrow is not None else ()
    margin = 1.0 - np.minimum(middle.strain, 1.0) / setting.densification[patch.zone]
    hardest, shut = int(np.argmax(middle.pressure)), int(np.argmin(margin))
    thickest, most_shut = float(patch.thickness_mm.max()), 1.0 - 1.0 / float(setting.densification.min())
    zones = [told.zone(number, name, thickest, most_shut) for number, name in enumerate(setting.names)]
    mean, peak = told.pressures("mean", "peak")
    peak = largest(peak, (zone.peak_pressure_kpa for zone in zones))
    bottoming = least(estimate("margin", most_shut, 1.0), (zone.bottoming_margin for zone in zones))
    notes = contact_notes(
        setting.case, patch, bands, ratios, cells, [setting.names[zone] for zone in setting.zone_of], pieces,
        margins=(bottoming.value, bottoming.low),
        gone_mm2=(float(patch.area_mm2[middle.strain >= 1.0].sum()), *spreads.gone_mm2),
        is_loaded=middle.pressure > 0.0,
        # A zone of several kinds of columns has no one figure that this could be told against.
        stiffer=[
            _stiffer(patch, middle, number, band) if len(bands) == len(setting.names) else 0.0
            for number, band in enumerate(bands)
        ],
    )  # fmt: skip
    return LoadResult(
        pressure_kpa=middle.pressure,
        compression_mm=np.minimum(middle.strain, 1.0) * patch.thickness_mm,
        strain=middle.strain,
        force_n=float(middle.pressure @ patch.area_mm2) / MN_PER_N,
        sinkage_mm=largest(estimate("sinkage", 0.0, thickest), (zone.sinkage_mm for zone in zones)),
        mean_sinkage_mm=estimate("give", 0.0, thickest),
        body_motion_mm=estimate("motion"),
        flesh_squeezed_mm=estimate("flesh", 0.0) if setting.case.flesh is not None else None,
        tilt_deg=estimate("tilt", 0.0),
        contact_area_cm2=estimate("area", 0.0, float(patch.area_mm2.sum()) / 100.0),
        mean_pressure_kpa=mean,
        peak_pressure_kpa=peak,
        largest_pressure_kpa=largest(estimate("largest", 0.0), (peak,)),
        largest_index=hardest,
        largest_place_mm=patch.position[hardest].copy(),
        evenness=estimate("even", 1.0),
        bottoming_margin=bottoming,
        margin_index=shut,
        margin_place_mm=patch.position[shut].copy(),
        least_pad_left_mm=estimate("left", 0.0, thickest),
        zones=tuple(zones),
        pieces=pieces,
        imbalance=middle.found.residual,
        basis=basis,
        notes=notes,
    )
