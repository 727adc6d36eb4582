"""The picture that a wearer points at, of a part that went through its stages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..base.mesh import Float
from ..stages.alignment.placed_scans import PlacedScans, body_points
from ..stages.trials.figure import PainMark, place_figure, place_pixels
from ..stages.trials.places import PlaceGrid, place_grid
from ..stages.trials.records import Trial
from .parts import MadePart
from .zone_colors import zone_color


def part_grid(part: MadePart) -> PlaceGrid | None:
    """Return the lettered grid over a part whose zones are planned; None where it is pressed from all around."""
    assert part.pad is not None and part.zones is not None
    return place_grid(part.pad, part.zones, part.pad.press_direction, is_mirrored=part.job.part.mirror)


def zone_of_pain(part: MadePart, grid: PlaceGrid | None, trial: Trial) -> str | None:
    """Return the zone where a trial says it hurt; None where it does not say, or names a place beside the part."""
    if any(zone.name == trial.pain_at for zone in part.job.zones):
        return trial.pain_at
    if grid is None:
        return None
    if trial.pain_point is not None:
        return grid.zone_at(_point_of(part, trial))
    return grid.zone_of_cell(trial.pain_at)


def places_picture(part: MadePart, trials: Sequence[Trial] = ()) -> str | None:
    """Return the picture with zones, cells and where trials say it hurt, as SVG; None where no plan shows the part."""
    grid = part_grid(part)
    if grid is None:
        return None
    assert part.pad is not None and part.zones is not None
    title = (
        f"{part.job.part.name} ({part.job.part.number}), from the body side: zones, and cells of {grid.step_mm:g} mm"
    )
    return place_figure(
        grid,
        place_pixels(grid, part.pad, part.zones),
        part.zones,
        [zone_color(part, number) for number in range(len(part.zones.zones))],
        title=title,
        marks=tuple(_marks(part, grid, trials)),
    )


def _marks(part: MadePart, grid: PlaceGrid, trials: Sequence[Trial]) -> list[PainMark]:
    """Return a mark for every place where it hurt, with the worst of what was noted there."""
    worst: dict[tuple[float, float], Trial] = {}
    for trial in trials:
        at = _place(part, grid, trial)
        if at is not None and trial.pain > 0.0 and trial.pain > (worst[at].pain if at in worst else 0.0):
            worst[at] = trial
    return [
        PainMark(at, each.pain, f"pain {each.pain:g} of 10, revision {each.revision}, {each.date}")
        for at, each in worst.items()
    ]


def _place(part: MadePart, grid: PlaceGrid, trial: Trial) -> tuple[float, float] | None:
    """Return where it hurt, mm from the grid's corner; None where a zone or nothing is named."""
    found: Float | None
    if trial.pain_point is not None:
        found = grid.flat(_point_of(part, trial)[None, :])[0]
    else:
        found = grid.middle(trial.pain_at)
    return None if found is None else (round(float(found[0]), 1), round(float(found[1]), 1))


def pain_place(part: MadePart, trial: Trial) -> str:
    """Return where a trial says it hurt, in words; a point by its cell."""
    if trial.pain_point is None:
        return trial.pain_at or "a place not named"
    grid = part_grid(part)
    cell = "" if grid is None else grid.cell_of(_point_of(part, trial))
    return cell or "a point beside the part"


def _point_of(part: MadePart, trial: Trial) -> Float:
    assert trial.pain_point is not None
    return body_points(part.of(PlacedScans), [trial.pain_point], "base")[0]


def pain_zones(part: MadePart, trials: Mapping[int, Trial]) -> dict[int, str | None]:
    """Return the zone of each trial's pain by its number, of those that say where."""
    grid = part_grid(part)
    return {number: zone_of_pain(part, grid, each) for number, each in trials.items()}
