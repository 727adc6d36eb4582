"""From print settings to the stress-strain curve of a region: fill, contours and closed layers together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ...base.errors import InputError
from ...base.estimate import weaker
from ...base.mesh import Float
from .curves import LEVEL_STRAIN, CurveBand, StressCurve
from .fill_geometry import bead_wall_mm, cell_mm, relative_density
from .material_model import NINETY, OWN_OUTSIDE, OWN_SPREAD, OWN_UNFITTED, UNKNOWNS, MaterialModel

_STRAIN = np.concatenate([np.linspace(0.0, 0.2, 81), np.linspace(0.21, 0.98, 78)])
"""Fine where walls buckle, to 98 %."""

_KNEE = 0.10
"""Strain over which a gyroid sheet gives way. Assumed: no measurement on flexible filament was found; coupons tell."""

_DENSIFYING = 2.5
"""How sharply stress rises as cells shut, n of Avalle's curve; foams have 1 to 4 (Avalle 2007, cited, not read)."""


class SettingsLike(Protocol):
    """The settings that stiffness depends on."""

    @property
    def bead_width_mm(self) -> float: ...  # noqa: D102
    @property
    def layer_thickness_mm(self) -> float: ...  # noqa: D102
    @property
    def fill_structure(self) -> str: ...  # noqa: D102
    @property
    def solid_share_pct(self) -> float: ...  # noqa: D102
    @property
    def fill_cell_mm(self) -> float | None: ...  # noqa: D102
    @property
    def contour_count(self) -> int: ...  # noqa: D102
    @property
    def body_side_layer_count(self) -> int: ...  # noqa: D102
    @property
    def base_side_layer_count(self) -> int: ...  # noqa: D102


@dataclass(frozen=True)
class RegionGeometry:
    """The size of a region across and along the press: mean thickness mm, area mm2 and perimeter mm seen along it."""

    thickness_mm: float
    area_mm2: float
    perimeter_mm: float


def upper_bound(density: float, poisson: float) -> float:
    """Return the largest E/E_solid an isotropic porous solid can have (Hashin & Shtrikman 1963).

    Notes
    -----
    With void share f: K = Ks + f / (-1/Ks + 3 (1-f)/(3 Ks + 4 Gs)), G = Gs + f / (-1/Gs + 6 (1-f)(Ks + 2 Gs) /
    (5 Gs (3 Ks + 4 Gs))), E = 9 K G / (3 K + G).
    """
    bulk, shear, void = 1.0 / (3.0 * (1.0 - 2.0 * poisson)), 1.0 / (2.0 * (1.0 + poisson)), 1.0 - density
    if density <= 0.0:
        return 0.0
    k = bulk + void / (-1.0 / bulk + 3.0 * density / (3.0 * bulk + 4.0 * shear))
    g = shear + void / (
        -1.0 / shear + 6.0 * density * (bulk + 2.0 * shear) / (5.0 * shear * (3.0 * bulk + 4.0 * shear))
    )
    return 9.0 * k * g / (3.0 * k + g)


def stiffness_ratio(structure: str, density: float, poisson: float) -> float:
    """Return E/E_solid of a fill structure along the layers' normal, small strain.

    Notes
    -----
    Vertical walls (honeycomb, square grid): the solid share itself (Voigt; Gibson & Ashby 1997, chapter 4, cited, not
    read), exact until they buckle. Gyroid sheet: the bound times a + (1 - a) rho^p, a = 0.505, p = 1.52, which meets
    the solid at full density and lies within 2 % of our own periodic finite elements at 10, 20 and 30 % (Poisson's
    ratio 0.48: 0.028, 0.064, 0.108; at 0.30 it is 7 to 9 % under them); outside 10 to 30 % it is an interpolation.
    """
    if structure == "solid":
        return 1.0
    if structure == "none":
        return 0.0
    if structure == "gyroid":
        return upper_bound(density, poisson) * (0.505 + 0.495 * density**1.52)
    if structure in ("honeycomb", "square_grid"):
        return density
    raise InputError(
        f'There is no model for the structure "{structure}".', hint="Use gyroid, honeycomb or square_grid."
    )


def buckling_strain(structure: str, density: float, poisson: float) -> float:
    """Return the strain at which vertical walls buckle under load along them.

    Notes
    -----
    Honeycomb: stress 4.619 / (1 - nu^2) (t/l)^3 E_solid with rho = (2/sqrt 3) t/l (Gibson & Ashby 1997, 4.3, cited,
    not read). Square grid: long simply supported plates, kc = 4, stress kc pi^2 E / (12 (1 - nu^2)) (t/s)^2 with
    rho = 2 t/s (Timoshenko, cited, not read). Over E = rho E_solid (honeycomb) and per wall (grid).
    """
    if structure == "honeycomb":
        return 4.619 / (1.0 - poisson**2) * (0.5 * np.sqrt(3.0)) ** 3 * density**2
    return float(4.0 * np.pi**2 / (12.0 * (1.0 - poisson**2)) * (0.5 * density) ** 2)


def fill_curve(structure: str, density: float, modulus_kpa: float, poisson: float, knee: float = 1.0) -> StressCurve:
    """Return the curve of a fill without contours.

    Parameters
    ----------
    structure : str
    density : float
        Solid share, 0 to 1.
    modulus_kpa, poisson : float
        Of the solid.
    knee : float
        Factor on the strain at which the fill gives way.

    Notes
    -----
    Solid: neo-Hookean, sigma = (E/3)(1/L^2 - L), L = 1 - strain (Treloar, cited, not read); free to spread sideways.
    Gyroid: Avalle's form (2007), E k (1 - exp(-e/k)) + B (e/(1-e))^n, with the knee k and B so that the second term
    equals the first where the cells shut, at 1 - 1.4 rho (Gibson & Ashby 1997, cited, not read). Honeycomb and grid:
    linear to the buckling strain, then level, then the same rise. Poisson's ratio of the whole: gyroid 0.37 (own
    finite elements; measured 0.34 +/- 0.06: DeValk & Lakes 2021), vertical walls 0 (they swell into their cells;
    assumed).
    """
    if structure == "solid":
        strain = np.linspace(0.0, 0.7, 141)
        stretch = 1.0 - strain
        return StressCurve(strain, modulus_kpa / 3.0 * (stretch**-2 - stretch), 0.6, poisson)
    modulus = modulus_kpa * stiffness_ratio(structure, density, poisson)
    shut = float(np.clip(1.0 - 1.4 * density, 0.1, 0.95))
    if structure == "gyroid":
        give = _KNEE * knee
        stress = modulus * give * -np.expm1(-_STRAIN / give)
        level, whole = modulus * give, 0.37
    else:
        give = min(buckling_strain(structure, density, poisson) * knee, shut)
        stress = modulus * np.minimum(_STRAIN, give)
        level, whole = modulus * give, 0.0
    odds = _STRAIN / (1.0 - _STRAIN)
    stress = stress + level * (odds * (1.0 - shut) / shut) ** _DENSIFYING
    return StressCurve(_STRAIN, stress, shut, whole)


def wrinkle_strain(fill_kpa: float, solid_kpa: float, fill_poisson: float) -> float:
    """Return the strain at which a contour, held by the fill beside it, wrinkles.

    Notes
    -----
    Stress 0.5 (Ef Ec Gc)^(1/3), Hoff & Mautner 1945 (cited, not read), over the wall's modulus Ef.
    """
    shear = fill_kpa / (2.0 * (1.0 + fill_poisson))
    return float(0.5 * np.cbrt(solid_kpa * fill_kpa * shear) / solid_kpa)


def region_curve(settings: SettingsLike, model: MaterialModel, geometry: RegionGeometry) -> CurveBand:
    """Return the stress-strain curve of a region as printed, with low and high from the spread of what it rests on.

    Contours stand beside the fill (in parallel, until they wrinkle and then carry no more); closed layers lie on it
    (in series). Low and high are the curve over and times exp(1.645 s), s the standard deviation of the logarithm of
    the secant modulus at 10 % strain, from the model's covariance by its derivatives and the region's own scatter. At
    a body's strains of a few percent the spread is another: `CurveBand.shared` holds the curves for that.

    Raises
    ------
    InputError
        When the settings leave nothing that carries, or the region has no size.
    """
    if min(geometry.thickness_mm, geometry.area_mm2) <= 0.0:
        raise InputError(f"A region of {geometry.area_mm2:g} mm2 and {geometry.thickness_mm:g} mm has no size.")
    middle = _curve(settings, model, geometry, model.unknowns)
    step = 0.05
    moved = [_curve(settings, model, geometry, model.unknowns + step * unit) for unit in np.eye(len(UNKNOWNS))]
    gradient = np.log([curve.secant_kpa(LEVEL_STRAIN) / middle.secant_kpa(LEVEL_STRAIN) for curve in moved]) / step
    notes, is_outside = _notes(settings, geometry)
    own = _own_sd(settings, model, is_beyond=bool(notes))
    # A calibration's covariance holds already what a new print may differ by.
    alone = 0.0 if model.basis == "measured" and not notes else own
    factor = float(np.exp(NINETY * np.sqrt(gradient @ model.covariance @ gradient + alone**2)))
    basis = weaker(model.basis, "model") if not is_outside else "assumed"
    return CurveBand(
        middle,
        middle.scaled(1.0 / factor),
        middle.scaled(factor),
        basis,
        notes,
        _shared(settings, model, geometry),
        float(np.exp(NINETY * own)),
    )


def _own_sd(settings: SettingsLike, model: MaterialModel, *, is_beyond: bool) -> float:
    """Return the standard deviation of the logarithm of what a region has of its own."""
    parts = [OWN_SPREAD]
    if settings.fill_structure not in ("solid", "none"):
        parts += [OWN_UNFITTED] if model.basis != "measured" else []
        parts += [OWN_OUTSIDE] if is_beyond else []
    return float(np.linalg.norm(parts))


def _shared(
    settings: SettingsLike, model: MaterialModel, geometry: RegionGeometry
) -> tuple[tuple[StressCurve, StressCurve], ...]:
    """Return the curve at both ends of each principal axis of the covariance, softer modulus first."""
    variance, axes = np.linalg.eigh(model.covariance)
    pairs = []
    for size, axis in zip(variance, axes.T, strict=True):
        if size <= 1e-12:
            continue
        move = NINETY * np.sqrt(size) * axis
        low, high = (_curve(settings, model, geometry, model.unknowns + sign * move) for sign in (-1.0, 1.0))
        pairs.append((low, high))
    return tuple(pairs)


def middle_curve(
    settings: SettingsLike, model: MaterialModel, geometry: RegionGeometry, unknowns: Float | None = None
) -> StressCurve:
    """Return `region_curve`'s middle curve alone, several times as fast: for a search that asks again and again.

    With `unknowns` (4,) these take the place of the model's own: for a fit.
    """
    return _curve(settings, model, geometry, model.unknowns if unknowns is None else unknowns)


def _curve(settings: SettingsLike, model: MaterialModel, geometry: RegionGeometry, unknowns: Float) -> StressCurve:
    modulus_factor, fill_factor, knee, wrinkle = np.exp(unknowns)
    solid = model.modulus_kpa * modulus_factor
    structure = settings.fill_structure
    density = relative_density(
        structure,
        settings.solid_share_pct,
        settings.fill_cell_mm,
        settings.bead_width_mm,
        settings.layer_thickness_mm,
    )
    wall = bead_wall_mm(settings.bead_width_mm, settings.layer_thickness_mm)
    share = min(settings.contour_count * wall * geometry.perimeter_mm / geometry.area_mm2, 1.0)
    if structure == "solid" or share >= 1.0:
        return fill_curve("solid", 1.0, solid, model.poisson)
    if structure == "none" or density <= 0.0:
        if share <= 0.0:
            raise InputError("A region with neither fill nor contours carries nothing.", hint="Give it a fill.")
        bare = fill_curve("gyroid", 1e-3, solid, model.poisson, knee)
        fill = StressCurve(bare.strain, bare.stress_kpa, bare.densification, 0.0)
    else:
        # No factor may lift an isotropic structure over its bound. Along vertical walls the law is exact, and the
        # factor says how much more or less wall was printed than asked, so there only the solid is the limit.
        law = stiffness_ratio(structure, density, model.poisson)
        ceiling = upper_bound(density, model.poisson) if structure == "gyroid" else 1.0
        fill = fill_curve(structure, density, solid * min(fill_factor, ceiling / law), model.poisson, knee)
    give = wrinkle_strain(max(fill.small_strain_kpa, 1e-6 * solid), solid, fill.poisson) * wrinkle
    stress = share * solid * np.minimum(fill.strain, give) + (1.0 - share) * fill.stress_kpa
    skin = (settings.body_side_layer_count + settings.base_side_layer_count) * settings.layer_thickness_mm
    series = min(skin / geometry.thickness_mm, 0.9)
    strain = (1.0 - series) * fill.strain + series * np.minimum(stress / solid, 0.5)
    walls = share * solid / (share * solid + (1.0 - share) * fill.small_strain_kpa)
    return StressCurve(strain, stress, (1.0 - series) * fill.densification, fill.poisson, walls)


def _notes(settings: SettingsLike, geometry: RegionGeometry) -> tuple[tuple[str, ...], bool]:
    structure = settings.fill_structure
    if structure in ("solid", "none"):
        return (), False
    wall = bead_wall_mm(settings.bead_width_mm, settings.layer_thickness_mm)
    density = relative_density(
        structure, settings.solid_share_pct, settings.fill_cell_mm, settings.bead_width_mm, settings.layer_thickness_mm
    )
    notes = []
    cell = settings.fill_cell_mm or cell_mm(structure, density, wall)
    if cell * 2.0 > geometry.thickness_mm:
        notes.append(
            f"Cells of {cell:.0f} mm are more than half the {geometry.thickness_mm:.0f} mm thickness: single walls "
            "will be felt, and the computed stiffness is an average."
        )
    is_outside = structure == "gyroid" and not 0.1 <= density <= 0.3
    if is_outside:
        notes.append(f"A gyroid of {100 * density:.0f} % lies outside 10 to 30 %, where the stiffness law was checked.")
    return tuple(notes), is_outside
