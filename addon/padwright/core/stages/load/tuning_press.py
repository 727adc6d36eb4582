"""The loads that tuning serves, pressed on a pad: what each bears, in the few numbers that the search weighs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...base.errors import SolveError
from ...base.mesh import Float
from ..material.choosing import Chosen
from ..material.curves import StressCurve
from .contact import LoadResult, check_load, measure_load
from .fold_columns import FoldColumns
from .load_case import ContactPatch, LoadCase
from .tuning_search import smaller_patch


@dataclass(frozen=True, eq=False)
class Borne:
    """What a pad makes of one load."""

    peak_kpa: float
    evenness: float  # peak over the mean on all that the body covers
    sinkage_mm: float
    margin: float
    share: Float  # (z,) of the load, like all that follows
    zone_peak_kpa: Float
    zone_mean_kpa: Float
    zone_high_kpa: Float  # high bound of the zone's peak, or the peak itself where no bounds were worked out

    @staticmethod
    def of(result: LoadResult) -> Borne:
        """Return it of a load check."""
        zones = result.zones
        return Borne(
            result.peak_pressure_kpa.value,
            result.evenness.value,
            result.sinkage_mm.value,
            result.bottoming_margin.value,
            np.array([zone.share.value for zone in zones]),
            np.array([zone.peak_pressure_kpa.value for zone in zones]),
            np.array([zone.mean_pressure_kpa.value for zone in zones]),
            np.array([zone.peak_pressure_kpa.high for zone in zones]),
        )

    @staticmethod
    def measured(found: Mapping[str, float], count: int, high_ratio: Float) -> Borne:
        """Return it of `measure_load`; `high_ratio` (z,) is high bound over value of the zones' peaks."""
        share, peak, mean = (
            np.array([found[f"{number}.{name}"] for number in range(count)]) for name in ("share", "peak", "mean")
        )
        return Borne(
            found["peak"], found["even"], found["sinkage"], min(found["margin"], 1.0), share, peak, mean,
            peak * high_ratio,
        )  # fmt: skip


Laid = Callable[[ContactPatch, Sequence[Chosen]], FoldColumns]
"""From a patch and the zones' choices to columns of several kinds a zone."""


@dataclass(frozen=True, eq=False)
class Presses:
    """Loads to press on one patch."""

    cases: Sequence[LoadCase]
    patch: ContactPatch
    names: Sequence[str]
    # What is found on one curve a zone is checked on these columns; None: a zone is one kind of column.
    laid: Laid | None = None

    def fewer(self) -> Presses:
        """Return the same on about 1000 points; each load keeps the point where it acts."""
        patch = self.patch
        cases = self.cases
        if patch.press_direction is not None:
            middle = patch.area_mm2 @ patch.position / patch.area_mm2.sum()
            cases = [case if case.point_mm is not None else replace(case, point_mm=middle) for case in cases]
        return replace(self, cases=cases, patch=smaller_patch(patch, len(self.names)))

    @property
    def scales(self) -> Float:
        """The force of each load over that of the greatest: their mean pressures on the same patch go like that."""
        area = float(self.patch.area_mm2.sum())
        force = [case.force_n or (case.mean_pressure_kpa or 0.0) * area / 1000.0 for case in self.cases]
        return np.array(force) / max(force)

    def checked(self, chosen: Sequence[Chosen]) -> list[LoadResult]:
        """Return the load check of every load; raises SolveError when the pad cannot carry one of them."""
        return self._checked(chosen, is_explained=True)

    def carried(self, chosen: Sequence[Chosen]) -> list[LoadResult] | None:
        """Return the load check of every load, or None where the pad cannot carry one of them."""
        try:
            return self._checked(chosen, is_explained=False)
        except SolveError:
            return None

    def _checked(self, chosen: Sequence[Chosen], *, is_explained: bool) -> list[LoadResult]:
        patch, bands, zone_of = self.patch, [each.curve for each in chosen], None
        if self.laid is not None:
            columns = self.laid(patch, chosen)
            patch, bands, zone_of = columns.patch, list(columns.bands), columns.zone_of
        return [
            check_load(case, patch, bands, zone_names=self.names, zone_of=zone_of, is_explained=is_explained)
            for case in self.cases
        ]

    def measured(
        self, curves: Sequence[StressCurve], high_ratio: Sequence[Float], starts: list[Float | None]
    ) -> list[Borne]:
        """Return what every load makes of exact curves; `starts` keeps each load's motion for the next time.

        Raises SolveError when the pad cannot carry one of them.
        """
        found = []
        for number, case in enumerate(self.cases):
            measures, starts[number] = self._pressed(case, curves, starts[number])
            found.append(Borne.measured(measures, len(curves), high_ratio[number]))
        return found

    def _pressed(
        self, case: LoadCase, curves: Sequence[StressCurve], start: Float | None
    ) -> tuple[Mapping[str, float], Float]:
        if start is not None:
            try:
                return measure_load(case, self.patch, curves, self.names, start)
            except SolveError:  # the pad may be so unlike the last that its motion leads nowhere
                pass
        return measure_load(case, self.patch, curves, self.names)
