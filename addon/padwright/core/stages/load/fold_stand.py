"""Whether folded walls stand under a load, and what hours and years of it do to them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...base.errors import SolveError
from ...base.estimate import Estimate
from ...base.mesh import Bool, Float, Int
from ...base.notes import to_act_on, to_look_at
from ...geometry.frames import inverse_rigid, moved
from ..folds.layout import FoldLayout
from ..folds.sway import LEAST_MARGIN, SIDE_SHARE
from ..material.folds.endurance import Endurance, endure
from ..material.folds.pressure_cap import PressureCap, pressure_cap
from ..material.folds.walls import Walls
from ..material.material_model import MaterialModel
from .contact import LoadResult
from .curve_table import CurveTable
from .fold_columns import FoldColumns
from .fold_field import FoldField, walls_at
from .fold_sway import PadSway, pad_sway
from .load_case import LoadCase
from .run_layer import UNSURE

_GIVE = 0.3
"""Of their height: how far blocks of folded walls are to be pressed."""


@dataclass(frozen=True, eq=False)
class Standing:
    """How folded walls bear one load."""

    sway: PadSway
    place_mm: Float  # (3,); where the pad would move most, part frame
    endurance: Endurance | None  # None where no walls are loaded
    weakest_mm: Float | None  # (3,); where they come nearest to giving way
    cap: PressureCap | None  # of the walls that bear the most pressure; None where no walls are loaded

    def as_json(self) -> dict[str, Any]:
        """Return it for the evidence."""
        found: dict[str, Any] = {
            "margin": self.sway.margin.as_json(),
            "least_margin": LEAST_MARGIN,
            "margin_place_mm": self.place_mm,
            "creep_mm": self.sway.creep_mm if np.isfinite(self.sway.creep_mm) else None,
            "creep_under_share": SIDE_SHARE,
        }
        if self.endurance is not None:
            names = ("outer_strain", "break_share", "plateau_share", "after_hours", "set_share")
            found |= {name: getattr(self.endurance, name).as_json() for name in names}
            found["weakest_place_mm"] = self.weakest_mm
        if self.cap is not None:
            kpa = None if self.cap.kpa is None else self.cap.kpa.as_json()
            found["pressure_cap"] = {"kPa": kpa, "give_share": self.cap.give, "reason": self.cap.reason}
        return found


def standing(
    layout: FoldLayout, field: FoldField, columns: FoldColumns, result: LoadResult, model: MaterialModel
) -> Standing:
    """Return how a pad's walls bear a load that was checked on its columns."""
    found = pad_sway(layout, field.slope_deg, columns.patch, result.pressure_kpa, model)
    height = float(layout.high_mm[layout.is_core].mean())
    place = moved(inverse_rigid(layout.to_plane), np.array([[*found.place_mm, height]]))[0]
    borne = _borne(layout, field, columns, result)
    if borne is None:
        return Standing(found, place, None, None, None)
    walls, kpa, area, first = borne
    endurance = endure(walls, kpa, area, model)
    weakest = columns.patch.position[first[endurance.place]].copy()
    give = _GIVE if model.folds is None else model.folds.most_strain
    cap = pressure_cap(walls.at(int(np.argmax(kpa))), model, give)
    is_wall = layout.is_core.flat[layout.index(columns.patch.position)]
    return Standing(found, place, endurance, weakest, _with_evened(cap, is_wall, columns, result))


def _with_evened(cap: PressureCap, is_wall: Bool, columns: FoldColumns, result: LoadResult) -> PressureCap:
    """Return a cap that counts what neighbors along the walls add where walls, `is_wall` (n,), bear most."""
    if cap.kpa is None:
        return cap
    own = np.where(is_wall, _own_kpa(columns, result), 0.0)
    more = max(1.0, float(result.pressure_kpa[np.argmax(own)] / own.max()))
    kpa = Estimate(cap.kpa.value * more, cap.kpa.low, cap.kpa.high * more ** (1.0 + UNSURE), cap.kpa.basis)
    return replace(cap, kpa=kpa)


def refuse_sway(case: LoadCase, found: Standing, what_holds: Callable[[], str]) -> None:
    """Refuse a pad that would slide off its own walls. Raises SolveError with what would hold it, `what_holds`."""
    margin = found.sway.margin.value
    if margin >= LEAST_MARGIN:
        return
    place = ", ".join(f"{each:.0f}" for each in found.place_mm)
    raise SolveError(
        f'Under "{case.posture}" the pad would slide off its walls at {margin:.2f} times the load, soonest at '
        f"({place}) mm; {LEAST_MARGIN:g} times is the least.",
        hint=f'{what_holds()} Where it has to be so soft, use fill.kind = "settings".',
    )


def _borne(
    layout: FoldLayout, field: FoldField, columns: FoldColumns, result: LoadResult
) -> tuple[Walls, Float, Float, Int] | None:
    """Return the walls under a load, kind by kind: walls, pressure kPa, area mm2, a point of the patch; None: none."""
    patch = columns.patch
    cell = layout.index(patch.position)
    is_borne = layout.is_core.flat[cell] & (result.pressure_kpa > 0.0)
    load = np.where(is_borne, _own_kpa(columns, result) * patch.area_mm2, 0.0)
    count = len(columns.bands)
    total, area = (np.bincount(patch.zone, each, count) for each in (load, np.where(load > 0.0, patch.area_mm2, 0.0)))
    bears = np.flatnonzero(total > 0.0)
    if not len(bears):
        return None
    first = np.array([np.flatnonzero((patch.zone == kind) & (load > 0.0))[0] for kind in bears])
    walls = walls_at(layout, cell[first], field.slope_deg.flat[cell[first]])
    return walls, total[bears] / area[bears], area[bears].astype(np.float64), first


def _own_kpa(columns: FoldColumns, result: LoadResult) -> Float:
    """Return what walls bear by themselves, (n,): a pressure without what they even out, which shears them along."""
    patch = columns.patch
    own = CurveTable.of([band.value for band in columns.bands]).at(result.strain, patch.zone)[0]
    return np.asarray(own if patch.firmer is None else own * patch.firmer)


def lasting_words(case: LoadCase, found: Standing) -> tuple[str, ...]:
    """Return what to say of a load that lasts, and of one that pushes aside."""
    said: list[str] = []
    if found.endurance is not None:
        # Beyond the plateau walls fold up: that is no pad to sit on for hours. Below it they sink further than told.
        weigh = to_act_on if found.endurance.plateau_share.value > 1.0 else to_look_at
        said += [weigh(each) for each in found.endurance.notes]
    force = (case.force_n or 0.0) * SIDE_SHARE
    push = f"{force:.0f} N" if force else f"{100.0 * SIDE_SHARE:.0f} % of the load"
    margin = found.sway.margin
    words = (
        f"Pushed sideways with {push} it gives {found.sway.creep_mm:.1f} mm that way; it would slide off its walls at "
        f"{margin.value:.1f} ({margin.low:.1f} to {margin.high:.1f}) times this load (at least {LEAST_MARGIN:g} is "
        "asked)."
    )
    # If the filament is as soft as it may be the load alone would do it: blocks of folded walls tell.
    said.append(to_look_at(words) if margin.low < 1.0 else words)
    if found.cap is not None and found.cap.kpa is not None:
        said.append(f"Where its walls bear most, {found.cap.words}")
    return tuple(said)
