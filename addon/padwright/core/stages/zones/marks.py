"""Zones from what was drawn on the clay with pens: places of a color, closed, filled, carried to the body side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ...base.cached import cached_property
from ...base.color_names import NAMED_COLORS, hex_name, named_color
from ...base.errors import InputError
from ...base.mesh import Bool, Float
from ...base.notes import to_look_at
from ...base.perceived import color_difference, lab_of
from ...base.text import counted
from ...geometry.through import BodySide
from ..scans.found_colors import FoundColor, find_colors
from ..scans.surface_colors import ColorSamples, SurfaceColors
from .mark_area import closing_gap, distance_inside, mark_area
from .seen_colors import SeenColors, see_colors
from .wrapped_marks import wrapped_area
from .zone_sources import SourcePlace, softened

_REACH_MM = 8.0
"""A place of the body side farther than this from the scan is none of it: the cover and a hole's edge lie nearer."""
_SAMPLE_MM = 0.5
_FAINT_SHARE = 3e-5
"""What is asked for by name may be this little of what is seen: a dot of 2 mm on a seat. Ours."""
_LIKE_CLAY = 0.08
"""A color as near the clay's own as this is taken to be meant as the clay itself."""


@dataclass(frozen=True)
class MarkWish:
    """A color asked for, and what of its marks counts."""

    color: str  # a name ("red", "blue" ...) or "#rrggbb"
    tolerance: float  # greatest `color_difference`
    gap_mm: float
    is_filled: bool
    least_cm2: float


@dataclass(frozen=True, eq=False)
class FoundMarks:
    """The marks of one color: a source of a zone."""

    values: Float  # (b,); share of each vertex of the body side, 0 to 1
    told: dict[str, Any]  # for the evidence
    notes: tuple[str, ...] = ()

    def share(self, place: SourcePlace) -> Float:
        """Return the values; refuse another body side than they were found on."""
        if len(self.values) != len(place.body.mesh.vertices):
            raise InputError("The marks were found on another pad.", hint="Build the pad again.")
        return self.values


@dataclass(frozen=True, eq=False)
class MarkedScan:
    """A colored scan in front of a pad's body side, in which marks of any color are looked for."""

    surface: SurfaceColors  # part frame, mm
    body: BodySide
    edge_mm: float  # mean edge length of the body side

    @cached_property
    def seen(self) -> SeenColors | None:
        """The scan as the body sees it; None where the part wraps around."""
        press = self.body.press_direction
        return None if press is None else see_colors(self.surface, np.asarray(press), self.body.mesh.vertices)

    @cached_property
    def samples(self) -> ColorSamples:
        """Colored places of the scan: what is seen, or around a wrapped part's body side what is near it."""
        if self.seen is not None:
            row, column = np.nonzero(self.seen.is_seen)
            size = np.full(len(row), self.seen.pixel_mm**2)
            return ColorSamples(np.zeros((len(row), 3)), self.seen.colors[row, column], size)
        low, high = self.body.mesh.bounds
        near = (self.surface.points >= low - _REACH_MM).all(axis=1) & (self.surface.points <= high + _REACH_MM).all(
            axis=1
        )
        return self.surface.samples(_SAMPLE_MM, near[self.surface.faces].any(axis=1))

    @cached_property
    def colors(self) -> tuple[FoundColor, ...]:
        """The colors found on it, the clay's first."""
        return find_colors(self.samples)

    @cached_property
    def _labs(self) -> Float:
        return lab_of(self.samples.colors)

    def marks(self, wish: MarkWish, others: Sequence[str] = ()) -> FoundMarks:
        """Return the marks of a color; a place that looks more like one of the other colors, or the clay, is none.

        Raises InputError when nothing of that color is on the scan, or its lines surround nothing; the colors found are
        told.
        """
        if not len(self.samples.colors):
            raise InputError("The scan has no colors in front of the pad.", hint="Is its texture that of the clay?")
        wanted = self._meant(wish.color)
        is_mark = self._is_like(wanted, wish.tolerance, [each for name in others for each in self._meant(name, False)])
        area = self.samples.areas[is_mark].sum() / 100.0
        if area <= 0.0:
            raise InputError(
                f"Nothing on the scan is within {wish.tolerance:g} of the color {_shown(wish.color, wanted)}.",
                hint=f"Found are {self._found_in_words()}. Write one of these as color, or a larger color_tolerance.",
            )
        told = {
            "color": wish.color,
            "found": [hex_name(each) for each in wanted],
            "drawn_cm2": round(float(area), 3),
        }
        seek = self._seen_marks if self.seen is not None else self._wrapped_marks
        return seek(is_mark, wish, told)

    def _meant(self, color: str, is_needed: bool = True) -> list[tuple[int, int, int]]:
        """Return the colors on the scan that a name means; "#rrggbb" is itself."""
        if color not in NAMED_COLORS:
            return [named_color(color)]
        found = [each.color for each in self.colors[1:] if each.name == color]
        if not found and is_needed:
            found = [
                each.color for each in find_colors(self.samples, least_share=_FAINT_SHARE)[1:] if each.name == color
            ]
        if found or not is_needed:
            return found
        raise InputError(
            f"No {color} stands out on the scan.",
            hint=f"Found are {self._found_in_words()}. Write one of these as color, by its #rrggbb.",
        )

    def _found_in_words(self) -> str:
        clay, *others = self.colors
        listed = ", ".join(f"{each.hex} ({each.name}, {100.0 * each.share:.2g} %)" for each in others[:8])
        return f"{clay.hex} ({clay.name}) on most of it" + (f", and {listed}" if listed else " and nothing else")

    def _is_like(
        self, wanted: Sequence[tuple[int, int, int]], tolerance: float, others: Sequence[tuple[int, int, int]]
    ) -> Bool:
        labs = lab_of(np.array(wanted, dtype=np.float64))
        away = np.min([color_difference(self._labs, lab) for lab in labs], axis=0)
        is_like = away <= tolerance
        rivals = [lab for lab in lab_of(np.array([*others, self.colors[0].color], dtype=np.float64))]
        for rival in rivals:
            if min(color_difference(labs, rival)) > _LIKE_CLAY:
                is_like &= away <= color_difference(self._labs, rival)
        return np.asarray(is_like)

    def _seen_marks(self, is_mark: Bool, wish: MarkWish, told: dict[str, Any]) -> FoundMarks:
        seen = self.seen
        assert seen is not None
        image = np.zeros(seen.depth.shape, dtype=bool)
        image[seen.is_seen] = is_mark
        least = 100.0 * wish.least_cm2
        found = mark_area(
            image, seen.is_hole, seen.pixel_mm, gap_mm=wish.gap_mm, is_filled=wish.is_filled, least_mm2=least
        )
        lines = [each for each in found.pieces if each.is_line]
        if len(lines) == len(found.pieces):
            raise self._nothing_surrounded(image, wish, len(lines), found.dropped)
        points = self.body.mesh.vertices
        inside = seen.values_at(distance_inside(found.is_in, seen.pixel_mm), points)
        values = np.where(seen.is_beyond_reach(points, _REACH_MM), 0.0, softened(inside, self.edge_mm))
        told["pieces"] = [
            {"area_cm2": round(each.area_mm2 / 100.0, 3), "position_mm": seen.place_of(each.row, each.column).tolist()}
            for each in found.pieces
            if not each.is_line
        ]
        told["dropped"], told["dropped_cm2"] = found.dropped, round(found.dropped_mm2 / 100.0, 3)
        sizes = ", ".join(f"{each['area_cm2']:.1f}" for each in told["pieces"][:8])
        left = f"; {counted(found.dropped, 'speck')} left out" if found.dropped else ""
        places = counted(len(told["pieces"]), "place")
        notes: list[str] = [f"Marks of color {wish.color} on the scan: {places} of {sizes} cm2{left}."]
        if lines:
            at = ", ".join(f"{value:.0f}" for value in seen.place_of(lines[0].row, lines[0].column))
            notes.append(
                to_look_at(
                    f"{counted(len(lines), 'line')} of color {wish.color}, the longest about "
                    f"{lines[0].length_mm:.0f} mm at ({at}) mm, surrounds nothing and makes no zone."
                )
            )
        return FoundMarks(np.asarray(values), told, tuple(notes))

    def _nothing_surrounded(self, image: Bool, wish: MarkWish, lines: int, dropped: int) -> InputError:
        """Return why marks make no area: lines that do not close, or nothing but specks."""
        assert self.seen is not None
        if not lines:
            return InputError(
                f"All {dropped} marks of color {wish.color} are smaller than {wish.least_cm2:g} cm2.",
                hint="Give a smaller least_cm2, or a larger color_tolerance if their lines are torn.",
            )
        gap = closing_gap(image, self.seen.is_hole, self.seen.pixel_mm, 100.0 * wish.least_cm2)
        way = (
            f"It would close with gap_mm = {gap:g}."
            if gap is not None and wish.is_filled
            else "Draw it as a closed line."
        )
        line = "line surrounds" if lines == 1 else "lines surround"
        return InputError(f"The {lines} {line} nothing that is drawn with color {wish.color}.", hint=way)

    def _wrapped_marks(self, is_mark: Bool, wish: MarkWish, told: dict[str, Any]) -> FoundMarks:
        """Return marks on a part that wraps around: what they part from the rest of the body side, the smaller ends."""
        found = wrapped_area(
            self.body.mesh, self.samples.points, is_mark, gap_mm=wish.gap_mm, is_filled=wish.is_filled,
            least_mm2=100.0 * wish.least_cm2, reach_mm=_REACH_MM,
        )  # fmt: skip
        if not found.pieces:
            raise InputError(
                f"Marks of color {wish.color} cover and surround less than {wish.least_cm2:g} cm2 of the body side.",
                hint="Draw closed lines, or give a larger gap_mm or a smaller least_cm2.",
            )
        told["pieces"] = [
            {"area_cm2": round(each.area_mm2 / 100.0, 3), "position_mm": list(each.position_mm)}
            for each in found.pieces
        ]
        told["dropped"], told["dropped_cm2"] = found.dropped, round(found.dropped_mm2 / 100.0, 3)
        return FoundMarks(softened(found.inside_mm, self.edge_mm), told)


def _shown(color: str, wanted: Sequence[tuple[int, int, int]]) -> str:
    return color if color not in NAMED_COLORS else f"{color} ({', '.join(hex_name(each) for each in wanted)})"
