"""One dished seat under one sitting body, changed one thing at a time: which way the load check's numbers go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from padwright.core.stages.body.flesh import Flesh, flesh_layer
from padwright.core.stages.load.clay_pressure import clay_pressure
from padwright.core.stages.load.contact import LoadResult, check_load
from padwright.core.stages.load.load_case import ContactPatch, LoadCase

from .patches import avalle, patch, sheet

LOAD_N = 450.0
FLESH = replace(flesh_layer(40.0, 8.0, 7.0), thickness_factors=(0.6, 1.7), stress_factors=(0.4, 3.7))


@dataclass(frozen=True, eq=False)
class Seat:
    """A pad of 200 x 140 mm, two firm places of 28 mm in it, as a body of 450 N left its shape in clay."""

    thickness: float = 1.0
    stress: tuple[float, float] = (3.0, 10.0)
    groove_mm: float = 0.0
    width_mm: float = 200.0
    force_n: float = LOAD_N
    off_mm: float = 0.0
    flesh: Flesh | None = FLESH
    is_flat: bool = False

    @lru_cache(maxsize=64)  # noqa: B019
    def pressed(self) -> tuple[ContactPatch, LoadResult]:
        """Return the patch and what it bears."""
        on = patch(
            sheet(self.width_mm, 140.0, 5.0),
            thickness=lambda x, y: self.thickness * self._dish(x, y),
            zone=lambda x, y: (np.hypot(np.abs(x) - 50.0, y) < 28.0).astype(int) + 2 * (np.abs(x) < 8.0),
            gap=lambda x, y: np.where(np.abs(x) < 8.0, self.groove_mm, 0.0),
        )
        as_pressed = replace(on, thickness_mm=on.thickness_mm / self.thickness)
        case = LoadCase(force_n=self.force_n, point_mm=(self.off_mm, 0.0, 0.0), flesh=self.flesh)
        soft, firm = (avalle(times) for times in self.stress)
        on = replace(on, clay_kpa=clay_pressure(as_pressed, np.ones(len(on.gaps)), LOAD_N * 1e3))
        return on, check_load(case, on, [soft, firm, soft], zone_names=("rest", "firm", "middle"))

    def _dish(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        if self.is_flat:
            return np.full_like(x, 20.0)
        return 12.0 + 14.0 * np.minimum((np.hypot(np.abs(x) - 50.0, y) / 70.0) ** 2, 1.0)


Number = Callable[[ContactPatch, LoadResult], float]


def _right(on: ContactPatch, result: LoadResult) -> float:
    is_right = on.position[:, 0] > 0.0
    load = result.pressure_kpa * on.area_mm2
    return 100.0 * float(load[is_right].sum() / load.sum())


def _give(on: ContactPatch, result: LoadResult) -> float:
    return float(result.compression_mm @ on.area_mm2 / on.area_mm2.sum())


NUMBERS: dict[str, Number] = {
    "the pad gives on average, mm": _give,
    "it gives at most, mm": lambda _, result: result.sinkage_mm.value,
    "mean pressure, kPa": lambda _, result: result.mean_pressure_kpa.value,
    "peak pressure, kPa": lambda _, result: result.peak_pressure_kpa.value,
    "firm places bear, % of the load": lambda _, result: 100.0 * result.zones[1].share.value,
    "the middle bears, kPa": lambda _, result: result.zones[2].mean_pressure_kpa.value,
    "flesh is squeezed by, mm": lambda _, result: result.flesh_squeezed_mm.value if result.flesh_squeezed_mm else 0.0,
    "the right half bears, % of the load": _right,
    "of its give is left, %": lambda _, result: 100.0 * result.bottoming_margin.value,
}


@dataclass(frozen=True)
class Row:
    """A change, the number it moves, and which way: 1 up, -1 down, 0 not at all."""

    change: str
    before: Seat
    after: Seat
    number: str
    way: int

    def values(self) -> tuple[float, float]:
        """Return the number before and after."""
        before, after = (NUMBERS[self.number](*seat.pressed()) for seat in (self.before, self.after))
        return before, after

    def goes(self, before: float, after: float) -> bool:
        """Say whether it went that way; a percent is no change."""
        if self.way == 0:
            return abs(after / before - 1.0) < 0.01
        return self.way * (after / before - 1.0) > 0.01


_SEAT, _STONE = Seat(), Seat(flesh=None)
_GROOVED, _HEAVY, _OFF = Seat(groove_mm=6.0), Seat(force_n=1.5 * LOAD_N), Seat(off_mm=15.0)
_WIDE, _ALIKE, _HALF = Seat(width_mm=240.0), Seat(stress=(3.0, 3.0)), Seat(stress=(1.5, 5.0))
_SOFT, _THIN_FLESH = Seat(stress=(0.4, 1.3)), Seat(flesh=FLESH.scaled(0.5, 1.0))
ROWS = (
    Row("pad half as thick again", _SEAT, Seat(thickness=1.5), "the pad gives on average, mm", 1),
    Row("all zones half as firm", _SEAT, _HALF, "the pad gives on average, mm", 1),
    Row("all zones half as firm", _SEAT, _HALF, "of its give is left, %", -1),
    Row(
        "a deep even pad a tenth as firm",
        Seat(stress=(3.0, 3.0), is_flat=True, thickness=2.5),
        Seat(stress=(0.3, 0.3), is_flat=True, thickness=2.5),
        "peak pressure, kPa",
        -1,
    ),
    Row("firm places as soft as the rest", _SEAT, _ALIKE, "firm places bear, % of the load", -1),
    Row("the same under a body of stone", _STONE, replace(_ALIKE, flesh=None), "firm places bear, % of the load", -1),
    Row("a body of stone", _SEAT, _STONE, "peak pressure, kPa", 1),
    Row("a groove of 6 mm in the middle", _SEAT, _GROOVED, "the middle bears, kPa", -1),
    Row("a groove of 12 mm instead", _GROOVED, Seat(groove_mm=12.0), "the middle bears, kPa", -1),
    Row("a groove of 6 mm in the middle", _SEAT, _GROOVED, "peak pressure, kPa", 1),
    Row("half as much weight again", _SEAT, _HEAVY, "mean pressure, kPa", 1),
    Row("half as much weight again", _SEAT, _HEAVY, "it gives at most, mm", 1),
    Row("half as much weight again", _SEAT, _HEAVY, "flesh is squeezed by, mm", 1),
    Row("the load 15 mm to the right", _SEAT, _OFF, "the right half bears, % of the load", 1),
    Row("the load 15 mm to the right", _SEAT, _OFF, "peak pressure, kPa", 1),
    Row("the load 15 mm to the right", _SEAT, _OFF, "mean pressure, kPa", 0),
    Row("contact a fifth wider", _SEAT, _WIDE, "mean pressure, kPa", -1),
    Row("contact a fifth wider", _SEAT, _WIDE, "peak pressure, kPa", -1),
    Row(
        "flesh half as thick on a soft pad",
        _SOFT,
        replace(_SOFT, flesh=FLESH.scaled(0.5, 1.0)),
        "firm places bear, % of the load",
        1,
    ),
    Row("flesh half as thick", _SEAT, _THIN_FLESH, "flesh is squeezed by, mm", -1),
)
