"""One solve of a load check: the patch laid out for the solver, the balance, and what must be refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ...base.cached import cached_property
from ...base.errors import InputError, SolveError
from ...base.mesh import Float, Int
from ..body.balance import Balance, balance, is_inside
from ..material.curves import LEVEL_STRAIN, CurveBand, StressCurve
from ..mats.mat_pose import plane_of
from .bulging_layers import COLUMN_LIMIT, Bounds
from .curve_table import CurveTable
from .load_case import ContactPatch, LoadCase
from .loaded_columns import Columns
from .mat_error import AS_SHOWN
from .narrow_contacts import Narrow, narrow_contacts
from .run_layer import UNSURE
from .zone_sides import layer_ratios

MN_PER_N = 1000.0
"""kPa times mm2 is mN."""

NOTHING_SHARE = 0.001
"""Share of the contact area that may be pressed to nothing (single points of a rim) before no answer is given: our
choice; below it a note tells, and the bottoming margin is negative."""

SHUT_SHARE = 0.8
"""Share of the load on bottomed-out places above which no answer is given: our choice."""

_SHARES = (0.8, 0.6, 0.45, 0.3, 0.2, 0.1, 0.05, 0.02)
_HALVINGS = 5
"""Shares of a load that are tried where all of it cannot be borne, and how often the range found is halved."""

_WARM_START = 4000
"""A solve on this many of the points first gives the others a good start."""


_TOLERANCE = 1e-9
"""Share of the load that a balance may leave over."""

_MOST_ROUNDS, _SETTLED = 6, 1e-3
"""How often a body is pressed again for what the pad around its contacts adds, and the change of stiffness that ends
it. Each round leaves a quarter to a third of the change, down to 1 % where single points of a ragged rim come and go:
far below what low and high leave open."""


@dataclass(frozen=True, eq=False)
class SolveInput:
    """What every solve of one check shares; the arrays, (n,), are sorted by kind of column; mm, mm2.

    Each zone is one kind, or several kinds make up a zone (`zone_of`); the patch's `zone` is the kind.
    """

    case: LoadCase
    patch: ContactPatch
    order: Int  # point of the patch for each entry
    area: Float
    gap: Float  # negative where the flesh was already squeezed when the clay took its shape
    thickness: Float
    zone: Int
    lever: Float  # (n, 1 or 3); sinkage for each unit of motion
    reach_mm: float  # length at which the turns of a motion are measured
    force_mn: float
    names: Sequence[str]  # of the zones
    densification: Float  # (k,); strain at which each kind of column is shut
    zone_of: Int  # (k,); which zone each kind of column belongs to
    # What the pad around narrow contacts adds, in the patch's own order; None: not yet known.
    narrow: Narrow | None = None
    narrow_at: float = 0.0  # between its low (-1) and its high (1)
    # (n,), in the patch's own order; what walls even out along their run, as a factor on each column's stress. None:
    # nothing does, or it is not yet known.
    evened: Float | None = None
    evened_at: float = 0.0  # between its low (-1) and its high (1)
    is_middle: bool = False  # the load was given no point: it acts where what the clay or the mat bore has its middle

    @cached_property
    def zone_at(self) -> Int:
        """The zone of every point of the patch, (n,), in its own order."""
        return self.zone_of[self.patch.zone]

    @cached_property
    def columns(self) -> tuple[Float, Float]:
        """Lengths and gaps of the columns, mm, with what narrow contacts add."""
        if self.narrow is None:
            return self.thickness, self.gap
        return self.narrow.part(self.order).columns(self.thickness, self.gap, self.narrow_at)

    @cached_property
    def factors(self) -> Float | None:
        """Factor on each column's stress, (n,), by the kinds' order: its own, and what walls even out."""
        own, evened = self.patch.firmer, self.evened
        if evened is None:
            return None if own is None else own[self.order]
        evened = evened ** (1.0 + UNSURE * self.evened_at)
        return (evened if own is None else own * evened)[self.order]


@dataclass(frozen=True, eq=False)
class Run:
    """One solve: where the body came to rest, pressure kPa and strain of every point of the patch.

    The strain is what the pad gives over its thickness; below a narrow contact the pad near the body is strained more.
    """

    found: Balance
    pressure: Float
    strain: Float


def make_setting(
    case: LoadCase,
    patch: ContactPatch,
    bands: Sequence[CurveBand],
    names: Sequence[str],
    zone_of: Sequence[int] | Int | None = None,
) -> SolveInput:
    """Lay the patch out for the solver; raises InputError when a wrap-around part is given a load point."""
    press = patch.press_direction
    area = patch.area_mm2
    total = float(area.sum())
    if press is None and case.point_mm is not None:
        raise InputError("A load that acts at a point needs a press direction; a wrap-around part is squeezed evenly.")
    point = patch.middle if case.point_mm is None else np.asarray(case.point_mm)
    arm = patch.position - point
    if press is None:
        lever, reach = np.ones((len(area), 1)), 1.0
    else:
        flat = arm @ plane_of(press).T
        reach = max(float(np.linalg.norm(flat, axis=1).max()), 1e-9)
        turns = flat / reach if case.tilt == "free" else flat[:, :0]
        lever = np.concatenate([np.ones((len(area), 1)), turns], axis=1)
    force = case.force_n * MN_PER_N if case.force_n is not None else float(case.mean_pressure_kpa or 0.0) * total
    order = np.argsort(patch.zone, kind="stable")
    return SolveInput(
        case=case,
        patch=patch,
        order=order,
        area=area[order],
        gap=patch.gaps[order] - _squeezed_on_clay(case, patch)[order],
        thickness=patch.thickness_mm[order],
        zone=patch.zone[order],
        lever=lever[order],
        reach_mm=reach,
        force_mn=force,
        names=names,
        densification=np.array([band.value.densification for band in bands]),
        zone_of=np.arange(len(bands)) if zone_of is None else np.asarray(zone_of),
        evened=None if patch.runs is not None else patch.evened,
        is_middle=case.point_mm is None,
    )


def with_body(
    setting: SolveInput, thickness: float, stress: float, heaping: float, mat: Sequence[float] = AS_SHOWN
) -> SolveInput:
    """Return the same load by a body whose flesh is so many times as thick and, at each strain, as stiff.

    `heaping` and `mat` say what the clay or the mat truly bore, as of `ContactPatch.bore_kpa`; where the load acts at
    the middle of that, it moves along.
    """
    moved = _acting_elsewhere(setting, mat)
    if setting.case.flesh is None or (thickness, stress, heaping, *mat) == (1.0, 1.0, 0.0, *AS_SHOWN):
        return moved
    case = replace(setting.case, flesh=setting.case.flesh.scaled(thickness, stress))
    start = _squeezed_on_clay(case, setting.patch, heaping, mat)
    return replace(moved, case=case, gap=(setting.patch.gaps - start)[setting.order])


def _acting_elsewhere(setting: SolveInput, mat: Sequence[float]) -> SolveInput:
    """Return a setting whose load acts at the middle of what the mat bore with its error."""
    patch = setting.patch
    if not any(mat) or not setting.is_middle or patch.press_direction is None or setting.lever.shape[1] == 1:
        return setting
    weight = patch.area_mm2 * (patch.bore_kpa(mat=mat) - patch.bore_kpa())
    off = weight @ patch.position / float(patch.area_mm2 @ patch.bore_kpa())
    lever = setting.lever.copy()
    lever[:, 1:] -= plane_of(patch.press_direction) @ off / setting.reach_mm
    return replace(setting, lever=lever)


def _squeezed_on_clay(
    case: LoadCase, patch: ContactPatch, heaping: float = 0.0, mat: Sequence[float] = AS_SHOWN
) -> Float:
    """Return how far the flesh was squeezed when the clay took its shape, (n,), mm; 0 where nothing is known of it.

    The imprint is the shape of loaded flesh: on a pad of just that shape which does not give, each place bears what it
    bore on the clay, and a pad that gives shifts load from there.
    """
    if case.flesh is None or patch.clay_kpa is None:
        return np.zeros(len(patch.area_mm2))
    return case.flesh.squeezed_mm(patch.bore_kpa(heaping, mat))


def press(
    setting: SolveInput,
    curves: Sequence[StressCurve],
    ratios: Sequence[Bounds],
    start: Float | None = None,
    *,
    tolerance: float = _TOLERANCE,
) -> tuple[SolveInput, Run, Sequence[Bounds]]:
    """Balance the body on the pad, with what the pad around its contacts adds, which follows from where it rests.

    The setting comes back with `narrow`, the ratios of solid zones as their loaded parts have them. Raises SolveError
    when there is no balance, or none was found.
    """
    patch = setting.patch
    pads = CurveTable.of(curves)
    run = solve(setting, pads, _values(ratios), start, tolerance=tolerance)
    for _ in range(_MOST_ROUNDS):
        sinkage = np.zeros(len(setting.area))
        sinkage[setting.order] = setting.lever @ run.found.motion - setting.columns[1]
        is_loaded = run.pressure > 0.0
        found = ratios
        if any(curve.poisson > COLUMN_LIMIT for curve in curves) and not is_loaded.all():
            found = layer_ratios(patch, curves, is_loaded)
        gives = run.strain * patch.thickness_mm
        narrow = narrow_contacts(
            patch, curves, found,
            pressure=run.pressure,
            sinkage=sinkage,
            pad_share=np.where(is_loaded, gives / np.where(is_loaded, sinkage, 1.0), 1.0),
            before=setting.narrow,
        )  # fmt: skip
        evened = setting.evened
        if patch.runs is not None:
            evened = patch.runs.factors(pads, _values(found), sinkage, run.strain, setting.case.flesh)
        moved = max(abs(float(np.log(new.value / old.value))) for new, old in zip(found, ratios, strict=True))
        moved = max(moved, narrow.differs(setting.narrow, is_loaded), _moved(evened, setting.evened, run, patch))
        if moved < _SETTLED:
            known = setting.evened if setting.evened is not None else evened
            return replace(setting, narrow=setting.narrow or narrow, evened=known), run, ratios
        setting, ratios = replace(setting, narrow=narrow, evened=evened), found
        run = solve(setting, pads, _values(ratios), run.found.motion, tolerance=tolerance)
    return setting, run, ratios


def _moved(evened: Float | None, before: Float | None, run: Run, patch: ContactPatch) -> float:
    """Return how far what walls even out has moved the columns' stress, mean over the load, as a share."""
    if evened is None:
        return 0.0
    load = run.pressure * patch.area_mm2
    off = np.abs(evened / np.maximum(1.0 if before is None else before, 1e-9) - 1.0)
    return float(load @ np.minimum(off, 1.0)) / max(float(load.sum()), 1e-12)


def _values(ratios: Sequence[Bounds]) -> Float:
    return np.array([ratio.value for ratio in ratios])


def solve(
    setting: SolveInput,
    pads: CurveTable,
    ratios: Float,
    start: Float | None,
    *,
    tolerance: float = _TOLERANCE,
) -> Run:
    """Balance the body on columns of some kinds, to a share of the load that may be left over.

    Raises SolveError when there is no balance, or none was found.
    """
    length, gap = setting.columns
    columns = Columns(length, setting.zone, pads, ratios, setting.case.flesh, setting.factors)
    if start is None:
        start = _first_guess(setting, columns)
    found = balance(
        columns, setting.area, gap, setting.lever, setting.force_mn, start,
        radius=columns.first_step(setting.area), tolerance=tolerance,
    )  # fmt: skip
    if not found.is_balanced:
        raise _no_balance(setting, found)
    pressure, strain = np.zeros(len(setting.area)), np.zeros(len(setting.area))
    response = columns.respond(setting.lever @ found.motion - gap)
    pressure[setting.order], strain[setting.order] = response[0], response[3] * (length / setting.thickness)
    return Run(found, pressure, strain)


def _first_guess(setting: SolveInput, columns: Columns) -> Float:
    """Return the motion at which linear columns would carry the load, bettered on some of the points."""
    kpa = np.maximum(columns.pads.secant_kpa(LEVEL_STRAIN), columns.pads.secant_kpa(float(columns.pads.strain[-1])))
    bare = setting.force_mn / float((setting.area * columns.factor * kpa[setting.zone] / setting.thickness).sum())
    start = np.zeros(setting.lever.shape[1])
    start[0] = min(bare, 0.2 * float(setting.thickness.mean())) + float(setting.gap.min())
    stride = len(setting.area) // _WARM_START
    if stride < 2:
        return start
    some = np.arange(0, len(setting.area), stride)
    area = setting.area[some]
    if area.sum() <= 0.0:
        return start
    area = area * (setting.area.sum() / area.sum())
    part = columns.part(some)
    rough = balance(
        part, area, setting.gap[some], setting.lever[some], setting.force_mn, start,
        radius=part.first_step(area), tolerance=1e-4,
    )  # fmt: skip
    return rough.motion if rough.is_balanced else start


def _no_balance(setting: SolveInput, found: Balance) -> SolveError:
    if setting.lever.shape[1] == 3 and not is_inside(setting.lever[:, 1:], setting.area > 0.0):
        off = float(np.linalg.norm(setting.lever[:, 1:], axis=1).min() * setting.reach_mm)
        return SolveError(
            f"The load acts outside the contact patch, {off:.0f} mm from its nearest point: the body would tip over.",
            hint="Move the load's point onto the patch, or leave it out: then the load acts at the patch's middle.",
        )
    return SolveError(
        f"No balance was found: after {found.iterations} steps {100.0 * found.residual:.2g} % of the load of "
        f"{setting.force_mn / MN_PER_N:.0f} N is left over.",
        hint="Leave the load's point out or move it to the middle of the patch, and check the load.",
    )


def refuse_impossible(
    setting: SolveInput, run: Run, curves: Sequence[StressCurve], ratios: Sequence[Bounds], *, is_explained: bool = True
) -> None:
    """Refuse an answer in which the pad has nothing left to give.

    Raises SolveError when it bottomed out all over or where nearly all of the load lies, or is pressed to nothing over
    more than `NOTHING_SHARE` of the contact. With `is_explained` the hint says up to what load, and with zones how much
    firmer, it would not: both were tried, in some ten solves.
    """
    why = _impossible(setting, run)
    if why:
        raise SolveError(why, hint=_what_holds(setting, run, curves, ratios) if is_explained else "")


def _impossible(setting: SolveInput, run: Run) -> str:
    """Return why there is no answer; nothing when there is one."""
    patch = setting.patch
    shut = setting.densification[patch.zone]
    is_loaded = run.pressure > 0.0
    area = patch.area_mm2
    left = float(area[is_loaded & (run.strain < shut)].sum()) / float(area[is_loaded].sum())
    load = setting.force_mn / MN_PER_N
    if left < 0.01:
        return f"The load of {load:.0f} N is too great: the pad bottoms out everywhere."
    load_at = run.pressure * area
    shut_share = float(load_at[run.strain >= shut].sum()) / float(load_at.sum())
    if shut_share > SHUT_SHARE:
        by_zone = np.bincount(setting.zone_at, np.where(run.strain >= shut, load_at, 0.0), len(setting.names))
        return (
            f"The load of {load:.0f} N is too great: {100.0 * shut_share:.0f} % of it lies where the pad has bottomed "
            f'out, most of that in "{setting.names[int(np.argmax(by_zone))]}", and there its stiffness is not known.'
        )
    worst = int(np.argmax(run.strain))
    gone = float(area[run.strain >= 1.0].sum())
    if gone > NOTHING_SHARE * float(area[is_loaded].sum()):
        thick = float(patch.thickness_mm[worst])
        place = ", ".join(f"{value:.1f}" for value in patch.position[worst])
        return (
            f"Under {load:.0f} N the pad is pressed to nothing at ({place}) mm, in "
            f'"{setting.names[int(setting.zone_at[worst])]}", where it is {thick:.1f} mm thick (over {gone:.0f} mm2 in '
            f"all) and would have to give {run.strain[worst] * thick:.1f} mm."
        )
    return ""


def _what_holds(setting: SolveInput, run: Run, curves: Sequence[StressCurve], ratios: Sequence[Bounds]) -> str:
    """Return up to what load the pad holds, and how much firmer its zones would have to be for this one.

    A load times a factor and curves times its inverse are the same balance of a pad under a rigid body, so one search
    tells both; with flesh, which stays as it is, only the load is told.
    """

    def holds(share: float) -> bool:
        less = replace(setting, force_mn=share * setting.force_mn, narrow=None)
        if setting.patch.runs is not None:
            less = replace(less, evened=None)
        try:
            less, found, _ = press(less, curves, ratios, share * run.found.motion)
            return not _impossible(less, found)
        except SolveError:
            return False

    low, high = 0.0, 1.0
    for share in _SHARES:
        if holds(share):
            low = share
            break
        high = share
    if low == 0.0:
        return "Make the pad thicker, check the load and its point, or give the body more of the pad to bear on."
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) else (low, middle)
    newtons = np.floor(low * setting.force_mn / MN_PER_N)
    firmer = "with firmer zones"
    if setting.case.flesh is None:
        firmer = f"with all zones {np.ceil(10.0 / low) / 10.0:.1f} times as firm"
    return (
        f"The pad holds up to {newtons:.0f} N, and this load {firmer} (higher levels, a denser fill, a firmer "
        "filament). A thicker pad and a larger contact help too; check the load and its point."
    )
