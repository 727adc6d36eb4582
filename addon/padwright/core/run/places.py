"""The picture that a wearer points at, of a part that went through its stages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..base.cached import cached_property
from ..base.mesh import Float
from ..stages.alignment.placed_scans import PlacedScans, body_points
from ..stages.trials.figure import PainMark, PlacePicture, place_figure, place_pixels
from ..stages.trials.places import PlaceGrid, place_grid
from ..stages.trials.records import Trial
from .parts import MadePart
from .zone_colors import zone_color


@dataclass(frozen=True, eq=False)
class PartPlaces:
    """Places of a part whose zones are planned, by the lettered grid over it; grid and pixels are made once."""

    part: MadePart

    @cached_property
    def grid(self) -> PlaceGrid | None:
        """The lettered grid; None over a part that is pressed from all around."""
        part = self.part
        assert part.pad is not None and part.zones is not None
        return place_grid(part.pad, part.zones, part.pad.press_direction, is_mirrored=part.job.part.mirror)

    @cached_property
    def _pixels(self) -> PlacePicture:
        assert self.grid is not None and self.part.pad is not None and self.part.zones is not None
        return place_pixels(self.grid, self.part.pad, self.part.zones)

    def picture(self, trials: Sequence[Trial] = ()) -> str | None:
        """Return zones, cells and where trials say it hurt as SVG; None where no plan shows the part."""
        part, grid = self.part, self.grid
        if grid is None:
            return None
        assert part.zones is not None
        title = (
            f"{part.job.part.name} ({part.job.part.number}), from the body side: zones, and cells of {grid.step_mm:g} "
            "mm"
        )
        colors = [zone_color(part, number) for number in range(len(part.zones.zones))]
        return place_figure(grid, self._pixels, part.zones, colors, title=title, marks=self._marks(grid, trials))

    def pain_words(self, trial: Trial) -> str:
        """Return where a trial says it hurt; a point by its cell."""
        if trial.pain_point is None:
            return trial.pain_at or "a place not named"
        cell = "" if self.grid is None else self.grid.cell_of(self._point(trial))
        return cell or "a point beside the part"

    def pain_zone(self, trial: Trial) -> str | None:
        """Return the zone where a trial says it hurt; None where it does not say, or names a place beside the part."""
        if any(zone.name == trial.pain_at for zone in self.part.job.zones):
            return trial.pain_at
        if self.grid is None:
            return None
        if trial.pain_point is not None:
            return self.grid.zone_at(self._point(trial))
        return self.grid.zone_of_cell(trial.pain_at)

    def _marks(self, grid: PlaceGrid, trials: Sequence[Trial]) -> tuple[PainMark, ...]:
        """Return a mark for every place where it hurt, with the worst of what was noted there."""
        worst: dict[tuple[float, float], Trial] = {}
        for trial in trials:
            at = self._flat(grid, trial)
            if at is not None and trial.pain > 0.0 and trial.pain > (worst[at].pain if at in worst else 0.0):
                worst[at] = trial
        return tuple(
            PainMark(at, each.pain, f"pain {each.pain:g} of 10, revision {each.revision}, {each.date}")
            for at, each in worst.items()
        )

    def _flat(self, grid: PlaceGrid, trial: Trial) -> tuple[float, float] | None:
        """Return where it hurt, mm from the grid's corner; None where a zone or nothing is named."""
        found: Float | None
        if trial.pain_point is not None:
            found = grid.flat(self._point(trial)[None, :])[0]
        else:
            found = grid.middle(trial.pain_at)
        return None if found is None else (round(float(found[0]), 1), round(float(found[1]), 1))

    def _point(self, trial: Trial) -> Float:
        assert trial.pain_point is not None
        return body_points(self.part.of(PlacedScans), [trial.pain_point], "base")[0]
