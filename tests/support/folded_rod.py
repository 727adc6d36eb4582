"""A folded wall as a chain of stiff links with springs between them, pressed between two skins: a second opinion."""

from __future__ import annotations

import numpy as np
from scipy.linalg import null_space

_LINKS = 16  # a segment; forces are within 0.5 % of those with twice as many


class FoldedRod:
    """A zigzag of 2 `folds` segments over a height of 1, bending stiffness 1, clamped at both ends; lengths stay.

    `is_held`: the skins cannot slide against each other. `crooked` is how far it leans to one side at first, radians:
    without that it would not find its way out of a symmetric shape.
    """

    def __init__(self, folds: int, slope_deg: float, *, is_held: bool, crooked: float = 1e-3) -> None:
        slope, count = np.radians(slope_deg), 2 * folds * _LINKS
        self.step = 1.0 / np.cos(slope) / count
        self.rest = np.repeat([slope if number % 2 == 0 else -slope for number in range(2 * folds)], _LINKS)
        self.crooked = crooked * np.sin(np.pi * (np.arange(count) + 0.5) / count)
        self.is_held = is_held
        self.angle = self.rest + self.crooked
        # Springs between links, and half a link from each end: turns @ angle = how far each is turned.
        self.turns = np.vstack([np.eye(1, count), np.diff(np.eye(count), axis=0), np.eye(1, count, count - 1)])
        self.stiff = np.full(count + 1, 1.0 / self.step)
        self.stiff[[0, -1]] *= 2.0

    def press(self, strain: float) -> tuple[float, float]:
        """Press it to a strain from where it is; return the force and how far its top has moved aside.

        It goes down in energy along what the height allows, so that it leaves a shape that is no longer steady.
        """
        ends = self.turns @ (self.rest + self.crooked)
        for _ in range(400):
            cosine, sine = np.cos(self.angle), np.sin(self.angle)
            bound = [self.step * cosine.sum() - (1.0 - strain)]
            rows = [-self.step * sine]
            if self.is_held:
                bound.append(self.step * (sine.sum() - np.sin(self.rest + self.crooked).sum()))
                rows.append(self.step * cosine)
            matrix = np.array(rows)
            pull = self.turns.T @ (self.stiff * (self.turns @ self.angle - ends))
            force = np.linalg.lstsq(matrix.T, -pull, rcond=None)[0]
            second = self.turns.T @ (self.stiff[:, None] * self.turns) - np.diag(self.step * force[0] * cosine)
            if self.is_held:
                second -= np.diag(self.step * force[1] * sine)
            free = null_space(matrix)
            value, shape = np.linalg.eigh(free.T @ second @ free)
            back = np.linalg.lstsq(matrix, -np.array(bound), rcond=None)[0]
            down = free @ (shape @ (shape.T @ (free.T @ -(pull + second @ back)) / np.maximum(np.abs(value), 1e-3)))
            move = back + down
            self.angle = self.angle + move * min(1.0, 0.1 / float(np.abs(move).max()))
            if float(np.abs(move).max()) < 1e-10 and value[0] > 0.0:
                break
        else:
            raise AssertionError(f"no balance at a strain of {strain:g}")
        return float(force[0]), float(self.step * np.sin(self.angle).sum())
