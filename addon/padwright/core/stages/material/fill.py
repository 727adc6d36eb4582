"""From print settings to the stress-strain curve of a region: fill, contours and closed layers together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.errors import InputError
from ...base.estimate import weaker
from ...base.mesh import Float
from ...base.notes import to_look_at
from .curves import LEVEL_STRAIN, CurveBand, StressCurve
from .fill_geometry import bead_wall_mm, cell_mm, relative_density
from .giving_way import levels_off
from .lattices import Lattice, lattice_of
from .material_model import NINETY, OWN_OUTSIDE, OWN_SPREAD, OWN_UNFITTED, UNKNOWNS, MaterialModel
from .region_settings import RegionSettings

_STRAIN = np.concatenate([[0.0, 0.0004, 0.0012], np.linspace(0.0025, 0.2, 80), np.linspace(0.21, 0.98, 78)])
"""Fine where walls buckle (from 0.05 % on at 3 % of solid), to 98 %."""

_DENSIFYING = 2.5
"""How sharply stress rises as cells shut, n of Avalle's curve; foams have 1 to 4 (Avalle 2007, cited, not read)."""


@dataclass(frozen=True)
class RegionGeometry:
    """The size of a region across and along the press: mean thickness mm, area mm2 and perimeter mm seen along it.

    Of the outline counts what has contours that bear what presses the region: of a block all, of a zone in a pad only
    the rim, and that where it is not rounded.
    """

    thickness_mm: float
    area_mm2: float
    perimeter_mm: float


def stiffness_ratio(structure: str, density: float, poisson: float) -> float:
    """Return E/E_solid of a fill structure along the layers' normal, small strain, by its record in `lattices`."""
    if structure == "solid":
        return 1.0
    if structure == "none":
        return 0.0
    return lattice_of(structure).stiffness(density, poisson)


def fill_curve(structure: str, density: float, modulus_kpa: float, poisson: float, knee: float = 1.0) -> StressCurve:
    """Return the curve of a fill without contours.

    The density is the solid share, 0 to 1; modulus and Poisson's ratio are the solid's; `knee` is a factor on the
    strain at which the fill gives way.

    Notes
    -----
    Solid: neo-Hookean, sigma = (E/3)(1/L^2 - L), L = 1 - strain (Treloar, cited, not read); free to spread sideways.
    Cells: E k g(e/k) + B (e/(1-e))^n (Avalle's form, 2007), with the strain k at which they give way, g of
    `giving_way`, and B so that the second term equals the first where the cells shut, at 1 - 1.4 rho (Gibson & Ashby
    1997, cited, not read).
    """
    if structure == "solid":
        return StressCurve(_SOLID_STRAIN, modulus_kpa * _solid_stress(), _SOLID_SHUT, poisson)
    lattice = lattice_of(structure)
    shut = _shut(density)
    give = lattice.gives_at(density, poisson) * knee
    stress = modulus_kpa * stiffness_ratio(structure, density, poisson) * _cells(lattice, shut, np.array([give]))[0]
    return StressCurve(_STRAIN, stress, shut, lattice.poisson)


_SOLID_STRAIN = np.linspace(0.0, 0.7, 141)
_SOLID_SHUT = 0.6


def _solid_stress() -> Float:
    stretch = 1.0 - _SOLID_STRAIN
    return np.asarray((stretch**-2 - stretch) / 3.0)


def _shut(density: float) -> float:
    return float(np.clip(1.0 - 1.4 * density, 0.1, 0.95))


def _cells(lattice: Lattice, shut: float, give: Float) -> Float:
    """Return the stress of cells over their modulus at `_STRAIN`, (k, m), for k strains at which they give way."""
    first = lattice.gives_way.middle(np.append(_STRAIN, shut) / give[:, None])
    odds = (_STRAIN * (1.0 - shut) / ((1.0 - _STRAIN) * shut)) ** _DENSIFYING
    return np.asarray(give[:, None] * (first[:, :-1] + first[:, -1:] * odds))


def wrinkle_strain(fill_kpa: float | Float, solid_kpa: float | Float, fill_poisson: float) -> Float:
    """Return the strain at which a contour, held by the fill beside it, wrinkles.

    Notes
    -----
    Stress 0.5 (Ef Ec Gc)^(1/3), Hoff & Mautner 1945 (cited, not read), over the wall's modulus Ef.
    """
    shear = fill_kpa / (2.0 * (1.0 + fill_poisson))
    return np.asarray(0.5 * np.cbrt(solid_kpa * fill_kpa * shear) / solid_kpa)


def region_curve(
    settings: RegionSettings, model: MaterialModel, geometry: RegionGeometry, strain: float = LEVEL_STRAIN
) -> CurveBand:
    """Return the stress-strain curve of a region as printed, with low and high from the spread of what it rests on.

    Contours stand beside the fill (in parallel, until they wrinkle and then carry no more); closed layers lie on it (in
    series). Low and high are the curve over and times exp(1.645 s), s the standard deviation of the logarithm of the
    secant modulus at `strain`, from the model's covariance by its derivatives and the region's own scatter. At other
    strains the spread is another: `CurveBand.shared` holds the curves for that. Raises InputError when the settings
    leave nothing that carries, or the region has no size.
    """
    if min(geometry.thickness_mm, geometry.area_mm2) <= 0.0:
        raise InputError(f"A region of {geometry.area_mm2:g} mm2 and {geometry.thickness_mm:g} mm has no size.")
    middle = _curve(settings, model, geometry, model.unknowns)
    step = 0.05
    moved = [_curve(settings, model, geometry, model.unknowns + step * unit) for unit in np.eye(len(UNKNOWNS))]
    gradient = np.log([curve.secant_kpa(strain) / middle.secant_kpa(strain) for curve in moved]) / step
    notes, is_outside = _notes(settings, geometry)
    own = _own_sd(settings, model, strain, is_beyond=bool(notes))
    # A calibration's covariance holds already what a new print may differ by.
    alone = 0.0 if model.basis == "measured" and not notes else own
    down, up = (
        float(np.exp(NINETY * np.sqrt(gradient @ side @ gradient + alone**2)))
        for side in (model.covariance, model.covariance_up)
    )
    basis = weaker(model.basis, "model") if not is_outside else "assumed"
    return CurveBand(
        middle,
        middle.scaled(1.0 / down),
        middle.scaled(up),
        basis,
        notes,
        _shared(settings, model, geometry),
        float(np.exp(NINETY * own)),
        strain,
    )


def _own_sd(settings: RegionSettings, model: MaterialModel, strain: float, *, is_beyond: bool) -> float:
    """Return the standard deviation of the logarithm of what a region has of its own."""
    parts = [OWN_SPREAD]
    if settings.fill_structure not in ("solid", "none"):
        parts += [OWN_UNFITTED, _edges_sd(settings, model, strain)] if model.basis != "measured" else []
        parts += [OWN_OUTSIDE] if is_beyond else []
    return float(np.linalg.norm(parts))


def _edges_sd(settings: RegionSettings, model: MaterialModel, strain: float) -> float:
    """Return the same of how the edges of its walls are held and how flat they are."""
    lattice, density = lattice_of(settings.fill_structure), _density(settings)
    give = lattice.gives_at(density, model.poisson) * float(np.exp(model.unknowns[UNKNOWNS.index("knee")]))
    return lattice.gives_way.spread_at(strain / give) / NINETY


def _density(settings: RegionSettings) -> float:
    return relative_density(
        settings.fill_structure,
        settings.solid_share_pct,
        settings.fill_cell_mm,
        settings.bead_width_mm,
        settings.layer_thickness_mm,
    )


def _shared(
    settings: RegionSettings, model: MaterialModel, geometry: RegionGeometry
) -> tuple[tuple[StressCurve, StressCurve], ...]:
    """Return the curve at both ends of each principal axis of the covariance, softer modulus first."""
    variance, axes = np.linalg.eigh(model.covariance)
    pairs = []
    for size, axis in zip(variance, axes.T, strict=True):
        if size <= 1e-12:
            continue
        move = NINETY * np.sqrt(size) * axis
        low, high = (
            _curve(settings, model, geometry, model.unknowns + model.as_far_up(sign * move)) for sign in (-1.0, 1.0)
        )
        pairs.append((low, high))
    return tuple(pairs)


def middle_curve(
    settings: RegionSettings, model: MaterialModel, geometry: RegionGeometry, unknowns: Float | None = None
) -> StressCurve:
    """Return `region_curve`'s middle curve alone, several times as fast: for a search that asks again and again.

    With `unknowns` (4,) these take the place of the model's own: for a fit.
    """
    return _curve(settings, model, geometry, model.unknowns if unknowns is None else unknowns)


@dataclass(frozen=True, eq=False)
class CurvePoints:
    """Stress against strain of one region for k sets of unknowns at once."""

    strain: Float  # (k, m)
    stress_kpa: Float  # (k, m)
    densification: float
    poisson: float
    wall_share: Float  # (k,)


def curve_points(
    settings: RegionSettings, model: MaterialModel, geometry: RegionGeometry, unknowns: Float
) -> CurvePoints:
    """Return `middle_curve` for many `unknowns` (k, 4) together: for a fit, which asks thousands of times."""
    modulus_factor, fill_factor, knee, wrinkle = np.exp(unknowns).T
    solid = model.modulus_kpa * modulus_factor
    structure = settings.fill_structure
    density = _density(settings)
    wall = bead_wall_mm(settings.bead_width_mm, settings.layer_thickness_mm)
    share = min(settings.contour_count * wall * geometry.perimeter_mm / geometry.area_mm2, 1.0)
    if structure == "solid" or share >= 1.0:
        strain = np.broadcast_to(_SOLID_STRAIN, (len(solid), len(_SOLID_STRAIN)))
        return CurvePoints(strain, solid[:, None] * _solid_stress(), _SOLID_SHUT, model.poisson, np.zeros(len(solid)))
    if structure == "none" or density <= 0.0:
        if share <= 0.0:
            raise InputError("A region with neither fill nor contours carries nothing.", hint="Give it a fill.")
        lattice, density, poisson = lattice_of("gyroid"), 1e-3, 0.0
        bare = solid
    else:
        lattice = lattice_of(structure)
        poisson = lattice.poisson
        ceiling = lattice.ceiling(density, model.poisson) / lattice.stiffness(density, model.poisson)
        bare = solid * np.minimum(fill_factor, ceiling)
    modulus = bare * lattice.stiffness(density, model.poisson)
    shut = _shut(density)
    filled = modulus[:, None] * _cells(lattice, shut, lattice.gives_at(density, model.poisson) * knee)
    # The first slope as a curve has it, between its first two points.
    small = filled[:, 1] / _STRAIN[1]
    give = (wrinkle_strain(np.maximum(small, 1e-6 * solid), solid, poisson) * wrinkle)[:, None]
    stress = share * solid[:, None] * give * levels_off(_STRAIN / give) + (1.0 - share) * filled
    skin = (settings.body_side_layer_count + settings.base_side_layer_count) * settings.layer_thickness_mm
    series = min(skin / geometry.thickness_mm, 0.9)
    strain = (1.0 - series) * _STRAIN + series * np.minimum(stress / solid[:, None], 0.5)
    walls = share * solid / (share * solid + (1.0 - share) * small)
    return CurvePoints(strain, stress, (1.0 - series) * shut, poisson, walls)


def _curve(settings: RegionSettings, model: MaterialModel, geometry: RegionGeometry, unknowns: Float) -> StressCurve:
    found = curve_points(settings, model, geometry, unknowns[None])
    return StressCurve(
        found.strain[0], found.stress_kpa[0], found.densification, found.poisson, float(found.wall_share[0])
    )


def _notes(settings: RegionSettings, geometry: RegionGeometry) -> tuple[tuple[str, ...], bool]:
    structure = settings.fill_structure
    if structure in ("solid", "none"):
        return (), False
    wall = bead_wall_mm(settings.bead_width_mm, settings.layer_thickness_mm)
    density = _density(settings)
    notes = []
    cell = settings.fill_cell_mm or cell_mm(structure, density, wall)
    if cell * 2.0 > geometry.thickness_mm:
        notes.append(
            to_look_at(
                f"Cells of {cell:.0f} mm are more than half the {geometry.thickness_mm:.0f} mm thickness: single walls "
                "will be felt, and the computed stiffness is an average."
            )
        )
    low, high = lattice_of(structure).checked
    is_outside = not low <= density <= high
    if is_outside:
        notes.append(
            to_look_at(
                f"A {structure} of {100 * density:.0f} % lies outside {100 * low:g} to {100 * high:g} %, "
                "where the stiffness law was checked."
            )
        )
    return tuple(notes), is_outside
