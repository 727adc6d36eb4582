"""Where a zone can come from, and which keys each of these sources takes."""

from __future__ import annotations

ZONE_KEYS: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    # source: keys it must have, keys it may have
    "load_centers": (frozenset(), frozenset({"radius_mm", "load_centers"})),
    "imprint_depth": (frozenset(), frozenset({"from_mm", "to_mm"})),
    "outline": (frozenset({"points"}), frozenset({"points_on"})),
    "color_marks": (frozenset({"color"}), frozenset({"color_tolerance"})),
    "weights": (frozenset({"file"}), frozenset()),
    "pressure_grid": (frozenset({"file", "places"}), frozenset({"points_on", "from_kpa", "to_kpa"})),
    "rest": (frozenset(), frozenset()),
}
COMMON_ZONE_KEYS = frozenset({"name", "level", "stiffness_times", "source"})
SOURCES = tuple(ZONE_KEYS)
