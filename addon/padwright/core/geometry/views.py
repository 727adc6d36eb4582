"""A view of the scene as its matrix and its size in pixels: places to pixels, and pixels to rays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..base.errors import InputError
from ..base.mesh import Bool, Float

_ROOM = 0.05  # share of the box's depth that a ray starts before it and ends after it
_NEAREST = -1.0  # depth of the near plane in a view's own box


@dataclass(frozen=True, eq=False)
class View:
    """How places in the scene are seen."""

    # (4, 4); from scene to clip space, as OpenGL has it: after division by w all that is seen lies between -1 and 1
    matrix: Float
    # width, height: of the picture, pixels; its origin is at the lower left.
    width: int
    height: int

    def pixels(self, places: Float) -> tuple[Float, Bool]:
        """Return where places, (n, 3), are seen, (n, 2) pixels, and which of them lie before the eye, (n,)."""
        clip = self._clip(places)
        is_before = clip[:, 3] > 0.0
        w = np.where(is_before, clip[:, 3], 1.0)
        size = np.array([self.width, self.height])
        return (clip[:, :2] / w[:, None] + 1.0) / 2.0 * size, is_before

    def ray(self, pixel: tuple[float, float], box: Float) -> tuple[Float, Float]:
        """Return where the line of sight of a pixel enters and leaves the depth of a box, (3,) each.

        The box is the corners, (n, 3), of what may be met: ends near it keep the line exact where the clipping planes
        are far apart.

        Raises InputError when the view is flat.
        """
        clip = self._clip(box)
        if (clip[:, 3] <= 0.0).any():  # the eye is among the corners
            near, far = _NEAREST, 1.0
        else:
            depth = clip[:, 2] / clip[:, 3]
            room = _ROOM * float(np.ptp(depth)) + 1e-7
            near, far = max(_NEAREST, float(depth.min()) - room), float(depth.max()) + room
        try:
            back = np.linalg.inv(self.matrix)
        except np.linalg.LinAlgError:
            raise InputError("The view is flat.", hint="Turn it.") from None
        x, y = 2.0 * pixel[0] / self.width - 1.0, 2.0 * pixel[1] / self.height - 1.0
        ends = np.array([[x, y, near, 1.0], [x, y, far, 1.0]]) @ back.T
        if not (np.isfinite(ends).all() and (ends[:, 3] != 0.0).all()):
            raise InputError("The view is flat.", hint="Turn it.")
        start, end = ends[:, :3] / ends[:, 3:]
        return start, end

    def _clip(self, places: Float) -> Float:
        return np.column_stack([places, np.ones(len(places))]) @ self.matrix.T


def nearest_on_screen(view: View, places: Float, pixel: tuple[float, float], within: float) -> int | None:
    """Return which place of (n, 3) is seen nearest to a pixel, or None when none is as near as `within` pixels."""
    if not len(places):
        return None
    seen, is_before = view.pixels(places)
    apart = np.where(is_before, np.hypot(*(seen - np.asarray(pixel)).T), np.inf)
    best = int(np.argmin(apart))
    return best if apart[best] <= within else None
