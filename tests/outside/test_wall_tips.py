"""How hard the top of a half-printed wall resists the nozzle: the stated formula beside shell elements."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.shells import Shell, assemble, element_stiffness, factors

from padwright.core.stages.shape.tips import SolidStuff, tip_stiffness

STUFF = SolidStuff(13.2, 0.48)
Array = np.ndarray


def grid_of(run: Array, across: Array, rise: Array) -> tuple[Array, Array]:
    """Return points and elements of a sheet: `across` (runs, rises) over places along the run and heights."""
    points = np.stack(np.broadcast_arrays(across, run[:, None], rise[None]), -1).reshape(-1, 3)
    one, two = np.meshgrid(np.arange(len(run) - 1), np.arange(len(rise) - 1), indexing="ij")
    first = (one * len(rise) + two).ravel()
    return points, np.stack([first, first + len(rise), first + len(rise) + 1, first + 1], 1)


def stiffness_at(points: Array, quads: Array, width: float, place: tuple[float, float, float]) -> float:
    """Return the stiffness across, along x, at a place of walls clamped at z = 0, as wide as asked in a level cut."""
    points, index = np.unique(np.round(points, 6), axis=0, return_inverse=True)  # walls that meet are one
    quads = index.reshape(-1)[quads]
    normal = np.cross(points[quads[:, 1]] - points[quads[:, 0]], points[quads[:, 3]] - points[quads[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    thick = width * np.hypot(normal[:, 0], normal[:, 1])
    shell = Shell(points, quads, thick, STUFF.modulus_mpa, STUFF.poisson)
    free = (6 * np.flatnonzero(points[:, 2] > 1e-6)[:, None] + np.arange(6)).ravel()
    matrix = assemble(shell, element_stiffness(shell)).tocsc()[free][:, free]
    force = np.zeros(6 * len(points))
    force[6 * int(np.argmin(np.linalg.norm(points - np.array(place), axis=1)))] = 1.0
    return 1.0 / float(force[free] @ factors(matrix.tocsc()).solve(force[free]))  # type: ignore[attr-defined]


def straight(height: float, slope_deg: float, half: float) -> tuple[Array, Array, float]:
    lean = np.tan(np.radians(slope_deg))
    rise = np.linspace(0.0, height, 8)
    run = np.linspace(-half, half, 2 * round(half / (height / 7.0)) + 1)
    return *grid_of(run, np.broadcast_to(lean * rise, (len(run), 8)), rise), lean * height


@pytest.mark.parametrize("slope", [0.0, 30.0, 45.0])
@pytest.mark.parametrize(("height", "width"), [(8.0, 0.9), (12.0, 1.35), (20.0, 1.8)])
def test_a_long_wall_is_as_stiff_as_the_formula_says(height: float, width: float, slope: float) -> None:
    """8 %: shear through the thickness, which a plate leaves out and the elements have."""
    half = 4.0 * height / np.cos(np.radians(slope))
    points, quads, lean = straight(height, slope, half)
    for run, held in ((0.0, 1.0), (half, 0.5)):
        by_formula = float(tip_stiffness(height, width, slope, held, STUFF))
        assert by_formula == pytest.approx(stiffness_at(points, quads, width, (lean, run, height)), rel=0.08)


def test_a_wall_past_its_fold_is_stiffer_than_told() -> None:
    rise = np.concatenate([np.linspace(0.0, 10.0, 8), np.linspace(10.0, 20.0, 8)[1:]])
    lean = np.minimum(rise, 20.0 - rise)
    run = np.linspace(-90.0, 90.0, 121)
    points, quads = grid_of(run, np.broadcast_to(lean, (121, len(rise))), rise)
    by_formula = float(tip_stiffness(20.0, 1.35, 45.0, 1.0, STUFF))
    assert 1.2 < stiffness_at(points, quads, 1.35, (0.0, 0.0, 20.0)) / by_formula < 2.0


@pytest.mark.parametrize(("angle_deg", "length"), [(15.0, 120.0), (20.0, 80.0), (20.0, 40.0)])
def test_a_waved_wall_is_at_least_as_stiff_as_told_where_it_is_weakest(angle_deg: float, length: float) -> None:
    """Where it crosses its run, in the middle between two crests."""
    rise = np.linspace(0.0, 15.0, 9)
    run = np.linspace(-120.0, 120.0, 193)
    wave = np.tan(np.radians(angle_deg)) * length / (2.0 * np.pi) * np.sin(2.0 * np.pi * run / length)
    points, quads = grid_of(run, np.broadcast_to(wave[:, None], (193, 9)), rise)
    found = stiffness_at(points, quads, 1.35, (0.0, 0.0, 15.0))
    assert found > 0.97 * float(tip_stiffness(15.0, 1.35, 0.0, 1.0, STUFF))


def test_a_joint_with_another_wall_holds_within_half_a_height() -> None:
    """The most that counts, 1.41 times at f = 2 and 2 times from f = 4 on, is there at half a height from a joint."""
    height, width = 16.0, 1.35
    rise = np.linspace(0.0, height, 9)
    run = np.arange(0.0, 97.0, 2.0)
    row, row_quads = grid_of(run, np.zeros((len(run), 9)), rise)
    across = np.arange(-48.0, 49.0, 2.0)
    ring, ring_quads = grid_of(across, np.zeros((len(across), 9)), rise)
    points = np.concatenate([row, ring[:, [1, 0, 2]]])
    quads = np.concatenate([row_quads, ring_quads + len(row)])
    most = float(tip_stiffness(height, width, 0.0, 1000.0, STUFF))
    assert stiffness_at(points, quads, width, (0.0, 0.5 * height, height)) > 0.95 * most
    far = float(tip_stiffness(height, width, 0.0, 1.0, STUFF))
    assert stiffness_at(points, quads, width, (0.0, 2.0 * height, height)) == pytest.approx(far, rel=0.08)
