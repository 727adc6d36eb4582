"""Stiffness and stress of a core of folded walls: bending, shortening, shearing, hoops, waves, neighbors that touch."""

from __future__ import annotations

import numpy as np

from ....base.mesh import Float
from .elastica import segment_table, turned_strain
from .softening import Softening
from .walls import Walls

HOOPS_COUNT = 0.8
"""How much of a ring's hoop stiffness counts. With skins that cannot move aside it is 0.95 where the fold stands
outward and 1.45 where inward; with skins that only their own hoops hold 0.65 and 0.75 (our own axisymmetric finite
elements, the same at small strain and at 0.3). A pad on a board under a body lies between."""

SHEAR_FACTOR = 1.2
"""Of a strip of rectangular section (Timoshenko, cited, not read)."""

_SHUT_TO = 0.8
"""Share of the way from touching neighbors to nothing but solid up to which the law is followed; from there, at 25
times the stress, it goes straight on."""

_LEAST_SLOPE = np.radians(0.05)  # upright: what the table begins with
SOFTENING = Softening()


def _moduli(solid_kpa: Float | float, poisson: float) -> tuple[Float, Float, Float]:
    """Return E, E/(1 - nu^2) and G, each as a column."""
    solid = np.reshape(np.asarray(solid_kpa, dtype=np.float64), (-1, 1))
    return solid, solid / (1.0 - poisson**2), solid / (2.0 * (1.0 + poisson))


def _column(values: Float) -> Float:
    return values[:, None]


def _slope(walls: Walls) -> Float:
    return np.maximum(walls.slope, _LEAST_SLOPE)


def hoop_share(walls: Walls, poisson: float) -> Float:
    """Return what share of a segment's hoop energy counts at the fold's own displacement, 13/35 where slight (n,).

    Notes
    -----
    A fold that moves by U across the wall stretches rings of radius R by u/R, u from 0 at the foot to U at the fold: a
    bent strip on springs E t/R^2. Its end that cannot turn shows 4 E' I b^3 (sinh x cosh x + sin x cos x) / (sinh^2 x -
    sin^2 x), x = b l, 4 b^4 E' I = E t cos^2/R^2 (Hetenyi 1946, Beams on Elastic Foundation, cited, not read), from
    which the strip's own 12 E' I / l^3 is taken off.
    """
    length, thick = walls.segment_mm, walls.thickness_mm
    fourth = 3.0 * (1.0 - poisson**2) * (np.cos(walls.slope) * length**2 / (thick * walls.array("radius_mm"))) ** 2
    x = np.clip(fourth, 1e-12, 1e8) ** 0.25
    grown = np.minimum(x, 20.0)
    stiff = x**3 / 3.0 * (np.sinh(grown) * np.cosh(grown) + np.sin(grown) * np.cos(grown))
    stiff = stiff / (np.sinh(grown) ** 2 - np.sin(grown) ** 2)
    return np.where(fourth < 1e-2, 13.0 / 35.0, (stiff - 1.0) * 3.0 / np.maximum(fourth, 1e-12)) * HOOPS_COUNT


def _beside_kpa(walls: Walls, strain: Float, solid_kpa: Float | float, poisson: float) -> Float:
    """Return the stress that hoops and waves add, (n, m), for walls that would only turn.

    Notes
    -----
    A segment whose ends come nearer moves its fold aside by U = l (sin chi - sin slope), cos chi = cos slope (1 -
    strain). A ring's hoops store share E t l U^2 / (2 R^2) per segment. A waved wall stands askew to where its fold
    goes: either it shears along its run, G t U^2 sin^2 psi / (2 l), or it slips along it and stretches by its own
    bends, as hoops of their radius; the two are in series, within 4 % of shell elements of waved walls. The force is
    the energy's derivative by the way pressed. It would fall beyond sin^3 chi = sin slope; there it stays.
    """
    solid, _, shear = _moduli(solid_kpa, poisson)
    slope = _column(_slope(walls))
    most = np.arcsin(np.cbrt(np.sin(slope)))
    turned = np.minimum(np.arccos(np.cos(slope) * (1.0 - strain)), most)
    lever = (np.sin(turned) - np.sin(slope)) / np.tan(turned)
    thick, length, radius = (_column(each) for each in (walls.thickness_mm, walls.segment_mm, walls.array("radius_mm")))
    hoop = _column(hoop_share(walls, poisson)) * solid * (length / radius) ** 2
    wave = shear * _column(walls.array("waver"))
    held = np.where(wave > 0.0, hoop * wave / np.maximum(hoop + wave, 1e-12), hoop)
    return np.asarray(held * thick * lever / _column(walls.spacing_mm))


def _straight_compliance(walls: Walls, solid_kpa: Float | float, poisson: float) -> Float:
    """Return strain per stress of what only shortens, (n, 1) 1/kPa."""
    _, plane, _ = _moduli(solid_kpa, poisson)
    part = _column(walls.free_length_mm / walls.segment_mm * walls.spacing_mm)
    return np.asarray(part / (np.cos(_column(_slope(walls))) * plane * _column(walls.thickness_mm)))


def modulus_kpa(walls: Walls, solid_kpa: Float | float, poisson: float) -> Float:
    """Return the stiffness of a core at small strain, pressed with its sides held, kPa (n,).

    `solid_kpa` is the solid's modulus, a number or (n,); `poisson` its Poisson's ratio.

    Notes
    -----
    Segments in series, each a strip in plane strain whose ends keep their angle: 1/M = p (1/(B + beside) +
    f/(c E' t l)), B = E' t^3 l c / (s^2 f^3), with free length f of l [own derivation]; `beside` is hoops and waves,
    which stand beside the bending.
    """
    _, plane, _ = _moduli(solid_kpa, poisson)
    slope, thick, length = _column(_slope(walls)), _column(walls.thickness_mm), _column(walls.segment_mm)
    free, pitch = _column(walls.free_length_mm), _column(walls.spacing_mm)
    bending = plane * thick**3 * length * np.cos(slope) / (np.sin(slope) ** 2 * free**3) / pitch
    tiny = np.array([1e-7])
    beside = _beside_kpa(walls, tiny, solid_kpa, poisson) / tiny
    whole = 1.0 / (1.0 / (bending + beside) + _straight_compliance(walls, solid_kpa, poisson))
    return np.asarray(whole[:, 0])


def stress_kpa(
    walls: Walls, strain: Float, solid_kpa: Float | float, poisson: float, softening: Softening = SOFTENING
) -> Float:
    """Return the nominal stress of a core at nominal strains of its height, kPa (n, m).

    `strain` (m,) or (n, m) rises along m; the stress never falls along it. Skins cannot slide against each other.
    `solid_kpa` is the solid's modulus at small strain, a number or (n,). Past `closing_strain` neighbors touch and the
    stress climbs towards the strain at which nothing but solid is left.

    Notes
    -----
    Walls alike cannot turn further where they lie on each other, and are straight there; what is left free, a part x of
    each segment, is the same elastica, shorter. So the stress is 1/x^2 of that at touching, and the strain goes from
    there to 1 - w/p, where all is solid, as 1 - x [own derivation].
    """
    strain = np.asarray(strain, dtype=np.float64)
    _, plane, _ = _moduli(solid_kpa, poisson)
    shut = _column(closing_strain(walls))
    bare = _open_kpa(walls, np.minimum(strain, shut), plane, solid_kpa, poisson, softening)
    snaking = _column(walls.array("folds")) > 1.5
    if snaking.any():
        bare = np.where(snaking, np.minimum(bare, snake_kpa(walls, strain, solid_kpa, poisson)), bare)
    end = np.maximum(1.0 - _column(walls.array("width_mm") / walls.spacing_mm), shut + 0.05)
    way = np.maximum(strain - shut, 0.0) / (end - shut)
    near = np.minimum(way, _SHUT_TO)
    whole = bare * ((1.0 - near) ** -2 + 2.0 * (1.0 - near) ** -3 * (way - near))
    return np.asarray(np.maximum.accumulate(whole, axis=1))


def _open_kpa(
    walls: Walls, strain: Float, plane: Float, solid_kpa: Float | float, poisson: float, softening: Softening
) -> Float:
    """Return the stress while neighbors do not touch, (n, m), for strain (n, m) of the height."""
    table = segment_table(softening)
    pressed, strain = strain, np.clip(strain, 1e-9, 0.95)
    thick, length, free = walls.thickness_mm, walls.segment_mm, walls.free_length_mm
    within = np.minimum(strain * _column(length / free), 0.95)
    secant = table.secant(_column(_slope(walls)), _column(thick / free), within) * _column(length / free)
    secant *= plane * _column(thick**3 / (12.0 * free**2 * walls.spacing_mm))  # stress over strain
    if np.isfinite(walls.array("radius_mm")).any():
        beside = _beside_kpa(walls, strain, solid_kpa, poisson) / strain
        straight = _straight_compliance(walls, solid_kpa, poisson)
        bending = secant / np.maximum(1.0 - secant * straight, 1e-3)
        secant = 1.0 / (1.0 / (bending + beside) + straight)
    return np.asarray(secant * pressed)


def outer_strain(walls: Walls, strain: Float, softening: Softening = SOFTENING) -> Float:
    """Return how much the outer fibers of walls are strained at foot and fold, (n, m), at nominal strains of the core.

    Half the thickness times the curvature there; past `closing_strain` it stays. `strain` is (m,) or (n, m).
    """
    shut = _column(closing_strain(walls))
    length, free = walls.segment_mm, walls.free_length_mm
    part = _column(length / free)
    within = np.clip(np.minimum(strain, shut) * part, 1e-9, 0.95)
    table = segment_table(softening)
    return table.outer(_column(_slope(walls)), _column(walls.thickness_mm / free), within)


def plateau_kpa(walls: Walls, solid_kpa: Float | float, poisson: float) -> Float:
    """Return the stress at which upright walls give way and leaning ones turn fast, kPa (n,).

    Notes
    -----
    Euler's: pi^2 E' t^3 / (12 f^2) per wall and length, f the free length of a segment whose ends keep their angle
    (Timoshenko, cited, not read), and the most that hoops and waves bear beside it.
    """
    _, plane, _ = (each[:, 0] for each in _moduli(solid_kpa, poisson))
    bent = plane * walls.thickness_mm**3 / (12.0 * walls.free_length_mm**2 * walls.spacing_mm)
    return np.asarray(np.pi**2 * bent + _beside_kpa(walls, np.array([1.0]), solid_kpa, poisson)[:, 0])


def shear_kpa(walls: Walls, solid_kpa: Float | float, poisson: float) -> tuple[Float, Float]:
    """Return the stiffness of a core against its skins sliding on each other, across its walls' run and along it, kPa.

    Unpressed; what presses takes from the stiffness across, see `sway_kpa`.

    Notes
    -----
    Across, a wall is a zigzag strip clamped at both ends with the moment P z about its middle: 1/G = p (H^2/(c E' t^3)
    + s^2/(c E' t) + 1.2 c/(G t)), with what its feet add to the free length in the first term; plane finite elements
    are within 5 %. Along, it is a plate of the unfolded height: G t c / p. A waved wall shows cos^2 of one and sin^2 of
    the other [own derivation].
    """
    _, plane, shear = (each[:, 0] for each in _moduli(solid_kpa, poisson))
    sine, cosine = np.sin(_slope(walls)), np.cos(_slope(walls))
    thick, pitch, height = walls.thickness_mm, walls.spacing_mm, walls.array("height_mm")
    bent = (height + (walls.free_length_mm - walls.segment_mm) * cosine) ** 3 / height / (cosine * plane * thick**3)
    across = 1.0 / (pitch * (bent + sine**2 / (cosine * plane * thick) + SHEAR_FACTOR * cosine / (shear * thick)))
    along = shear * thick * cosine / pitch
    waver = walls.array("waver")
    return across * (1.0 - waver) + along * waver, along * (1.0 - waver) + across * waver


def run_tie_kpa_mm(walls: Walls, solid_kpa: Float | float, poisson: float) -> Float:
    """Return S of a core, kPa mm (n,): how it presses back where what it gives, e, changes along the walls' run.

    Notes
    -----
    The pressure is (M/H) e - (S e')', a layer that is Pasternak's along the run (1954, cited, not read).
    Where a place gives by e a wall's segments slide along their own planes by the cosine of their lean times what lies
    below them: on the mean over the unfolded height by c e / 2. Where e changes along the run that shears the wall.
    Skins hold foot and head, folds slide along the run until all segments are sheared alike; so the wall shears as one
    plate of the height H/c by c e'/2, which makes S = G_along H / 4, with G_along as in `shear_kpa` and any number of
    folds [own derivation]. Were folds held too it would be twice as much.
    """
    shear = _moduli(solid_kpa, poisson)[2][:, 0]
    along = shear * walls.thickness_mm * np.cos(walls.slope) / walls.spacing_mm
    return np.asarray(0.25 * along * walls.array("height_mm"))


def snake_kpa(walls: Walls, strain: Float, solid_kpa: Float | float, poisson: float) -> Float:
    """Return the stress at which walls of two folds or more move aside halfway up, between skins that hold, kPa (n, m).

    A wall of one fold has nothing to move aside but its fold, which it does from the start.

    Notes
    -----
    A column clamped at both ends goes at four times `sway_kpa`; folds that lean more stand longer: 1 + tan^4 / 2,
    within 4 % of our own rods for two folds of 15 to 35 degrees. At 40 and 45 those have not gone at half their height;
    three folds hold up to 25 % more.
    """
    return np.asarray(
        4.0 * (1.0 + 0.5 * np.tan(_column(walls.slope)) ** 4) * sway_kpa(walls, strain, solid_kpa, poisson)
    )


def sway_kpa(walls: Walls, strain: Float, solid_kpa: Float | float, poisson: float) -> Float:
    """Return the stress at which a core sways aside whose skins may slide on each other, kPa (n, m).

    Notes
    -----
    A column clamped at both ends, free to move aside, goes at pi^2 B / H^2; its stiffness against that way is
    12 B / H^2, B the bending stiffness per height. Pressed walls are shorter and hold more: 1 + 0.6 strain, within 3 %
    of our own rods for 1 to 3 folds of 15 to 45 degrees.
    """
    across, _ = shear_kpa(walls, solid_kpa, poisson)
    return np.asarray(np.pi**2 / 12.0 * _column(across) * (1.0 + 0.6 * np.asarray(strain)))


def closing_strain(walls: Walls) -> Float:
    """Return the strain of the core at which neighbors touch, (n,).

    Seen in a level cut a wall turned by phi is t / cos(phi) wide, so walls p apart touch where cos(phi) = t/p.
    """
    closed = turned_strain(_slope(walls), walls.thickness_mm / walls.spacing_mm)
    closed = closed * walls.free_length_mm / walls.segment_mm
    room = np.maximum(1.0 - walls.array("width_mm") / walls.spacing_mm, 0.05)  # all solid then: very stubby walls
    return np.clip(closed, 0.02, 0.95 * room)
