"""The table of a job that says what makes the part soft: settings of its fill, or walls folded between two skins."""

from __future__ import annotations

from dataclasses import dataclass

from .keys import key

FILL_KINDS = ("settings", "folds")
LAYOUTS = ("rows", "rings")
VOIDS = ("open", "sealed")


@dataclass(frozen=True)
class Fill:
    """What makes the part soft. All but the kind is for folded walls."""

    kind: str = key(
        "choice", "what makes it soft: settings of each region's fill, or folded walls in one plain solid",
        choices=FILL_KINDS, default="settings",
    )  # fmt: skip
    layout: str = key(
        "choice", "how folded walls run: in rows inside a rim, or in rings along the outline",
        choices=LAYOUTS, default="rows",
    )  # fmt: skip
    direction: tuple[float, float, float] | None = key(
        "direction", "which way rows run, base file's axes; across the part's longer side if not given", default=None
    )
    folds: int | None = key(
        "integer", "folds of a wall over its height; chosen if not given", low=1, high=4, default=None
    )
    wall_beads: int | None = key(
        "integer", "width of a wall in beads; chosen if not given", low=1, high=8, default=None
    )
    pitch_mm: float | None = key("number", "from wall to wall; chosen if not given", low=1.0, high=30.0, default=None)
    skin_layers: int | None = key("integer", "layers of each skin; chosen if not given", low=2, high=100, default=None)
    # A wall leaning 45 degrees prints without support: common practice, no source.
    most_slope_deg: float = key("number", "steepest lean of a wall from upright", low=5.0, high=60.0, default=45.0)
    # Common practice, no source; a strip among the blocks to print shows it for one's own printer.
    longest_bridge_mm: float = key("number", "longest gap your printer spans flat", low=1.0, high=30.0, default=5.0)
    voids: str = key(
        "choice", "open: all air inside breathes and can be rinsed; sealed: it is shut in and counted as a spring",
        choices=VOIDS, default="open",
    )  # fmt: skip
    least_core_mm: float = key(
        "number", "where less height is left between the skins it is solid", low=1.0, high=20.0, default=4.0
    )
