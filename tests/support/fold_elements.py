"""Half a fold of a wall between two skins in finite elements of second degree: a second opinion on the law.

A skin, a leaning wall and the mirror plane through its fold; over and over across the walls, or one ring of a radius.
The solid is neo-Hookean and nearly incompressible, E = 1: sigma = mu (F - F^-T) + lambda ln J F^-T.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as sla
from skfem import Basis, BilinearForm, ElementQuad2, ElementVector, FacetBasis, LinearForm, MeshQuad
from skfem.helpers import ddot, det, grad, mul, transpose

_NEAR = 1e-9


def _mesh(half: float, width: float, pitch: float, slope: float, skin: float, across: int) -> MeshQuad:
    """Return skin (z from -skin to 0) and wall (to `half`), `across` elements through the wall."""
    start, step = (pitch - width) / 2.0, width / across
    beside = max(2, round(start / step / 1.5))
    foot = start + np.linspace(0.0, width, across + 1)
    x = np.concatenate(
        [np.linspace(0.0, start, beside + 1)[:-1], foot, pitch - np.linspace(start, 0.0, beside + 1)[1:]]
    )
    z = np.linspace(-skin, 0.0, max(2, round(skin / step / 1.2)) + 1)
    up = np.linspace(0.0, half, int(np.ceil(half / np.cos(slope) / step)) + 1)
    points, quads, count = [], [], 0
    for along, high, lean in ((x, z, 0.0), (foot, up, np.tan(slope))):
        grid_x, grid_z = np.meshgrid(along, high, indexing="ij")
        points.append(np.stack([(grid_x + lean * grid_z).ravel(), grid_z.ravel()]))
        i, j = np.meshgrid(np.arange(len(along) - 1), np.arange(len(high) - 1), indexing="ij")
        first, row = (i * len(high) + j + count).ravel(), len(high)
        quads.append(np.stack([first, first + row, first + row + 1, first + 1]))
        count += grid_x.size
    every = np.hstack(points)
    _, index, inverse = np.unique(
        np.round(every.T * 1e6).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    return MeshQuad(np.ascontiguousarray(every[:, index]), np.ascontiguousarray(inverse.reshape(-1)[np.hstack(quads)]))


@dataclass
class FoldElements:
    """One half of a wall of one fold; mm and degrees. `radius_mm` of its middle, infinite for a straight one."""

    height_mm: float
    width_mm: float
    pitch_mm: float
    slope_deg: float
    skin_mm: float
    poisson: float = 0.48
    radius_mm: float = np.inf
    leans: float = 1.0  # a ring's fold stands outward (1) or inward (-1)
    # of the skin's outer face: "bonded" to a plate, or the skin free to slide on it ("free").
    skins: str = "bonded"
    across: int = 4
    basis: Basis = field(init=False)

    def __post_init__(self) -> None:
        half, slope = self.height_mm / 2.0, np.radians(self.slope_deg)
        mesh = _mesh(half, self.width_mm, self.pitch_mm, slope, self.skin_mm, self.across)
        self.basis = Basis(mesh, ElementVector(ElementQuad2()), intorder=4)
        where = self.basis.doflocs
        self.is_up = np.zeros(self.basis.N, dtype=bool)
        for dofs in (self.basis.nodal_dofs, self.basis.facet_dofs, self.basis.interior_dofs):
            self.is_up[dofs[1]] = True
        self.bottom, self.top = np.abs(where[1] + self.skin_mm) < _NEAR, np.abs(where[1] - half) < _NEAR
        self.held = (self.bottom | self.top) & self.is_up
        if self.skins == "bonded":
            self.held |= self.bottom
        elif np.isinf(self.radius_mm):
            self.held[np.flatnonzero(self.bottom & ~self.is_up)[0]] = True
        self.middle = self.pitch_mm / 2.0 + np.tan(slope) * half / 2.0
        self.tie = self._tied(where)

    def _tied(self, where: np.ndarray) -> sp.csr_matrix:
        """Return the matrix that gives the skin's right side the left one's displacements; a ring's sides are free."""
        master = np.arange(self.basis.N)
        if np.isinf(self.radius_mm):
            for is_up in (False, True):
                sides = [
                    np.flatnonzero((np.abs(where[0] - x) < _NEAR) & (where[1] < _NEAR) & (self.is_up == is_up))
                    for x in (0.0, self.pitch_mm)
                ]
                left, right = (side[np.argsort(where[1, side])] for side in sides)
                master[right] = left
        _, self.kept = np.unique(master, return_inverse=True)
        shape = (self.basis.N, self.kept.max() + 1)
        return sp.coo_matrix((np.ones(self.basis.N), (np.arange(self.basis.N), self.kept)), shape=shape).tocsr()

    def _assemble(self, moved: np.ndarray) -> tuple[sp.csr_matrix, np.ndarray]:
        """Return stiffness and forces at a displacement."""
        mu = 1.0 / (2.0 * (1.0 + self.poisson))
        lame = self.poisson / ((1.0 + self.poisson) * (1.0 - 2.0 * self.poisson))
        radius, leans, middle = self.radius_mm, self.leans, self.middle

        def at(w):
            u = w["u"]
            stretch = grad(u) + np.eye(2)[:, :, None, None]
            place = 1.0 + leans * (w.x[0] - middle) / radius  # r over the middle's
            hoop = 1.0 + leans * u[0] / (radius * place)
            inverse = np.array([[stretch[1, 1], -stretch[0, 1]], [-stretch[1, 0], stretch[0, 0]]]) / det(stretch)
            return stretch, transpose(inverse), hoop, place, np.log(det(stretch) * hoop)

        def second(u, v, w):
            _, turned, hoop, place, volume = at(w)
            du, dv = grad(u), grad(v)
            hu, hv = leans * u[0] / (radius * place), leans * v[0] / (radius * place)
            grown = ddot(turned, du) + hu / hoop
            plane = mu * du + (mu - lame * volume) * mul(mul(turned, transpose(du)), turned) + lame * grown * turned
            round_ = mu * hu + (mu - lame * volume) * hu / hoop**2 + lame * grown / hoop
            return (ddot(plane, dv) + round_ * hv) * place

        def first(v, w):
            stretch, turned, hoop, place, volume = at(w)
            plane = mu * (stretch - turned) + lame * volume * turned
            round_ = mu * (hoop - 1.0 / hoop) + lame * volume / hoop
            return (ddot(plane, grad(v)) + round_ * leans * v[0] / (radius * place)) * place

        state = self.basis.interpolate(moved)
        return BilinearForm(second).assemble(self.basis, u=state), LinearForm(first).assemble(self.basis, u=state)

    def _free(self) -> np.ndarray:
        fixed = np.zeros(self.tie.shape[1], dtype=bool)
        fixed[self.kept[self.held]] = True
        return np.flatnonzero(~fixed)

    def press(self, strains: list[float]) -> np.ndarray:
        """Return the stress over E at each strain of the core, which rise; Newton's way from one to the next."""
        moved, last = np.zeros(self.basis.N), 0.0
        free, sides = self._free(), self.top & self.is_up
        found = []
        for strain in strains:
            down = np.where(sides, -(strain - last) * self.height_mm / 2.0, 0.0)
            moved, last = self._settled(moved + down + self._move(moved, down, free), free), strain
            found.append(-float(self._assemble(moved)[1][sides].sum()) / self.pitch_mm)
        return np.array(found)

    def _move(self, moved: np.ndarray, down: np.ndarray, free: np.ndarray) -> np.ndarray:
        """Return how all else moves with what is pressed down, by the tangent."""
        stiff = self._assemble(moved)[0]
        move = np.zeros(self.tie.shape[1])
        small = (self.tie.T @ stiff @ self.tie).tocsc()[free][:, free]
        move[free] = sla.spsolve(small, -(self.tie.T @ (stiff @ down))[free])
        return self.tie @ move

    def _settled(self, moved: np.ndarray, free: np.ndarray) -> np.ndarray:
        for _ in range(30):
            stiff, force = self._assemble(moved)
            small = (self.tie.T @ stiff @ self.tie).tocsc()[free][:, free]
            move = np.zeros(self.tie.shape[1])
            move[free] = sla.spsolve(small, -(self.tie.T @ force)[free])
            whole = self.tie @ move
            far = float(np.abs(whole).max())
            moved = moved + whole * min(1.0, 0.3 * self.width_mm / far)
            if far < 1e-8 * self.width_mm:
                return moved
        raise AssertionError("no balance")

    def stiffness(self) -> float:
        """Return stress over E per strain of the core at small strain."""
        return float(self.press([1e-5])[0]) / 1e-5

    def stiffness_under_flesh(self) -> float:
        """Return the same where the skin lies under an even pressure, its give the mean of its face (small strain)."""
        face = self.basis.mesh.facets_satisfying(lambda x: np.abs(x[1] + self.skin_mm) < _NEAR)
        load = LinearForm(lambda v, _: v[1]).assemble(FacetBasis(self.basis.mesh, self.basis.elem, facets=face))
        self.held = self.top & self.is_up
        self.held[np.flatnonzero(self.top & ~self.is_up)[0]] = True
        free = self._free()
        stiff = (self.tie.T @ self._assemble(np.zeros(self.basis.N))[0] @ self.tie).tocsc()[free][:, free]
        move = np.zeros(self.tie.shape[1])
        move[free] = sla.spsolve(stiff, (self.tie.T @ load)[free])
        return self.pitch_mm / float(load @ (self.tie @ move)) * self.height_mm / 2.0
