"""Where a zone can come from, and which keys each of these sources takes."""

from __future__ import annotations

ZONE_KEYS: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    # source: keys it must have, keys it may have
    "load_centers": (frozenset(), frozenset({"radius_mm", "load_centers"})),
    "imprint_depth": (frozenset(), frozenset({"from_mm", "to_mm"})),
    "outline": (frozenset({"points"}), frozenset({"points_on"})),
    "color_marks": (frozenset({"color"}), frozenset({"color_tolerance", "gap_mm", "filled", "least_cm2"})),
    "pressed_foil": (frozenset(), frozenset({"from_dark_pct", "to_dark_pct", "light", "dark"})),
    "weights": (frozenset({"file"}), frozenset()),
    "pressure_grid": (
        frozenset(),
        frozenset({"file", "places", "points_on", "from_kpa", "to_kpa", "from_pct", "to_pct"}),
    ),
    "rest": (frozenset(), frozenset()),
}
MARK_DEFAULTS: dict[str, float | bool] = {"color_tolerance": 0.2, "gap_mm": 3.0, "filled": True, "least_cm2": 0.3}
"""Of marks of a color; ours. Pen on clay, in light and in shade, stays within that tolerance of its color in
`perceived.color_difference`; a gap of 3 mm is a slip of the hand; 0.3 cm2 is a disc of 6 mm, hardly a zone."""
COMMON_ZONE_KEYS = frozenset({"name", "level", "stiffness_times", "source"})
SOURCES = tuple(ZONE_KEYS)
