"""The force with which a body bears: a share of its weight, or a force that was given."""

from __future__ import annotations

from ...job.load_tables import Load

GRAVITY = 9.80665
"""Standard gravity, m/s2, by definition (3rd General Conference on Weights and Measures, 1901)."""

SHARE_FACTOR = 1.15
"""How well a share of the body's weight is known, nine times in ten: assumed. A stated force is taken as it is."""


def body_force_n(body_mass_kg: float, share: float) -> float:
    """Return the force of a share of a body's weight, N."""
    return body_mass_kg * share * GRAVITY


def force_of(load: Load, force_n: float | None, share: float) -> float | None:
    """Return a force, N, that is given or a share of the load's body mass; None where neither is known."""
    if force_n is not None:
        return force_n
    return None if load.body_mass_kg is None else body_force_n(load.body_mass_kg, share)
