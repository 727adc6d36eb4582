"""Steps of firmness between two neighboring zones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, Int, TriMesh
from ...base.notes import on_change
from ...base.slugs import unused_name
from ...base.text import counted
from ...geometry.through import BodySide


@dataclass(frozen=True)
class BlendWish:
    """A wish for steps between neighbors."""

    steps: int  # 0 for none
    width_mm: float  # width of all steps together, half of it on either side of the border
    # The two zones; all neighbors when there is none. What names a pair comes before what names none.
    between: tuple[str, str] | None = None


@dataclass(frozen=True)
class BlendStep:
    """One step: its name, its firmness level, and the zones it lies between."""

    name: str
    level: float
    between: tuple[str, str]
    stiffness_times: float = 1.0  # times as stiff as its level


def blended(
    body: BodySide,
    weights: Float,
    names: Sequence[str],
    levels: Sequence[float],
    blends: Sequence[BlendWish],
    times: Sequence[float] | None = None,
) -> tuple[Float, tuple[BlendStep, ...], tuple[str, ...]]:
    """Return weights with a column more for every step, the steps, and notes.

    Step j of n between the levels a and b has the level a + (b - a) j / (n + 1); what its zones are times as stiff as
    their levels (`times`; 1 without them) it takes over in the same share, along the logarithm.

    Raises InputError when a blend names an unknown zone, has steps below 0 or no width, or swallows a zone whole.

    `weights` is (b, k) float.
    """
    _check(names, blends)
    log_times = np.zeros(len(names)) if times is None else np.log(times)
    label = weights.argmax(axis=1)
    steps: list[BlendStep] = []
    columns: list[Float] = []
    notes: list[str] = []
    left = np.ones(len(label))
    for first, second in combinations(range(len(names)), 2):
        wish = _wish(names[first], names[second], blends)
        if wish is None or wish.steps == 0 or (levels[first], log_times[first]) == (levels[second], log_times[second]):
            continue
        border = border_points(body.mesh, weights, label, first, second)
        if len(border) == 0:
            if wish.between is not None:
                pair = f'"{names[first]}" and "{names[second]}"'
                notes.append(on_change(f"{pair} do not touch, so there is no blend between them."))
            continue
        taken = left[:, None] * _share_of_steps(body.mesh, label, (first, second), border, wish)
        left = left - taken.sum(axis=1)
        columns.append(taken)
        for step in range(1, wish.steps + 1):
            name = unused_name(f"{names[first]} to {names[second]} {step}", {*names, *(each.name for each in steps)})
            way = step / (wish.steps + 1)
            level = levels[first] + (levels[second] - levels[first]) * way
            log = log_times[first] + (log_times[second] - log_times[first]) * way
            steps.append(BlendStep(name, level, (names[first], names[second]), float(np.exp(log))))
    if not steps:
        return weights, (), tuple(notes)
    # The shares themselves, not the labels: they say where between two vertices a border runs.
    result = np.concatenate([weights * left[:, None], *columns], axis=1)
    _refuse_swallowed(names, result, blends)
    return result, tuple(steps), tuple(notes)


def _share_of_steps(mesh: TriMesh, label: Int, pair: tuple[int, int], border: Float, wish: BlendWish) -> Float:
    """Return what each step between two zones takes of each vertex of either, (b, steps), by the way to the border."""
    edge_mm = float(mesh.edge_lengths.mean())
    own = np.flatnonzero((label == pair[0]) | (label == pair[1]))
    reach = 0.5 * wish.width_mm + 2.0 * edge_mm
    distance, _ = cKDTree(border).query(mesh.vertices[own], distance_upper_bound=reach)
    across = np.where(label[own] == pair[0], -1.0, 1.0) * np.minimum(distance, reach)
    # how much of each vertex lies beyond each of the steps' limits: a ramp of an edge either way
    limits = wish.width_mm * (np.arange(wish.steps + 1) / wish.steps - 0.5)
    beyond = np.clip(0.5 + 0.5 * (across[:, None] - limits) / edge_mm, 0.0, 1.0)
    taken = np.zeros((len(label), wish.steps))
    taken[own] = beyond[:, :-1] - beyond[:, 1:]
    return taken


def _refuse_swallowed(names: Sequence[str], weights: Float, blends: Sequence[BlendWish]) -> None:
    there = np.unique(weights.argmax(axis=1))
    for name in (each for column, each in enumerate(names) if column not in there):
        widest = max(wish.width_mm for wish in blends)
        error = InputError(
            f'The blends around the zone "{name}" leave nothing of it: they are up to {widest:g} mm wide, half of '
            "that within it.",
            hint="Make them narrower (blend.width_mm; 0 steps is none), or the zone larger.",
        )
        error.key = ("blend",)
        raise error


def border_points(mesh: TriMesh, weights: Float, label: Int, first: int, second: int) -> Float:
    """Return where the border between two zones crosses the edges of a mesh, (q, 3) mm."""
    edge = mesh.edges
    edge = edge[(label[edge[:, 0]] == first) & (label[edge[:, 1]] == second)]
    lead = weights[:, first] - weights[:, second]
    here, there = lead[edge[:, 0]], lead[edge[:, 1]]
    span = here - there
    share = np.divide(here, span, out=np.full(len(edge), 0.5), where=span > 0)[:, None]
    return np.asarray(mesh.vertices[edge[:, 0]] * (1 - share) + mesh.vertices[edge[:, 1]] * share)


def _wish(first: str, second: str, blends: Sequence[BlendWish]) -> BlendWish | None:
    for blend in blends:
        if blend.between is not None and set(blend.between) == {first, second}:
            return blend
    return next((blend for blend in blends if blend.between is None), None)


def _check(names: Sequence[str], blends: Sequence[BlendWish]) -> None:
    for blend in blends:
        if blend.steps < 0 or (blend.steps > 0 and not blend.width_mm > 0):
            raise InputError(f"A blend of {counted(blend.steps, 'step')} over {blend.width_mm} mm makes no sense.")
        for name in blend.between or ():
            if name not in names:
                raise InputError(
                    f'A blend names the zone "{name}", which is not there.', hint=f"Zones: {', '.join(names)}."
                )
