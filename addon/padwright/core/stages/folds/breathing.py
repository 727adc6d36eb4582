"""Air in the voids between folded walls: the openings that let it out when a body sits down, or the spring it is."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import spsolve

from ...base.errors import InputError, SolveError
from ...base.mesh import Float, Int
from ..material.curves import StressCurve

OUTSIDE = -1
"""The air around the pad, where a link names no void."""

SIT_DOWN_S = 0.3
"""From first touch to full load. Assumed: quick, and no fall."""

MOST_KPA = 1.0
"""Pressure in a void above which air carries what the walls should: a tenth of what a seated body puts on."""

DISCHARGE = 0.6
"""Of a sharp-edged hole (textbooks on orifices); a rounded one, or one as deep as wide, lets more through."""

AIR_KG_M3 = 1.204
"""Dry air at 20 degrees C and 101.325 kPa, by the gas law."""

ATMOSPHERE_KPA = 101.325
"""Standard atmosphere (ISO 2533), at sea level; 80 kPa at 2000 m."""

WATER_N_M = 0.0728
"""Surface tension of clean water at 20 degrees C (IAPWS R1-76); soap lowers it, so what drains clean drains soapy."""

_WATER_N_M3 = 998.2 * 9.80665
_STILL_SHARE = 1e-4
"""Flows below this share of the whole count as this where their drop of pressure is made straight: it has no slope at
none."""

_WHOLE_STEPS, _MOST_STEPS = 15, 100
_DONE_SHARE = 1e-6
_MOST_SHUT = 0.95


@dataclass(frozen=True, eq=False)
class Airways:
    """Voids, what is squeezed out of each, and the openings between them and to the outside."""

    # (v,); by how much a sit-down makes each void smaller. Rubber keeps its volume, so this is the ground the void and
    # its share of the walls take, times how far the pad gives there.
    squeezed_mm3: Float
    links: Int  # (e, 2); the two voids that openings join, or a void and `OUTSIDE`
    area_mm2: Float  # (e,); all openings of a link together, unloaded


def void_pressures(airways: Airways, strain: float = 0.0, seconds: float = SIT_DOWN_S) -> Float:
    """Return the highest pressure over the outside's in each void (v,), kPa, during one sit-down.

    `strain` is how far the core is pressed at its end: openings get lower with the core.

    Raises InputError when air has no way out of a void, SolveError when the flows do not settle.

    Notes
    -----
    Through each opening goes Q = Cd A sqrt(2 dp / rho), and out of each void what comes in and what is squeezed
    (quasi-steady: the air's own springiness, 1 % of its volume at 1 kPa, only takes off the peak). The flow's worst
    moment is taken (`hardest_moment`). Newton steps on the flows, whose drop of pressure goes as Q |Q|: each step is a
    linear net, as for water in pipes (Todini & Pilati 1988, cited, not read).
    """
    squeezed, links, area = _checked(airways)
    voids = len(squeezed)
    is_open = area > 0.0
    _ways_out(voids, links[is_open], "Give it an opening.")
    pushed = squeezed * hardest_moment(strain) / seconds
    scale = float(pushed.sum())
    if scale == 0.0:
        return np.zeros(voids)
    ends = np.where(links[is_open] == OUTSIDE, voids, links[is_open])
    conductance = (DISCHARGE * float(_speed_mm_s(1.0)) * area[is_open]) ** 2
    flow = np.full(len(ends), scale)
    for step in range(_MOST_STEPS):
        slope = 0.5 * conductance / np.maximum(np.abs(flow), _STILL_SHARE * scale)
        kept = flow - slope * flow * np.abs(flow) / conductance
        pressure = np.append(spsolve(_laplacian(ends, slope, voids), pushed - _sums(ends, kept, voids)), 0.0)
        move = kept + slope * (pressure[ends[:, 0]] - pressure[ends[:, 1]]) - flow
        if float(np.abs(move).max()) <= _DONE_SHARE * scale:
            return np.asarray(pressure[:voids])
        # A link that hardly flows may be stepped over to and fro: then half a step.
        flow = flow + (move if step < _WHOLE_STEPS else 0.5 * move)
    raise SolveError(f"The air's flow between {voids} voids does not settle.", hint="Give openings of more even sizes.")


def least_areas(
    squeezed_mm3: Float, links: Int, strain: float = 0.0, most_kpa: float = MOST_KPA, seconds: float = SIT_DOWN_S
) -> Float:
    """Return the opening of each link (e,), mm2, whose sum is least while no void comes above a pressure.

    Air takes the way over the fewest openings; links beside these ways get 0. Other arguments as in `void_pressures`.

    Raises InputError when air has no way out of a void, or the pressure is none.

    Notes
    -----
    Along a way the drops of pressure add up to the most allowed. Q dp^-0.5, summed, is least where the drops go as
    Q^(2/3) (Lagrange), so openings taper as Q^(2/3) inward; a branch that takes in others counts as one flow
    K = (Q^(2/3) + (sum of theirs)^(2/3))^(3/2). So the sum of the openings is the least for these ways.
    """
    squeezed, pairs, _ = _checked(Airways(squeezed_mm3, links, np.ones(len(links))))
    if not most_kpa > 0.0:
        raise InputError(f"No opening keeps voids at {most_kpa:g} kPa or less.", hint="Allow more than 0 kPa.")
    order, link, onward = _ways_out(len(squeezed), pairs, "Join it to another void or to the outside.")
    flow = squeezed * hardest_moment(strain) / seconds
    behind = np.zeros(len(squeezed))  # the K of what a void takes in, added up
    whole = np.zeros(len(squeezed))
    for void in reversed(order):
        whole[void] = (flow[void] ** (2 / 3) + behind[void] ** (2 / 3)) ** 1.5
        if onward[void] != OUTSIDE:
            flow[onward[void]] += flow[void]
            behind[onward[void]] += whole[void]
    area, left = np.zeros(len(pairs)), np.zeros(len(squeezed))
    for void in order:
        free = most_kpa if onward[void] == OUTSIDE else left[onward[void]]
        if whole[void] > 0.0:
            drop = free * (flow[void] / whole[void]) ** (2 / 3)
            area[link[void]] = flow[void] / (DISCHARGE * float(_speed_mm_s(drop)))
            left[void] = max(free - drop, 0.0)
    return area


def hardest_moment(strain: float) -> float:
    """Return the most by which flow over opening exceeds that of an even press with open holes, over a sit-down.

    A body sinks as half a cosine over time (assumed), fastest half way, 1.57 times the mean; openings that stand in the
    walls are lower by the strain reached. Raises InputError when the strain is not from 0 to 0.95.
    """
    if not 0.0 <= strain <= _MOST_SHUT:
        raise InputError(f"A core cannot be pressed by {100 * strain:g} %.", hint="Give 0 to 95 %.")
    turn = np.linspace(0.0, np.pi, 721)
    return float((0.5 * np.pi * np.sin(turn) / (1.0 - 0.5 * strain * (1.0 - np.cos(turn)))).max())


def held_water_mm(wide_mm: float) -> float:
    """Return how high water stands behind a round hole before it runs out by its own weight, mm.

    Notes
    -----
    A drop holds back until its pressure, 4 gamma / d over a round hole (Young and Laplace), is outweighed by the water
    above: 4 gamma / (rho g d).
    """
    if not wide_mm > 0.0:
        raise InputError(f"No water runs out of a hole {wide_mm:g} mm wide.")
    return 4.0 * WATER_N_M / (_WATER_N_M3 * wide_mm * 1e-3) * 1e3


def sealed_stress_kpa(strain: Float, void_share: float) -> Float:
    """Return the nominal stress that air adds to a core whose voids are sealed, kPa, of the strain's shape.

    Endless from the strain at which nothing is left for the air, `void_share` of the core's volume.

    Raises InputError when the share is not between 0 and 1, or a strain is negative.

    Notes
    -----
    Sides held and walls that keep their volume: of a core of volume 1 the air has v, and v - e at the strain e. Slow
    enough to stay at the room's warmth it follows Boyle: p = p_atm v / (v - e). Pressing on by de takes all of de from
    the air, so the work (p - p_atm) de is the core's, and its stress is p - p_atm = p_atm e / (v - e). The same stands
    in Gibson & Ashby 1997, chapter 5, for closed cells without Poisson's effect (cited, not read). Warmth gets through
    2.5 mm of air in (2.5 mm / pi)^2 / (21 mm2/s) = 0.03 s, so a sit-down in 0.3 s is slow.
    """
    if not 0.0 < void_share < 1.0:
        raise InputError(f"Voids cannot be {100 * void_share:g} % of a core.")
    given = np.asarray(strain, dtype=np.float64)
    if (given < 0.0).any():
        raise InputError(f"Sealed air is reckoned under compression only; got a strain of {given.min():g}.")
    room = void_share - given
    return np.where(room > 0.0, ATMOSPHERE_KPA * given / np.where(room > 0.0, room, 1.0), np.inf)


def sealed_curve(curve: StressCurve, void_share: float) -> StressCurve:
    """Return a core's curve with the air of sealed voids in it.

    It ends, and shuts, at nine tenths of the strain at which the air has no room left, where air alone takes nine
    atmospheres, or where the walls' own does. Raises InputError as `sealed_stress_kpa`.
    """
    last = min(0.9 * void_share, float(curve.strain[-1]))
    strain = np.unique(np.concatenate([curve.strain[curve.strain <= last], np.linspace(0.0, last, 181)]))
    stress = curve.stress(strain) + sealed_stress_kpa(strain, void_share)
    return StressCurve(strain, stress, min(curve.densification, last), curve.poisson, curve.wall_share)


def _speed_mm_s(drop_kpa: Float | float) -> Float:
    """Return how fast air leaves under a drop of pressure, mm/s (Bernoulli)."""
    return np.sqrt(2e3 * np.asarray(drop_kpa) / AIR_KG_M3) * 1e3


def _checked(airways: Airways) -> tuple[Float, Int, Float]:
    squeezed = np.asarray(airways.squeezed_mm3, dtype=np.float64)
    links = np.asarray(airways.links, dtype=np.int32).reshape(-1, 2)
    area = np.asarray(airways.area_mm2, dtype=np.float64)
    if not (np.isfinite(squeezed).all() and (squeezed >= 0.0).all()):
        raise InputError(f"A void cannot be squeezed by {squeezed.min():g} mm3.")
    if len(area) != len(links) or not (np.isfinite(area).all() and (area >= 0.0).all()):
        raise InputError(f"{len(links)} links need as many openings, none negative; got {len(area)}.")
    if len(links) and not (links.min() >= OUTSIDE and links.max() < len(squeezed)):
        raise InputError(f"A link names void {links.max()}; there are {len(squeezed)}, counted from 0.")
    if (links[:, 0] == links[:, 1]).any():
        raise InputError("A link joins a void with itself.")
    return squeezed, links, area


def _ways_out(voids: int, links: Int, hint: str) -> tuple[list[int], Int, Int]:
    """Return the voids from the outside inward, and by void the link and the neighbor on its shortest way out."""
    beside: list[list[tuple[int, int]]] = [[] for _ in range(voids + 1)]
    for index, (one, other) in enumerate(links.tolist()):
        beside[one].append((other, index))  # the outside, -1, is the last
        beside[other].append((one, index))
    link, onward = np.full(voids, -1, dtype=np.int32), np.full(voids, OUTSIDE, dtype=np.int32)
    order: list[int] = []
    waiting = deque([OUTSIDE])
    while waiting:
        here = waiting.popleft()
        for there, index in beside[here]:
            if there != OUTSIDE and link[there] < 0:
                link[there], onward[there] = index, here
                order.append(there)
                waiting.append(there)
    if len(order) < voids:
        shut = int(np.flatnonzero(link < 0)[0])
        raise InputError(f"Air has no way out of void {shut} ({voids - len(order)} of {voids} are shut).", hint=hint)
    return order, link, onward


def _sums(ends: Int, flow: Float, voids: int) -> Float:
    """Return what leaves each void (v,)."""
    out, into = (np.bincount(side, flow, voids + 1) for side in ends.T)
    return np.asarray((out - into)[:voids], dtype=np.float64)


def _laplacian(ends: Int, slope: Float, voids: int) -> csc_matrix:
    one, other = ends.T
    rows, columns = np.concatenate([one, other, one, other]), np.concatenate([one, other, other, one])
    whole = coo_matrix((np.concatenate([slope, slope, -slope, -slope]), (rows, columns)), (voids + 1, voids + 1))
    return whole.tocsc()[:voids, :voids]
