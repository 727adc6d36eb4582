"""A second opinion: finite elements of elastic layers that a smooth rigid body presses, by scikit-fem.

Small strain, isotropic zones side by side in layers bonded to each other and to a hard base; axisymmetric (x is the
radius) or plane strain (the half right of the plane of symmetry). Nothing here is the product's: it shares no code and
no assumption with the columns. Lengths mm, moduli and pressures kPa; forces mN, in plane strain mN per mm of length,
always those of the whole body.

Displacements are biquadratic, pressure is linear and free to jump between elements (Q2/P-1): it neither locks nor
rattles as Poisson's ratio nears 0.5, and borders between stiff and soft cost it nothing. Contact pressure is linear
between the mesh's corners; that neither pressure nor gap is negative is asked in the mean around each corner.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import SuperLU, splu
from skfem import Basis, BilinearForm, ElementQuad1, ElementQuad2, ElementVector, FacetBasis, LinearForm, MeshQuad, asm
from skfem.element import ElementH1
from skfem.refdom import RefQuad

Float = NDArray[np.float64]
ROUNDING_MM = 1e-9


class _Linear(ElementH1):
    """1, x and y on each element by itself."""

    interior_dofs = 3
    maxdeg = 1
    dofnames = ("1", "x", "y")
    doflocs = np.full((3, 2), 0.5)
    refdom = RefQuad

    def lbasis(self, at: Float, number: int) -> tuple[Float, Float]:
        one, none = np.ones_like(at[0]), np.zeros_like(at[0])
        return (
            (one, np.stack([none, none])),
            (at[0] - 0.5, np.stack([one, none])),
            (at[1] - 0.5, np.stack([none, one])),
        )[number]


@dataclass(frozen=True)
class Zone:
    """What lies between the zone before (or the axis) and `outer_mm`."""

    outer_mm: float
    modulus_kpa: float
    poisson: float


@dataclass(frozen=True)
class Layer:
    """One layer; its last zone goes on to the edge of the mesh. `rows` are the heights of its elements, bottom up."""

    zones: tuple[Zone, ...]
    rows: tuple[float, ...]

    @property
    def thickness_mm(self) -> float:
        return sum(self.rows)


@dataclass(frozen=True, eq=False)
class Pressed:
    """What a rigid body does: the force, and the pressure at the corners `x` of the mesh's top that it can reach."""

    force_mn: float
    x: Float
    pressure_kpa: Float
    moved: Float

    @property
    def half_width_mm(self) -> float:
        """Outermost corner that bears; the true edge lies within one element of it."""
        return float(self.x[self.pressure_kpa > 0.0].max())


def steps(total: float, first: float, growth: float = 1.0) -> tuple[float, ...]:
    """Return lengths that add up to `total`, the first about `first`, each `growth` times the one before."""
    if growth == 1.0:
        count = max(round(total / first), 1)
    else:
        count = max(round(np.log1p(total * (growth - 1.0) / first) / np.log(growth)), 1)
    lengths = growth ** np.arange(count)
    return tuple((lengths * (total / lengths.sum())).tolist())


def edges(*parts: Sequence[float]) -> Float:
    """Return the places, from 0, between steps laid one behind the other."""
    return np.concatenate([[0.0], np.cumsum(np.concatenate(parts))])


class Stack:
    """Layers bonded to each other and to a hard base; the top is at y = 0, the base below.

    Parameters
    ----------
    layers : sequence of Layer
        Bottom up.
    across : (n,) float
        Places of the mesh's columns, from 0; borders of zones must be among them.
    is_round : bool
        Axisymmetric; else plane strain.
    is_wide : bool
        The outer side moves only up and down, as in the middle of something wide; else it is free.
    is_mixed : bool
        False: pressure follows the displacements alone (to show what that does near 0.5).
    """

    def __init__(
        self, layers: Sequence[Layer], across: Float, *, is_round: bool, is_wide: bool = False, is_mixed: bool = True
    ) -> None:
        self.layers, self.is_round, self.is_wide, self.is_mixed = tuple(layers), is_round, is_wide, is_mixed
        for layer in layers:
            for zone in layer.zones[:-1]:
                if np.abs(across - zone.outer_mm).min() > ROUNDING_MM:
                    raise ValueError(f"No column of the mesh ends at {zone.outer_mm:g} mm.")
        up = -edges(*(layer.rows[::-1] for layer in layers[::-1]))[::-1]  # small numbers where elements are small
        self.levels = up[np.cumsum([0, *(len(layer.rows) for layer in layers)])]
        self.mesh = MeshQuad.init_tensor(across, up)
        self.basis = Basis(self.mesh, ElementVector(ElementQuad2()), intorder=5)
        middle = self.mesh.p[:, self.mesh.t].mean(axis=1)
        self.modulus, self.poisson = np.zeros(len(middle[0])), np.zeros(len(middle[0]))
        for number, layer in enumerate(layers):
            inside = (middle[1] > self.levels[number]) & (middle[1] < self.levels[number + 1])
            for zone in reversed(layer.zones):  # the outermost first, without an end
                here = inside & ((middle[0] < zone.outer_mm) | (zone is layer.zones[-1]))
                self.modulus[here], self.poisson[here] = zone.modulus_kpa, zone.poisson
        self._middle_y = middle[1]
        self.stiffness = self._assemble(np.ones(len(self.modulus)))
        self._below: dict[int, sparse.csr_matrix] = {}

    @cached_property
    def _at(self) -> tuple[NDArray[np.int_], Float, Float]:
        """Return for every freedom if it moves up (1) or across (0), and its place."""
        kind = np.zeros(self.basis.N, dtype=int)
        for dofs in (self.basis.nodal_dofs, self.basis.facet_dofs, self.basis.interior_dofs):
            kind[dofs[1]] = 1
        x, y = self.basis.doflocs
        return kind, x, y

    def weight(self, x: Float) -> Float:
        """Return what a unit of the section stands for: a ring, or both halves of a unit of length."""
        return 2.0 * np.pi * x if self.is_round else np.full_like(x, 2.0)

    def _assemble(self, factor: Float) -> sparse.csr_matrix:
        """Return the stiffness with every element's moduli times its factor."""
        shear = factor * self.modulus / (2.0 * (1.0 + self.poisson))
        lame = 2.0 * shear * self.poisson / (1.0 - 2.0 * self.poisson)

        def dilatation(u, x):
            around = u[0] / x if self.is_round else 0.0
            return u.grad[0, 0] + u.grad[1, 1] + around

        def deviator(u, v, w):
            x = w.x[0]
            shift_u, shift_v = u.grad[0, 1] + u.grad[1, 0], v.grad[0, 1] + v.grad[1, 0]
            product = 2.0 * (u.grad[0, 0] * v.grad[0, 0] + u.grad[1, 1] * v.grad[1, 1]) + shift_u * shift_v
            if self.is_round:
                product = product + 2.0 * u[0] * v[0] / x**2
            volume = 0.0 if self.is_mixed else w.lame * dilatation(u, x) * dilatation(v, x)
            return (w.shear * product + volume) * self.weight(x)

        points = self.basis.X.shape[-1]
        each = {name: np.repeat(value[:, None], points, axis=1) for name, value in (("shear", shear), ("lame", lame))}
        total = asm(BilinearForm(deviator), self.basis, **each)
        if not self.is_mixed:
            return total.tocsr()
        pressure = self.basis.with_element(_Linear())
        change = asm(
            BilinearForm(lambda u, q, w: dilatation(u, w.x[0]) * q * self.weight(w.x[0])), self.basis, pressure
        )
        mass = asm(BilinearForm(lambda p, q, w: p * q * self.weight(w.x[0])), pressure).tocsr()
        of = pressure.element_dofs
        blocks = np.array([[np.asarray(mass[row, column]).ravel() for column in of] for row in of])
        inverse = lame[:, None, None] * np.linalg.inv(blocks.transpose(2, 0, 1))
        rows, columns = (np.broadcast_to(index, inverse.shape) for index in (of.T[:, :, None], of.T[:, None, :]))
        law = sparse.coo_matrix((inverse.ravel(), (rows.ravel(), columns.ravel())), shape=mass.shape).tocsr()
        return (total + change.T @ law @ change).tocsr()

    def _held(self) -> NDArray[np.bool_]:
        kind, x, y = self._at
        held = (y < self.levels[0] + ROUNDING_MM) | ((x < ROUNDING_MM) & (kind == 0))
        return held | ((x > x.max() - ROUNDING_MM) & (kind == 0)) if self.is_wide else held

    @cached_property
    def _factor(self) -> tuple[NDArray[np.int_], SuperLU]:
        free = np.flatnonzero(~self._held())
        return free, splu(self.stiffness[free][:, free].tocsc())

    def _solve(self, load: Float) -> Float:
        free, factor = self._factor
        moved = np.zeros(load.shape)
        moved[free] = factor.solve(load[free])
        return moved

    def _top(self, reach_mm: float) -> tuple[FacetBasis, FacetBasis, NDArray[np.int_]]:
        """Return the top's faces up to a place: displacements, functions linear between corners, and their corners."""
        faces = self.mesh.facets_satisfying(
            lambda at: (at[1] > -ROUNDING_MM) & (at[0] < reach_mm), boundaries_only=True
        )
        corners = np.unique(self.mesh.facets[:, faces])
        corners = corners[np.argsort(self.mesh.p[0, corners])]
        linear = FacetBasis(self.mesh, ElementQuad1(), facets=faces, intorder=5)
        return FacetBasis(self.mesh, self.basis.elem, facets=faces, intorder=5), linear, linear.nodal_dofs[0, corners]

    def press(self, gap: Callable[[Float], Float], depth_mm: float, reach_mm: float) -> Pressed:
        """Press a smooth rigid body down by a depth; it pushes, slides freely and never pulls.

        Parameters
        ----------
        gap : callable
            Height of the body above the top before it moves, of x.
        depth_mm : float
        reach_mm : float
            It can touch up to here; a flat punch ends here.
        """
        faces, linear, corners = self._top(reach_mm)
        push = asm(BilinearForm(lambda p, v, w: p * v[1] * self.weight(w.x[0])), linear, faces).tocsc()
        push = np.asarray(push[:, corners].todense())
        share = asm(LinearForm(lambda q, w: q * self.weight(w.x[0])), linear)[corners]
        room = asm(LinearForm(lambda q, w: q * (gap(w.x[0]) - depth_mm) * self.weight(w.x[0])), linear)[corners]
        moved = self._solve(push)
        gives = push.T @ moved
        is_active = room < 0.0
        for _ in range(100):
            pressure = np.zeros(len(corners))
            pressure[is_active] = np.linalg.solve(gives[np.ix_(is_active, is_active)], -room[is_active])
            left = room + gives @ pressure
            is_next = np.where(is_active, pressure > 0.0, left < -1e-12 * share * depth_mm)
            if (is_next == is_active).all():
                x = self.mesh.p[0][np.unique(self.mesh.facets[:, faces.find])]
                return Pressed(float(share @ pressure), np.sort(x), pressure, -moved @ pressure)
            is_active = is_next
        raise AssertionError("The active set did not settle.")

    def plate(self, depth_mm: float, *, is_held: bool) -> Float:
        """Return the displacements when all of the top goes down by a depth, held to the plate or sliding on it."""
        kind, _, y = self._at
        top = y > -ROUNDING_MM
        moved = np.where(top & (kind == 1), -depth_mm, 0.0)
        fixed = self._held() | (top if is_held else top & (kind == 1))
        free = np.flatnonzero(~fixed)
        load = -(self.stiffness @ moved)[free]
        moved[free] = splu(self.stiffness[free][:, free].tocsc()).solve(load)
        return moved

    def loaded(self, pressure: Callable[[Float], Float], reach_mm: float = np.inf) -> Float:
        """Return the displacements under a pressure on the top, of x, up to a place."""
        faces, _, _ = self._top(reach_mm)
        return self._solve(-asm(LinearForm(lambda v, w: pressure(w.x[0]) * v[1] * self.weight(w.x[0])), faces))

    def top(self, moved: Float) -> tuple[Float, Float]:
        """Return place and upward displacement of the top, corners and middles of elements."""
        kind, x, y = self._at
        index = np.flatnonzero((kind == 1) & (y > -ROUNDING_MM))
        index = index[np.argsort(x[index])]
        return x[index], moved[index]

    def _stiffness_below(self, level: int) -> sparse.csr_matrix:
        if level not in self._below:
            is_below = self._middle_y < self.levels[level + 1]
            self._below[level] = self.stiffness if is_below.all() else self._assemble(is_below.astype(float))
        return self._below[level]

    def force_through(self, moved: Float, level: int, inner_mm: float = 0.0, outer_mm: float = np.inf) -> float:
        """Return the force that goes down through the top of layer `level` between two columns of the mesh.

        What the layers below push back with at every node. A node on a border is shared as the pressures in the
        middle of the faces beside it are.
        """
        kind, x, y = self._at
        below = self._stiffness_below(level)
        index = np.flatnonzero((kind == 1) & (np.abs(y - self.levels[level + 1]) < ROUNDING_MM))
        index = index[np.argsort(x[index])]
        force, place = -(below @ moved)[index], x[index]
        inside = ((place > inner_mm - ROUNDING_MM) & (place < outer_mm + ROUNDING_MM)).astype(float)
        for border, side in ((inner_mm, 1), (outer_mm, -1)):
            at = int(np.argmin(np.abs(place - border)))
            if 0 < at < len(place) - 1 and abs(place[at] - border) < ROUNDING_MM:
                own, other = (abs(force[at + to]) / self.weight(place[[at + to]])[0] for to in (side, -side))
                inside[at] = own / (own + other)
        return float(inside @ force)
