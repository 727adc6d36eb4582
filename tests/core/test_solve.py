"""The solver for large symmetric systems."""

import numpy as np
import pytest
from scipy import sparse

from padwright.core.base.errors import SolveError
from padwright.core.geometry.solve import conjugate_gradients


def chain(count: int, mass: np.ndarray | float) -> sparse.csr_matrix:
    """Mass and springs along a line."""
    springs = sparse.diags([2.0, -1.0, -1.0], [0, 1, -1], shape=(count, count))
    return (springs + sparse.diags(np.broadcast_to(mass, count))).tocsr()


def test_every_column_is_solved_to_the_tolerance():
    system = chain(300, 0.01)
    exact = np.random.default_rng(0).normal(size=(300, 4)) * [1.0, 1e-6, 1e6, 0.0]
    found = conjugate_gradients(system, system @ exact, np.zeros_like(exact), 1e-12)
    # a residual of 1e-12 over the least eigenvalue, 0.01 of the diagonal's 2
    assert np.abs(found - exact).max(axis=0) == pytest.approx(0.0, abs=1e-9 * 1e6)
    assert (np.linalg.norm(found - exact, axis=0) <= 1e-9 * np.linalg.norm(exact, axis=0)).all()


def test_scales_between_rows_do_not_matter():
    mass = np.where(np.arange(200) < 100, 1.0, 1e-6)
    scale = sparse.diags(10.0 ** np.linspace(-6.0, 6.0, 200))
    exact = np.linspace(1.0, 2.0, 200)[:, None]
    plain, scaled = chain(200, mass), (scale @ chain(200, mass) @ scale).tocsr()
    start = np.zeros((200, 1))
    one = conjugate_gradients(plain, plain @ exact, start, 1e-10)
    # the same system in other units takes the same way: the two part by rounding alone
    other = scale @ conjugate_gradients(scaled, scale @ (plain @ exact), start, 1e-10)
    assert one == pytest.approx(exact, rel=1e-6)
    assert other == pytest.approx(one, rel=1e-6)


def test_a_good_start_is_taken_as_it_is():
    system = chain(50, 1.0)
    start = np.arange(50.0)[:, None]
    assert (conjugate_gradients(system, system @ start, start, 1e-9) == start).all()


def test_what_does_not_settle_is_refused():
    system = sparse.diags([1.0, -3.0, 1.0, -3.0]).tocsr()  # neither its roots nor its energy mean anything
    with np.errstate(invalid="ignore"), pytest.raises(SolveError, match="did not settle in 2000 rounds"):
        conjugate_gradients(system, np.ones((4, 1)), np.zeros((4, 1)), 1e-9)
