"""From a modulus wished for to print settings: fill share, contours, structure and bead that give it or come near."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from ...base.errors import InputError
from ...base.notes import as_heavy, on_change
from .curves import LEVEL_STRAIN, CurveBand
from .fill import RegionGeometry, middle_curve, region_curve
from .fill_geometry import bead_area_mm2, bead_wall_mm, cell_mm
from .lattices import LATTICES
from .material_model import MaterialModel
from .region_settings import RegionSettings, speed_under_flow

NEAR = 0.02
"""Within 2 % the wish counts as met: the fill share is rounded to 0.1 %, which moves it by up to about 2 % at 5 %."""

_CELLS_THROUGH = 2.0
"""Fewer cells through the thickness are felt singly, and the computed stiffness is an average (common practice)."""


@dataclass(frozen=True)
class PrintLimits:
    """What the printer and the person can do.

    Raises InputError when they leave nothing to choose.
    """

    bead_widths_mm: tuple[float, ...] = (0.45,)  # in order of liking
    solid_share_pct: tuple[float, float] = (5.0, 40.0)  # lowest and highest
    fill_structures: tuple[str, ...] = ("gyroid",)  # in order of liking
    contour_counts: tuple[int, int] = (1, 3)  # fewest and most

    def __post_init__(self) -> None:
        low, high = self.solid_share_pct
        if not 0.0 < low <= high <= 70.0:  # beyond, walls touch: `cell_mm` refuses, "solid" is the word for it
            raise InputError(f"Fill shares from {low:g} to {high:g} % leave nothing to choose within 0 to 70 %.")
        if not 0 <= self.contour_counts[0] <= self.contour_counts[1]:
            raise InputError("Contours from {} to {} leave nothing to choose.".format(*self.contour_counts))
        if not self.bead_widths_mm or min(self.bead_widths_mm) <= 0.0:
            raise InputError("No bead width is allowed.", hint="Give at least one, in mm.")
        unknown = [name for name in self.fill_structures if name != "solid" and name not in LATTICES]
        if unknown or not self.fill_structures:
            raise InputError(
                f"Fill structures {list(self.fill_structures)} leave nothing to choose.", hint="Use gyroid."
            )

    def beads_for(self, layer_mm: float) -> tuple[float, ...]:
        """Return the bead widths, mm, that a layer of this thickness can be printed with.

        Raises InputError when every bead is thinner than the layer; it names the job's key of the layer.
        """
        beads = tuple(bead for bead in self.bead_widths_mm if bead >= layer_mm)
        if not beads:
            widest = max(self.bead_widths_mm)
            error = InputError(
                f"Layers of {layer_mm:g} mm are thicker than every allowed bead ({widest:g} mm at most).",
                hint=f"Set printer.layer_thickness_mm to {widest:g} or less (half of the bead is usual), or allow "
                "wider beads (limits.bead_widths_mm).",
            )
            error.key = ("printer", "layer_thickness_mm")
            raise error
        return beads


@dataclass(frozen=True, eq=False)
class Chosen:
    """Settings and what they give."""

    settings: RegionSettings
    curve: CurveBand  # of the region as printed
    # target_kpa, reached_kpa: secant moduli at the strain `curve.at`.
    target_kpa: float
    reached_kpa: float
    # the limit that keeps the region from its target: "too soft to print" or "too firm to print"; None when met.
    binding: str | None
    notes: tuple[str, ...]
    name: str = "region"

    @property
    def miss(self) -> float:
        """How far the reached modulus is off, as a share: 0.5 is half as firm again as wished."""
        return self.reached_kpa / self.target_kpa - 1.0


@dataclass(frozen=True)
class _Choice:
    settings: RegionSettings
    reached: float
    is_met: bool
    has_cells: bool


def choose_settings(
    target_secant_kpa: float,
    limits: PrintLimits,
    model: MaterialModel,
    geometry: RegionGeometry,
    wished: RegionSettings,
    *,
    name: str = "region",
    strain: float = LEVEL_STRAIN,
) -> Chosen:
    """Choose the settings whose region as printed comes nearest to a modulus.

    The modulus, stress over strain at `strain`, is that of fill, contours and closed layers together. The choice starts
    at what is wished: its layers, closed layers, temperatures and top speed stay; its contours are kept if the target
    allows it. The name is the region's, for the notes. Raises InputError when the target is not above 0.

    Notes
    -----
    For every structure, contour count and bead width that the limits allow, the fill share follows by bisection (Brent
    1973) on the secant modulus, which rises with it. Taken is the first that meets the target, by the order: at least
    two cells through the thickness; structure in order of liking; contours nearest to those wished; bead in order of
    liking. Where none meets it, the nearest in ratio.
    """
    if not (math.isfinite(target_secant_kpa) and target_secant_kpa > 0.0):
        raise InputError(f"A region cannot be aimed at {target_secant_kpa:g} kPa.")
    aim = _Aim(target_secant_kpa, strain, model, geometry)
    found: list[_Choice] = []
    for base in _variants(limits, wished):
        candidate = _best_share(aim, limits, base)
        found.append(candidate)
        if candidate.is_met and candidate.has_cells:
            break
    met = [each for each in found if each.is_met]
    best = (met[-1] if met[-1].has_cells else met[0]) if met else min(
        found, key=lambda each: abs(math.log(each.reached / target_secant_kpa))
    )  # fmt: skip
    curve = region_curve(best.settings, model, geometry, strain)
    reached = best.reached
    binding = None if met else "too soft to print" if reached > target_secant_kpa else "too firm to print"
    settings = replace(best.settings, basis=_basis(best.settings, limits, wished))
    notes: list[str] = [as_heavy(f"{name}: {note}", note) for note in curve.notes]
    if binding:
        notes.insert(0, _miss_note(name, aim, reached, best.settings, limits))
    return Chosen(settings, curve, target_secant_kpa, reached, binding, tuple(notes), name)


def _variants(limits: PrintLimits, wished: RegionSettings) -> Iterator[RegionSettings]:
    low, high = limits.contour_counts
    contours = sorted(range(low, high + 1), key=lambda count: (abs(count - wished.contour_count), count))
    layer = wished.layer_thickness_mm
    beads = limits.beads_for(layer)
    for structure in limits.fill_structures:
        for count in contours:
            for bead in beads:
                yield replace(
                    wished, fill_structure=structure, contour_count=count, bead_width_mm=bead, fill_cell_mm=None,
                    max_speed_mm_s=speed_under_flow(bead, layer, wished.max_speed_mm_s, wished.max_volume_flow_mm3_s),
                )  # fmt: skip


def flow_speed(bead: float, layer: float, flow: float) -> float:
    """Return the speed at which a bead with rounded sides takes all the flow, mm/s: flow over bead area."""
    return flow / bead_area_mm2(bead, layer)


@dataclass(frozen=True)
class _Aim:
    """What is to be met, at which strain, by what."""

    target: float
    strain: float
    model: MaterialModel
    geometry: RegionGeometry

    def reached(self, settings: RegionSettings) -> float:
        """Return the modulus of settings, kPa."""
        return middle_curve(settings, self.model, self.geometry).secant_kpa(self.strain)


def _best_share(aim: _Aim, limits: PrintLimits, base: RegionSettings) -> _Choice:
    if base.fill_structure == "solid":
        return _candidate(aim, replace(base, solid_share_pct=100.0))
    low, high = limits.solid_share_pct

    def miss(share: float) -> float:
        return math.log(aim.reached(replace(base, solid_share_pct=share)) / aim.target)

    if miss(low) >= 0.0:
        share = low
    elif miss(high) <= 0.0:
        share = high
    else:
        share = float(np.clip(round(brentq(miss, low, high, xtol=0.01), 1), low, high))
    return _candidate(aim, replace(base, solid_share_pct=share))


def _candidate(aim: _Aim, settings: RegionSettings) -> _Choice:
    reached = aim.reached(settings)
    has_cells = True
    if settings.fill_structure != "solid":
        wall = bead_wall_mm(settings.bead_width_mm, settings.layer_thickness_mm)
        cell = cell_mm(settings.fill_structure, settings.solid_share_pct / 100.0, wall)
        has_cells = cell * _CELLS_THROUGH <= aim.geometry.thickness_mm
    return _Choice(settings, reached, abs(reached / aim.target - 1.0) <= NEAR, has_cells)


def _basis(settings: RegionSettings, limits: PrintLimits, wished: RegionSettings) -> dict[str, str]:
    """Return what each setting rests on: the model where it had a choice, else what `wished` said."""
    free = {
        "bead_width_mm": len(set(limits.beads_for(settings.layer_thickness_mm))) > 1,
        "fill_structure": len(set(limits.fill_structures)) > 1,
        "solid_share_pct": limits.solid_share_pct[0] < limits.solid_share_pct[1],
        "contour_count": limits.contour_counts[0] < limits.contour_counts[1],
        "max_speed_mm_s": settings.max_speed_mm_s != wished.max_speed_mm_s,  # held lower by the flow of a wider bead
    }
    return {key: "model" if free.get(key) else wished.basis.get(key, "assumed") for key in settings.as_json()}


def _miss_note(name: str, aim: _Aim, reached: float, settings: RegionSettings, limits: PrintLimits) -> str:
    target = aim.target
    ratio = reached / target
    solid = aim.model.solid.value / 1000.0
    if ratio > 1.0:
        structure = settings.fill_structure
        cure = [f"a softer filament (near {solid / ratio:.3g} MPa instead of {solid:.3g})"]
        sparser = replace(settings, solid_share_pct=0.5 * limits.solid_share_pct[0])
        if structure != "solid" and aim.reached(sparser) < 0.9 * reached:
            cure.append(f"a fill sparser than {limits.solid_share_pct[0]:g} %")
        if settings.contour_count > 0:
            bare = aim.reached(replace(settings, contour_count=0))
            if bare < 0.95 * reached:
                cure.append(f"no contours ({bare:.0f} kPa without them)")
        if structure == "solid" or (structure in LATTICES and LATTICES[structure].is_thicker_softer):
            cure.append("a thicker pad, which gives more under the same load")
        said = f"{100.0 * (ratio - 1.0):.0f} % firmer than wished"
    else:
        cure = [f"a firmer filament (near {solid / ratio:.3g} MPa instead of {solid:.3g})"]
        cure.append(f"a fill denser than {limits.solid_share_pct[1]:g} %")
        if settings.contour_count >= limits.contour_counts[1]:
            cure.append(f"more than {limits.contour_counts[1]} contours")
        said = f"{100.0 * (1.0 - ratio):.0f} % softer than wished"
    return on_change(
        f"{name}: {reached:.0f} kPa is the nearest to {target:.0f} kPa that the allowed settings reach, {said}. "
        f"What would help: {', '.join(cure)}."
    )
