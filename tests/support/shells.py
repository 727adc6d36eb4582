"""Flat four-cornered shell elements for thin walls and skins: stiffness, stress stiffness, buckling.

Each element has four corners with three displacements and three rotations, in the axes of the model (x, y, z). In its
own plane: a membrane with incompatible modes (Taylor, Beresford & Wilson 1976, the corrected sixth quadrilateral), a
plate whose shear strains are interpolated from the middles of the sides (Bathe & Dvorkin 1985, four corners), and a
weak spring that holds the turn about the normal (Hughes & Brezzi 1989); all cited, not read. A corner out of the plane
of the other three is laid into the mean plane. Lengths in mm, moduli in MPa, forces in N.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import LinearOperator, eigsh, splu

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)
GAUSS = CORNERS / np.sqrt(3.0)
SHEAR = 5.0 / 6.0  # share of the thickness that takes shear across it
DRILL = 1e-3  # stiffness against turning about the normal, in shear moduli: too weak to stiffen the plane


@dataclass(frozen=True, eq=False)
class Shell:
    """Corners, elements (each with its four corners in turn), their thickness in mm and one elastic stuff."""

    points: Array  # (n, 3)
    quads: Ints  # (m, 4)
    thickness: Array  # (m,)
    modulus: float
    poisson: float


def join(parts: list[Shell]) -> Shell:
    """Return shells beside each other as one (no corners merged)."""
    starts = np.cumsum([0] + [len(part.points) for part in parts[:-1]])
    return Shell(
        np.concatenate([part.points for part in parts]),
        np.concatenate([part.quads + start for part, start in zip(parts, starts, strict=True)]),
        np.concatenate([part.thickness for part in parts]),
        parts[0].modulus,
        parts[0].poisson,
    )


def frames(shell: Shell) -> tuple[Array, Array]:
    """Return each element's own axes as rows (m, 3, 3) and its corners in its plane (m, 4, 2)."""
    corner = shell.points[shell.quads]
    along = corner[:, 1] + corner[:, 2] - corner[:, 0] - corner[:, 3]
    across = corner[:, 2] + corner[:, 3] - corner[:, 0] - corner[:, 1]
    normal = np.cross(along, across)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    axes = np.stack([along, np.cross(normal, along), normal], axis=1)
    flat = np.einsum("mij,mcj->mci", axes, corner - corner.mean(axis=1, keepdims=True))
    return axes, flat[..., :2]


def _shape(at: Array) -> tuple[Array, Array]:
    """Return the four shape functions and their gradients (2, 4) in the element's square at a place of it."""
    r, s = CORNERS[:, 0], CORNERS[:, 1]
    value = (1 + r * at[0]) * (1 + s * at[1]) / 4
    return value, np.array([r * (1 + s * at[1]), s * (1 + r * at[0])]) / 4


def _strains(gradient: Array) -> Array:
    """Return the plane strains (m, 3, 2k) of in-plane moves from gradients (m, 2, k) of their shape functions."""
    m, _, k = gradient.shape
    strain = np.zeros((m, 3, 2 * k))
    strain[:, 0, 0::2] = gradient[:, 0]
    strain[:, 1, 1::2] = gradient[:, 1]
    strain[:, 2, 0::2] = gradient[:, 1]
    strain[:, 2, 1::2] = gradient[:, 0]
    return strain


def _plane(shell: Shell) -> Array:
    """Return the plane-stress stiffness (3, 3) per thickness."""
    v = shell.poisson
    return shell.modulus / (1 - v * v) * np.array([[1, v, 0], [v, 1, 0], [0, 0, (1 - v) / 2]])


def element_stiffness(shell: Shell) -> Array:
    """Return the stiffness (m, 24, 24) of each element in the axes of the model."""
    axes, flat = frames(shell)
    m = len(flat)
    thick = shell.thickness
    plane = _plane(shell)
    shear = shell.modulus / 2 / (1 + shell.poisson)
    local = np.zeros((m, 24, 24))
    inner = np.zeros((m, 12, 12))  # eight corner moves and four incompatible modes
    middle = np.einsum("rk,mkx->mrx", _shape(np.zeros(2))[1], flat)  # Jacobian in the middle: rows r, s
    middle_inverse, middle_area = np.linalg.inv(middle), np.linalg.det(middle)
    turn = np.array([6 * c + k for c in range(4) for k in (0, 1)])
    plate = np.array([6 * c + k for c in range(4) for k in (2, 3, 4)])
    bends = np.zeros((m, 12, 12))

    sides = {}  # covariant shear strain in the middle of each side
    for name, at in (("r-", (0, -1)), ("r+", (0, 1)), ("s-", (-1, 0)), ("s+", (1, 0))):
        value, slope = _shape(np.array(at, float))
        row = 0 if name[0] == "r" else 1
        tangent = np.einsum("k,mkx->mx", slope[row], flat)
        strain = np.zeros((m, 12))
        strain[:, 0::3] = slope[row]
        strain[:, 1::3] = -tangent[:, 1:2] * value  # turn about x: the plane's y-slope is minus it
        strain[:, 2::3] = tangent[:, 0:1] * value
        sides[name] = strain

    for at in GAUSS:
        value, slope = _shape(at)
        jacobian = np.einsum("rk,mkx->mrx", slope, flat)
        area = np.linalg.det(jacobian)
        inverse = np.linalg.inv(jacobian)
        gradient = np.einsum("mxr,rk->mxk", inverse, slope)
        modes = np.einsum("mxr,rk->mxk", middle_inverse, np.diag(-2 * at)) * (middle_area / area)[:, None, None]
        strain = _strains(np.concatenate([gradient, modes], axis=2))
        inner += np.einsum("mai,ab,mbj,m->mij", strain, plane, strain, area * thick, optimize=True)

        curve = np.zeros((m, 3, 12))
        curve[:, 0, 2::3] = gradient[:, 0]
        curve[:, 1, 1::3] = -gradient[:, 1]
        curve[:, 2, 2::3] = gradient[:, 1]
        curve[:, 2, 1::3] = -gradient[:, 0]
        bends += np.einsum("mai,ab,mbj,m->mij", curve, plane, curve, area * thick**3 / 12, optimize=True)

        slide_r = ((1 - at[1]) * sides["r-"] + (1 + at[1]) * sides["r+"]) / 2
        slide_s = ((1 - at[0]) * sides["s-"] + (1 + at[0]) * sides["s+"]) / 2
        slide = np.einsum("mxr,mrk->mxk", inverse, np.stack([slide_r, slide_s], axis=1))
        bends += np.einsum("mai,maj,m->mij", slide, slide, area * thick * SHEAR * shear, optimize=True)

        spin = np.zeros((m, 24))
        spin[:, 5::6] = value
        spin[:, 0::6] = gradient[:, 1] / 2
        spin[:, 1::6] = -gradient[:, 0] / 2
        local += np.einsum("mi,mj,m->mij", spin, spin, area * thick * shear * DRILL)

    held = inner[:, :8, :8] - inner[:, :8, 8:] @ np.linalg.solve(inner[:, 8:, 8:], inner[:, 8:, :8])
    local[:, turn[:, None], turn[None, :]] += held
    local[:, plate[:, None], plate[None, :]] += bends
    return _turned(local, axes)


def _turned(local: Array, axes: Array) -> Array:
    """Return matrices (m, 24, 24) turned from the elements' axes into the model's."""
    blocks = local.reshape(len(local), 8, 3, 8, 3)
    return np.einsum("mxi,maxby,myj->maibj", axes, blocks, axes, optimize=True).reshape(local.shape)


def membrane_forces(shell: Shell, moves: Array) -> Array:
    """Return the membrane forces (m, 3) in N/mm (own axes: xx, yy, xy) in the middle of each element; moves (n, 6)."""
    axes, flat = frames(shell)
    slope = _shape(np.zeros(2))[1]
    gradient = np.linalg.inv(np.einsum("rk,mkx->mrx", slope, flat)) @ slope
    own = np.einsum("mij,mcj->mci", axes, moves[shell.quads][..., :3])[..., :2]
    strain = np.einsum("mai,mi->ma", _strains(gradient), own.reshape(len(own), 8))
    return strain @ _plane(shell) * shell.thickness[:, None]


def stress_stiffness(shell: Shell, forces: Array) -> Array:
    """Return the stiffness (m, 24, 24) that membrane forces (m, 3) add: what they do when a wall turns."""
    _, flat = frames(shell)
    result = np.zeros((len(flat), 24, 24))
    tensor = forces[:, [[0, 2], [2, 1]]]
    for at in GAUSS:
        slope = _shape(at)[1]
        jacobian = np.einsum("rk,mkx->mrx", slope, flat)
        gradient = np.linalg.inv(jacobian) @ slope
        part = np.einsum("mxi,mxy,myj,m->mij", gradient, tensor, gradient, np.linalg.det(jacobian), optimize=True)
        for axis in range(3):
            result[:, axis::6, axis::6] += part
    return result


def assemble(shell: Shell, blocks: Array) -> sp.csr_matrix:
    """Return the matrix (6n, 6n) put together from the elements' blocks."""
    places = (6 * shell.quads[:, :, None] + np.arange(6)).reshape(len(shell.quads), 24)
    rows = np.repeat(places, 24, axis=1).ravel()
    columns = np.tile(places, (1, 24)).ravel()
    return sp.coo_matrix((blocks.ravel(), (rows, columns)), shape=2 * (6 * len(shell.points),)).tocsr()


@dataclass(frozen=True, eq=False)
class Held:
    """A shell held and tied: moves of all corners = ties @ free moves."""

    shell: Shell
    ties: sp.csr_matrix  # (6n, k)

    def lowest(self, matrix: sp.csc_matrix, solved: object, turning: sp.csr_matrix, count: int) -> tuple[Array, Array]:
        """Return the smallest factors on a load at which the shell gives way, and their shapes (6n, count).

        `matrix` is the stiffness of the free moves, `solved` its factors; `turning` (6n, 6n) what the load adds.
        """
        turning = (self.ties.T @ turning @ self.ties).tocsc()
        inverse = LinearOperator(matrix.shape, matvec=solved.solve, dtype=float)  # type: ignore[attr-defined]
        first = np.sin(np.arange(matrix.shape[0]) + 1.0)  # square to no shape by its symmetry
        values, shapes = eigsh(-turning, k=count, M=matrix, Minv=inverse, which="LA", tol=1e-4, v0=first)
        order = np.argsort(-values)
        return 1.0 / values[order], self.ties @ shapes[:, order]


def areas(shell: Shell) -> Array:
    """Return the area of each element, (m,)."""
    _, flat = frames(shell)
    one, other = flat[:, 2] - flat[:, 0], flat[:, 3] - flat[:, 1]
    return np.asarray(0.5 * np.abs(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]))


def factors(matrix: sp.csc_matrix) -> object:
    """Return the factors of a symmetric positive matrix (`solve`)."""
    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
