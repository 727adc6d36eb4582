"""A pad that fits no way but its own: for telling how a scan of it lies."""

from __future__ import annotations

from functools import cache

import numpy as np

from padwright.core.base.mesh import TriMesh

from .pad_shapes import height_pad


@cache
def uneven_pad() -> TriMesh:
    """A pad with a bite out of one corner: no way of turning or mirroring it fits but its own."""
    return height_pad(
        lambda x, y: 18.0 + 4.0 * np.sin(x / 25.0 + 0.5) + 3.0 * np.cos(y / 30.0 + x / 60.0),
        lambda x, y: 3.0 + 2.0 * np.cos(x / 40.0) + y * y / 900.0,
        lambda x, y: np.minimum((1.0 - np.hypot(x / 85.0, y / 60.0)) * 60.0, np.hypot(x - 50.0, y - 60.0) - 30.0),
        (85.0, 60.0),
        (0.0, 30.0),
        1.8,
    ).mesh
