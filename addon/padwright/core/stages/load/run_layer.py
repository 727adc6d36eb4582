"""Walls even out firmness along their run: what a place gives pulls on its neighbors along the same wall."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.cached import cached_property
from ...base.mesh import Bool, Float, Int
from ..body.flesh import Flesh
from ..folds.sway import symmetric_factors
from .curve_table import CurveTable

_MOST_STEPS, _LEFT_OVER = 40, 1e-6
"""Steps of Newton's method on a layer, and the share of the load that may be left over: what it yields is a factor on
columns that are balanced by themselves."""

_STIFFER = 300.0
"""A body without flesh gives so many times less than the firmest column: it comes into the pad by so little."""

_MOST_FACTOR = 50.0
"""A column bears at most so many times what it would alone: where a place hardly gives the factor says nothing."""

UNSURE = 0.5
"""Low and high of what the pad around adds: the logarithm half less and half more. The shear stiffness of the walls is
known as their modulus is, but how well skins hold heads, and ends of walls, is not (our choice)."""

_CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)


@dataclass(frozen=True, eq=False)
class RunLayer:
    """The pad as columns on a raster with what ties them along the walls; nodes are the corners of square cells.

    Columns below the body's points have the pressure p = s - (S e')', e what they give, s what they bear alone.
    """

    step_mm: float
    corners: NDArray[np.int64]  # (m, 4); the nodes of each cell, around it
    tie_kpa_mm: Float  # (3, m); xx, xy, yy of S in each cell
    node_mm: Float  # (n, 2); where the nodes are
    area_mm2: Float  # (n,); of pad at each
    height_mm: Float  # (n,)
    kind: Int  # (n,); of column
    firmer: Float  # (n,); factor on what its kind's curve says
    is_covered: Bool  # (n,); where the body bears
    point_mm: Float  # (p, 2); the patch's points

    def part(self, index: Int) -> RunLayer:
        """Return it for some of the patch's points."""
        return replace(self, point_mm=self.point_mm[index])

    @cached_property
    def _under(self) -> NDArray[np.int64]:
        return np.flatnonzero(self.is_covered)

    @cached_property
    def _sees(self) -> tuple[NDArray[np.int64], Float]:
        """For each covered node the points around it (c, 4) and their weights."""
        return _near(self.point_mm, self.node_mm[self._under])

    @cached_property
    def _seen(self) -> tuple[NDArray[np.int64], Float]:
        """For each point the covered nodes around it (p, 4), by their place among those, and their weights."""
        return _near(self.node_mm[self._under], self.point_mm)

    @cached_property
    def _blocks(self) -> tuple[Float, NDArray[np.int64], NDArray[np.int64]]:
        """Each cell's matrix (m, 4, 4), mN/mm, with rows and columns."""
        xx, xy, yy = self.tie_kpa_mm
        tensor = np.stack([np.stack([xx, xy], axis=1), np.stack([xy, yy], axis=1)], axis=2)
        blocks = np.zeros((len(self.corners), 4, 4))
        for r, s in _CORNERS / np.sqrt(3.0):
            slope = np.stack([_CORNERS[:, 0] * (1 + s * _CORNERS[:, 1]), _CORNERS[:, 1] * (1 + r * _CORNERS[:, 0])]) / 4
            blocks += np.einsum("xa,mxy,yb->mab", slope, tensor, slope)
        return blocks, np.repeat(self.corners, 4, axis=1), np.tile(self.corners, (1, 4))

    def ties(self, strain: Float) -> sparse.csc_matrix:
        """Return what a node's give pulls on others, (n, n), mN/mm, where the columns are so strained, (n,).

        Notes
        -----
        A segment slides along its own plane by the cosine of its lean, which goes as 1 - strain, and that twice.
        """
        blocks, rows, columns = self._blocks
        left = (1.0 - np.clip(strain, 0.0, 0.9)[self.corners].mean(axis=1)) ** 2
        count = len(self.area_mm2)
        values = (blocks * left[:, None, None]).ravel()
        return sparse.coo_matrix((values, (rows.ravel(), columns.ravel())), shape=(count, count)).tocsc()

    def factors(self, pads: CurveTable, ratios: Float, sinkage: Float, strain: Float, flesh: Flesh | None) -> Float:
        """Return how many times what they bear alone, at what they give, the columns of all points bear, (p,).

        `sinkage` (p,), mm, is how far the body, or the bone with flesh, has come past each point, negative where it
        does not touch; `strain` (p,) the columns' own where the search starts.
        """
        at, weight = self._sees
        sunk = np.full(len(self.area_mm2), -1.0)
        sunk[self._under] = (sinkage[at] * weight).sum(axis=1)
        start = np.zeros(len(self.area_mm2))
        start[self._under] = (strain[at] * weight).sum(axis=1)
        gives = self._gives(pads, ratios, sunk, start * self.height_mm, flesh)
        own = ratios[self.kind] * self.firmer * pads.at(np.maximum(gives, 0.0) / self.height_mm, self.kind)[0]
        body, _, _ = self._body(pads, ratios, sunk - gives, flesh)
        factor = np.clip(body / np.maximum(own, 1e-9), 0.0, _MOST_FACTOR)[self._under]
        at, weight = self._seen
        return np.asarray((factor[at] * weight).sum(axis=1))

    def _body(
        self, pads: CurveTable, ratios: Float, squeezed: Float, flesh: Flesh | None
    ) -> tuple[Float, Float, Float]:
        """Return the body's pressure on every node, its stiffness and energy, as far as it is squeezed there."""
        squeezed = np.where(self.is_covered, np.maximum(squeezed, 0.0), 0.0)
        if flesh is None:
            firm = _STIFFER * float(
                (ratios[self.kind] * self.firmer * pads.slope_kpa[self.kind, 0] / self.height_mm).max()
            )
            return firm * squeezed, np.where(squeezed > 0.0, firm, 0.0), 0.5 * firm * squeezed**2
        strain = squeezed / flesh.thickness_mm
        curve = flesh.curve
        stiff = np.where(squeezed > 0.0, curve.slope(strain) / flesh.thickness_mm, 0.0)
        return curve.stress(strain), stiff, flesh.thickness_mm * curve.energy(strain)

    def _gives(self, pads: CurveTable, ratios: Float, sunk: Float, start: Float, flesh: Flesh | None) -> Float:
        """Return what every node gives, mm: the least of energy, by Newton's method with shortened steps."""
        ratio, height, area = ratios[self.kind] * self.firmer, self.height_mm, self.area_mm2
        gives = start
        ties = self.ties(gives / height)

        def look(gives: Float) -> tuple[float, Float, Float]:
            # Below 0 columns pull as they push: nothing else would hold a node there.
            sign, strain = np.sign(gives), np.abs(gives) / height
            own, slope, energy = pads.at(strain, self.kind)
            push, stiff, stored = self._body(pads, ratios, sunk - gives, flesh)
            tied = ties @ gives
            value = float((area * (ratio * height * energy + stored)).sum() + 0.5 * gives @ tied)
            return value, area * (sign * ratio * own - push) + tied, area * (ratio * slope / height + stiff)

        value, slope, weight = look(gives)
        for _ in range(_MOST_STEPS):
            push = area * self._body(pads, ratios, sunk - gives, flesh)[0]
            if np.abs(slope).sum() <= _LEFT_OVER * max(float(push.sum()), 1e-9):
                break
            step = symmetric_factors((ties + sparse.diags(weight)).tocsc()).solve(-slope)
            descent, share = float(slope @ step), 1.0
            for _ in range(30):
                tried = look(gives + share * step)
                if tried[0] <= value + 1e-4 * share * descent + 1e-13 * abs(value):
                    break
                share *= 0.5
            else:
                break
            gives = gives + share * step
            value, slope, weight = tried
        return gives


def _near(places: Float, wanted: Float) -> tuple[NDArray[np.int64], Float]:
    """Return the (up to) four places nearest to each one wanted, and weights by their distance that sum to 1."""
    count = min(4, len(places))
    far, at = cKDTree(places).query(wanted, k=count)
    far, at = far.reshape(len(wanted), count), at.reshape(len(wanted), count)
    weight = 1.0 / np.maximum(far, 1e-3) ** 2
    return at, weight / weight.sum(axis=1, keepdims=True)
