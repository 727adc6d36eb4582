"""What folded walls bear for long: strain across their layers, pressure for hours, what is left of them after."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ....base.estimate import Estimate
from ....base.mesh import Float
from ....job.material_cards import FOLD_UNKNOWNS
from ..material_model import NINETY, MaterialModel
from .fold_print import as_printed, bears_as_kpa, softening_of
from .law import SOFTENING, outer_strain, plateau_kpa, stress_kpa
from .softening import Softening
from .walls import Walls

LONG_TERM = Estimate(
    0.6,
    0.45,
    0.8,
    "assumed",
    "Share of its stiffness that the filament has left after hours under load at the body's heat. Thermoplastic "
    "polyurethane goes on giving by a power of time, faster when warm (doi 10.3390/polym15183770, abstract); the "
    "numbers are assumed.",
)

BREAKS_AT = Estimate(
    1.5,
    0.5,
    4.0,
    "assumed",
    "Strain at which printed layers come apart when pulled across. A table of printed 95A has 1.5 to 4 for upright "
    "bars (on the web, no paper behind it); bars pulled across their beads had 17.8 MPa where those along had 32.5 "
    "(doi 10.3390/engproc2025113019, abstract). Half a unit for damp or cold printed walls is assumed.",
)

SET = Estimate(
    0.1,
    0.03,
    0.25,
    "assumed",
    "Share of the give that does not come back overnight. Such filaments soften under repeated load and creep back "
    "slowly (doi 10.3390/engproc2025085018, abstract); the numbers are assumed.",
)

TIMES_TO_BREAK = 3.0
"""Strain again and again is to stay this many times under that which breaks layers: assumed. A printed gyroid pressed
150,000 times lost 4 % of its load in 100,000 and showed no damage (compmech.unipv.it, fatigue test of printed cubes;
read, strain not stated)."""

MOST_OF_PLATEAU = 0.5
"""Share of the plateau left after hours up to which a place may be loaded so long: our own choice."""

_STRAINS = np.linspace(0.0, 0.9, 91)


@dataclass(frozen=True, eq=False)
class Endurance:
    """What load for hours and years does to folded walls; each number that of the worst place."""

    outer_strain: Estimate  # largest strain of the outer fibres, at foot and fold
    break_share: Estimate  # of the strain at which layers come apart
    plateau_share: Estimate  # pressure over the plateau that is left after hours
    after_hours: Estimate  # give after hours over the give at first, mean over the places by area
    set_share: Estimate  # of that give, what does not come back
    place: int  # where pressure takes the largest share of the plateau
    notes: tuple[str, ...]


def endure(walls: Walls, pressure_kpa: Float, area_mm2: Float, model: MaterialModel) -> Endurance:
    """Return what pressures (n,), kPa, on areas (n,), mm2, do to walls over hours and years.

    Walls are those asked for: where blocks of folds were pressed they count as they come out. Bounds take the bounds of
    the filament's modulus, of `LONG_TERM` and `BREAKS_AT`, each at its worse end.
    """
    pressure = np.broadcast_to(np.asarray(pressure_kpa, dtype=np.float64), len(walls))
    solid, law = _solid(model), softening_of(model)
    if model.folds is not None:
        walls = as_printed(walls, float(model.folds.unknowns[1]), float(model.folds.unknowns[2]))

    def strain(modulus: float) -> Float:
        return strain_under(walls, pressure, modulus, model.poisson, law)

    def fibers(modulus: float) -> float:
        return float(outer_strain(walls, strain(modulus)[:, None], law).max())

    outer = Estimate(fibers(solid.value), fibers(solid.high), fibers(solid.low), "model")
    breaks = Estimate(
        outer.value / BREAKS_AT.value, outer.low / BREAKS_AT.high, outer.high / BREAKS_AT.low, "assumed", BREAKS_AT.note
    )
    share = pressure / plateau_kpa(walls, solid.value, model.poisson)
    place = int(np.argmax(share))
    most = float(share[place])
    plateau = Estimate(
        most / LONG_TERM.value,
        most * solid.value / (solid.high * LONG_TERM.high),
        most * solid.value / (solid.low * LONG_TERM.low),
        "assumed",
        LONG_TERM.note,
    )
    height = walls.array("height_mm") * np.asarray(area_mm2)
    first = max(float(height @ strain(solid.value)), 1e-12)
    left, least, most_left = (
        float(height @ strain(solid.value * each)) / first for each in (LONG_TERM.value, LONG_TERM.high, LONG_TERM.low)
    )
    after = Estimate(left, least, most_left, "assumed", LONG_TERM.note)
    return Endurance(outer, breaks, plateau, after, SET, place, _notes(outer, breaks, plateau))


def _solid(model: MaterialModel) -> Estimate:
    """Return the modulus with which the law gives what walls bear."""
    if model.folds is None:
        return model.solid
    both = np.array([name in ("modulus", "law") for name in FOLD_UNKNOWNS], dtype=np.float64)
    far = float(np.exp(NINETY * np.sqrt(both @ model.folds.covariance @ both)))
    value = bears_as_kpa(model)
    return Estimate(value, value / far, value * far, "measured")


def strain_under(
    walls: Walls, pressure_kpa: Float, solid_kpa: float, poisson: float, law: Softening = SOFTENING
) -> Float:
    """Return the strain (n,) at which each place bears its pressure (n,), at most 0.9."""
    stress = stress_kpa(walls, _STRAINS, solid_kpa, poisson, law)
    return np.array([np.interp(load, row, _STRAINS) for load, row in zip(pressure_kpa, stress, strict=True)])


def _notes(outer: Estimate, breaks: Estimate, plateau: Estimate) -> tuple[str, ...]:
    notes = []
    if breaks.value * TIMES_TO_BREAK > 1.0:
        notes.append(
            f"Each press strains the walls' surface by {100.0 * outer.value:.0f} % across their layers, more than a "
            f"third of the {100.0 * BREAKS_AT.value:.0f} % that break printed layers. Make walls thinner or firmer."
        )
    if plateau.value > MOST_OF_PLATEAU:
        notes.append(
            f"After hours under the body, walls bear {100.0 * plateau.value:.0f} % of what makes them give way; "
            f"{100.0 * MOST_OF_PLATEAU:.0f} % is the most to plan with. They go on sinking: take wider walls that lean "
            "more, or a firmer level there."
        )
    return tuple(notes)
