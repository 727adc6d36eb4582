"""How a strip of filament bends when its outer fibres are strained beyond small: less stiff than at first."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ....base.mesh import Float

HALVED_AT = 0.8
"""Strain at which the solid shows half its first modulus. Assumed: a printed filament of 25 MPa has 0.27 pulled, of
which 0.3 to 0.6 is left where it is bent (docs/models/folds.md); of two printed 95A one has 43.8 MPa at first and the
other 12.3 at twice its length (`hardness.MEASURED`), which as one filament would be 0.4, the second with a neo-Hookean
start 1.4. An 85A is softer than all of them, and softer ones soften later."""

HALVED_LOW, HALVED_HIGH = 0.35, 10.0
"""Its 5th and 95th percentile. Assumed: from the first of those to walls that bend as a neo-Hookean solid does. That is
without softening in our own finite elements: what is pulled loses what is pressed gains."""


@dataclass(frozen=True)
class Softening:
    """A solid whose stress is E e / (1 + |e| / halved_at), pulled and pressed alike."""

    halved_at: float = HALVED_AT

    def moment_ratio(self, outer: Float) -> Float:
        """Return a strip's moment over the one it would have without softening, at the outer fibres' strain.

        Notes
        -----
        With x = outer / halved_at: 3 integral of u^2 / (1 + x u) from 0 to 1 = 3 (x^2/2 - x + ln(1 + x)) / x^3 [own
        derivation].
        """
        x = np.maximum(np.asarray(outer, dtype=np.float64) / self.halved_at, 1e-2)
        exact = 3.0 * (0.5 * x * x - x + np.log1p(x)) / x**3
        small = np.abs(outer) / self.halved_at
        return np.where(small < 1e-2, 1.0 - 0.75 * small, exact)

    def curvature(self, energy: Float, slenderness: Float) -> Float:
        """Return the curvature of a strip of length and bending stiffness 1 at a complementary energy.

        The complementary energy is curvature times moment less the energy stored; slenderness is thickness over length.
        """
        root, ratio = _curvatures()
        scale = 2.0 * self.halved_at / slenderness  # curvature over x
        first = np.sqrt(2.0 * np.maximum(energy, 0.0))
        return np.asarray(first * np.interp(first / scale, root, ratio))


@lru_cache(maxsize=1)
def _curvatures() -> tuple[Float, Float]:
    """Return sqrt(2 U) and curvature over it, for x = 0 to 200, in units of x."""
    x = np.concatenate([[0.0], np.geomspace(1e-4, 200.0, 1200)])
    moment = x * Softening(1.0).moment_ratio(x)
    energy = np.concatenate([[0.0], np.cumsum(0.5 * (x[1:] + x[:-1]) * np.diff(moment))])  # integral of x d(moment)
    root = np.sqrt(2.0 * energy)
    ratio = np.ones_like(root)
    ratio[1:] = x[1:] / root[1:]
    return root, ratio
