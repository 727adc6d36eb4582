"""The artist's paint when the pad under it is built anew."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..core.mesh import Float
from . import attributes, bridge, scene


def take(part: Any) -> dict[str, tuple[Float, np.ndarray]]:
    """Return the place of every vertex of the pad, in its own coordinates, and the share of each painted zone."""
    shares = scene.painted(part)
    if not shares:
        return {}
    places = bridge.read_mesh(part.pad).vertices
    return {name: (places, share) for name, share in shares.items()}


def put(part: Any, kept: dict[str, tuple[Float, np.ndarray]]) -> None:
    """Paint the pad as it was painted before: every vertex as the nearest one was."""
    from scipy.spatial import cKDTree

    if not kept:
        return
    places = bridge.read_mesh(part.pad).vertices
    _, nearest = cKDTree(next(iter(kept.values()))[0]).query(places)
    for name, (_, share) in kept.items():
        attributes.write_group(part.pad, name, share[nearest])
        zone = part.zones.get(name)
        if zone is not None:
            zone.written = ""
