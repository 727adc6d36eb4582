"""Printed blocks to press: which settings, how large, how hard to press them, and what that will tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ....base.errors import InputError
from ....base.estimate import Estimate
from ....base.mesh import TriMesh
from ....base.text import counted
from ....base.units import N_PER_KG
from ....geometry.solids import extruded
from ....job.material_cards import MaterialCard
from ..curves import LEVEL_STRAIN, CurveBand, StressCurve
from ..fill import RegionGeometry, region_curve
from ..fill_geometry import bead_wall_mm, cell_mm, relative_density
from ..lattices import LATTICES
from ..material_model import MaterialModel
from ..region_settings import RegionSettings, speed_under_flow
from .coupon_outline import MOST_BLOCKS, area_of, notched_square, perimeter_of
from .held import middle_grip

HEIGHT_MM = 25.0
"""A tenth of it is 2.5 mm, so that 0.1 mm is 4 % of what is read."""

EDGES_MM = (20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0)
READ_MM, READ_KG = 0.1, 1.0
"""What a ruler or calipers and a bathroom scale can tell."""

BARE_KG = 0.5
"""Loads below it count as none."""

SHOWN_KG = 5.0
"""Below it many bathroom scales show nothing (common practice, no source)."""

_LEAST_LOAD_KG = 10.0
"""At a tenth of the height, so that 1 kg is a tenth of it at most; several loads bring that down further."""

_CELLS_ACROSS = 4.5
"""Cut cells at the sides of an open lattice carry less; at about five cells across the loss is some 10 % (Andrews,
Gioux, Onck & Gibson 2001, Int. J. Mech. Sci. 43, 701, cited, not read). What is left is part of the fill's spread."""

_FEWEST_CELLS = 3.0
_LEAST_SINK_MM = 1.0
_DEEPEST_STRAIN = 0.25
_LOADS = 5
SHARE_OF_BODY = 0.5
"""What a person standing on the floor can put through straight arms onto a plank (common practice, no source)."""

_GAP_MM = 8.0


@dataclass(frozen=True)
class CouponWish:
    """What the blocks are to span."""

    # the first is printed at every fill share, the others at the middle one.
    structures: tuple[str, ...] = ("gyroid", "honeycomb")
    solid_shares_pct: tuple[float, ...] = (10.0, 15.0, 25.0)
    # the least is on every block; the others on one more block each, of the first structure at the middle share.
    contours: tuple[int, ...] = (0, 2)
    has_solid: bool = True  # add a solid block
    # nozzle_mm, bead_width_mm, layer_thickness_mm: the bead 1.125 and the layer half the nozzle where they are None
    # (common practice, no source).
    nozzle_mm: float = 0.4
    bead_width_mm: float | None = None
    layer_thickness_mm: float | None = None
    body_mass_kg: float = 70.0  # of who presses
    bed_mm: tuple[float, float] = (220.0, 220.0)  # x, y
    # which of these the person named, and "material" where the filament was; the others are our own.
    stated: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Coupon:
    """One block: how it is printed and how large it is."""

    number: int  # it has as many notches
    settings: RegionSettings
    edge_mm: float
    geometry: RegionGeometry  # with the notches: area and perimeter are the block's own

    @property
    def words(self) -> str:
        """What it is, for a person."""
        given = self.settings
        fill = "solid" if given.fill_structure == "solid" else f"{given.fill_structure} {given.solid_share_pct:g} %"
        if given.contour_count == 0:
            return f"{fill}, no contours"
        return f"{fill}, {counted(given.contour_count, 'contour')}"

    @property
    def bare_kg(self) -> float:
        """Loads below it are none: a bathroom scale's first kilogram says nothing."""
        return BARE_KG

    @property
    def pressed_mm(self) -> float:
        """Height that gives, mm."""
        return self.geometry.thickness_mm


@dataclass(frozen=True, eq=False)
class PlannedCoupon:
    """A block with its solid and what pressing it should show."""

    coupon: Coupon
    mesh: TriMesh  # closed, at its place on the bed, mm
    curve: CurveBand  # of the block between slippery plates
    loads_kg: tuple[float, ...]  # suggested steps
    sinks_mm: tuple[Estimate, ...]  # expected at each
    tenth_load_kg: Estimate  # what presses it by a tenth
    tenth_error: float  # share by which 0.1 mm and 1 kg are off at the suggested load nearest to that
    mass_g: float


@dataclass(frozen=True, eq=False)
class CouponSet:
    """All blocks on the bed."""

    blocks: tuple[PlannedCoupon, ...]
    most_load_kg: float  # what the person can put on
    notes: tuple[str, ...]
    strip: TriMesh | None = None  # of bridges, at its place on the bed; of folds only


def plan_coupons(model: MaterialModel, card: MaterialCard, wish: CouponWish) -> CouponSet:
    """Return blocks that span what is to be printed, each so large that a bathroom scale and a ruler suffice.

    The edge is the smallest that is 4.5 cells wide and takes 10 kg for a tenth of its height; loads go in five even
    steps from what a scale shows, 5 kg at least, up to a quarter of the height or half the body's mass. Raises
    InputError when a wish is out of range, no block would give way enough, or they do not fit the bed.
    """
    _check(wish)
    most = SHARE_OF_BODY * wish.body_mass_kg
    notes: list[str] = []
    planned: list[PlannedCoupon] = []
    for settings in _settings(card, wish):
        block, note = _sized(len(planned) + 1, settings, model, card, most)
        if note:
            notes.append(note)
        if block is not None:
            planned.append(block)
    if not planned:
        raise InputError(
            f"No block of this filament gives way by {_LEAST_SINK_MM:g} mm under {most:.0f} kg.",
            hint="Ask for sparser fills, or a heavier person.",
        )
    placed = laid_out([block.mesh for block in planned], wish.bed_mm)
    blocks = tuple(replace(block, mesh=mesh) for block, mesh in zip(planned, placed, strict=True))
    return CouponSet(blocks, most, tuple(notes))


def solid_block(
    number: int, model: MaterialModel, card: MaterialCard, wish: CouponWish
) -> tuple[PlannedCoupon | None, str]:
    """Return the solid block of a set, and a note; none where a person cannot press it by what a ruler tells."""
    settings = _settings(card, replace(wish, solid_shares_pct=(15.0,), structures=("gyroid",), has_solid=True))[-1]
    return _sized(number, settings, model, card, SHARE_OF_BODY * wish.body_mass_kg)


def _check(wish: CouponWish) -> None:
    lists = (wish.structures, wish.solid_shares_pct, wish.contours)
    if not all(lists) or any(len(set(each)) != len(each) for each in lists):
        raise InputError("Structures, fill shares and contours each need at least one value, none twice.")
    unknown = [name for name in wish.structures if name not in LATTICES]
    if unknown:
        raise InputError(f'There is no model for "{unknown[0]}".', hint=f"Use {', '.join(LATTICES)}.")
    if not all(3.0 <= value <= 50.0 for value in wish.solid_shares_pct):
        raise InputError(f"Fill shares of blocks go from 3 to 50 %; got {wish.solid_shares_pct}.")
    if not all(0 <= value <= 6 for value in wish.contours):
        raise InputError(f"Blocks have 0 to 6 contours; got {wish.contours}.")
    check_printer(wish)


def check_printer(wish: CouponWish) -> None:
    """Refuse a nozzle, bead, layer, bed or person out of range, whatever the blocks are of.

    Raises InputError with the number.
    """
    if not 0.1 <= wish.nozzle_mm <= 3.0 or not 20.0 <= wish.body_mass_kg <= 250.0:
        raise InputError(f"A nozzle of {wish.nozzle_mm:g} mm or a mass of {wish.body_mass_kg:g} kg is out of range.")
    bead, layer = bead_of(wish), layer_of(wish)
    if not 0.1 <= bead <= 5.0 or not 0.02 <= layer <= bead:
        raise InputError(
            f"A bead of {bead:g} mm with layers of {layer:g} mm cannot be printed.",
            hint="Beads are 0.1 to 5 mm wide, layers 0.02 mm or thicker and no thicker than the bead is wide.",
        )
    if not all(20.0 <= side <= 5000.0 for side in wish.bed_mm):
        raise InputError(f"A bed of {wish.bed_mm[0]:g} x {wish.bed_mm[1]:g} mm is out of range.")


def bead_of(wish: CouponWish) -> float:
    """Return how wide a bead is, mm."""
    return round(1.125 * wish.nozzle_mm, 3) if wish.bead_width_mm is None else wish.bead_width_mm


def layer_of(wish: CouponWish) -> float:
    """Return how thick a layer is, mm."""
    return round(0.5 * wish.nozzle_mm, 3) if wish.layer_thickness_mm is None else wish.layer_thickness_mm


_ASKED = {
    "material_id": "material", "nozzle_diameter_mm": "nozzle_mm", "bead_width_mm": "bead_width_mm",
    "layer_thickness_mm": "layer_thickness_mm", "contour_count": "contours",
}  # fmt: skip
"""Settings of every block and the wish that names them; the solid block's fill is its own."""


def _settings(card: MaterialCard, wish: CouponWish) -> list[RegionSettings]:
    shares, least = sorted(wish.solid_shares_pct), min(wish.contours)
    middle = shares[len(shares) // 2]
    first, *others = wish.structures
    rows = [(first, share, least) for share in shares]
    rows += [(first, middle, count) for count in sorted(wish.contours) if count != least]
    rows += [(structure, middle, least) for structure in others]
    rows += [("solid", 100.0, least)] if wish.has_solid else []
    if len(rows) > MOST_BLOCKS:
        raise InputError(f"That makes {len(rows)} blocks; notches can tell {MOST_BLOCKS} apart.", hint="Ask for fewer.")
    bead, layer = bead_of(wish), layer_of(wish)
    speed = speed_under_flow(bead, layer, 30.0, card.max_volume_flow_mm3_s)
    made = []
    for structure, share, contours in rows:
        settings = RegionSettings(
            card.id, wish.nozzle_mm, bead, layer, structure, share, contours, 2, 2, float(speed),
            card.max_volume_flow_mm3_s, None, card.nozzle_temperature_degc, card.bed_temperature_degc,
        )  # fmt: skip
        own = {} if structure == "solid" else {"fill_structure": "structures", "solid_share_pct": "solid_shares_pct"}
        asked = {**_ASKED, **own}
        basis = {name: "user" if asked.get(name) in wish.stated else "assumed" for name in settings.as_json()}
        made.append(replace(settings, basis=basis))
    return made


def _sized(
    number: int, settings: RegionSettings, model: MaterialModel, card: MaterialCard, most_kg: float
) -> tuple[PlannedCoupon | None, str]:
    wall = bead_wall_mm(settings.bead_width_mm, settings.layer_thickness_mm)
    cell = 0.0
    if settings.fill_structure != "solid":
        cell = cell_mm(settings.fill_structure, settings.solid_share_pct / 100.0, wall)
    edge, coupon, curve = _edge(number, settings, model, cell, most_kg)
    tenth = coupon_load_kg(coupon, curve.value, LEVEL_STRAIN)
    deepest = min(coupon_load_kg(coupon, curve.value, _DEEPEST_STRAIN), most_kg)
    loads = _loads(deepest)
    sinks = tuple(_sink(coupon, curve, load) for load in loads)
    if sinks[-1].value < _LEAST_SINK_MM:
        return None, (
            f"Left out {coupon.words}: {most_kg:.0f} kg would press it by {sinks[-1].value:.2f} mm only, too little "
            "for a ruler."
        )
    note = ""
    if 2.0 * cell > HEIGHT_MM or edge < _CELLS_ACROSS * cell:
        note = (
            f"Block {number} ({coupon.words}) has cells of {cell:.0f} mm, few for its size: what it shows holds less "
            "well for larger parts."
        )
    if loads[0] < SHOWN_KG:
        note += (" " if note else "") + (
            f"Block {number} ({coupon.words}) is so soft that it is pressed with less than {SHOWN_KG:g} kg, where many "
            "scales show nothing: lay on full bottles, 1 kg a liter."
        )
    low, high = (tenth * each.secant_kpa() / curve.value.secant_kpa() for each in (curve.low, curve.high))
    load = Estimate(tenth, low, high, curve.basis)
    nearest = int(np.argmin([abs(sink.value - LEVEL_STRAIN * HEIGHT_MM) for sink in sinks]))
    error = float(np.hypot(READ_KG / loads[nearest], np.sqrt(2.0) * READ_MM / sinks[nearest].value))
    mesh = extruded(notched_square(edge, number), HEIGHT_MM, f"block {number}")
    mass = mesh.volume / 1000.0 * card.density_g_cm3 * solid_share(coupon)
    return PlannedCoupon(coupon, mesh, curve, loads, sinks, load, error, mass), note


def _loads(deepest_kg: float) -> tuple[float, ...]:
    """Return even steps of whole kg that a scale shows, or all that there is where a block is too soft for that."""
    first = max(SHOWN_KG, deepest_kg / _LOADS)
    if deepest_kg < first + _LOADS - 1:
        first = deepest_kg / _LOADS
    return tuple(dict.fromkeys(float(max(round(each), 1)) for each in np.linspace(first, deepest_kg, _LOADS)))


def _edge(
    number: int, settings: RegionSettings, model: MaterialModel, cell: float, most_kg: float
) -> tuple[float, Coupon, CurveBand]:
    """Return a block's edge: the smallest that is wide enough for its cells and for the scale.

    Where that is too stiff for a person, it gets smaller again, down to three cells, until it gives a tenth.
    """

    def made(edge: float) -> tuple[float, Coupon, CurveBand, float]:
        outline = notched_square(edge, number)
        coupon = Coupon(number, settings, edge, RegionGeometry(HEIGHT_MM, area_of(outline), perimeter_of(outline)))
        curve = region_curve(settings, model, coupon.geometry)
        return edge, coupon, curve, coupon_load_kg(coupon, curve.value, LEVEL_STRAIN)

    for edge in EDGES_MM:
        found = made(edge)
        if found[3] >= _LEAST_LOAD_KG and edge >= _CELLS_ACROSS * cell:
            break
    for edge in reversed([edge for edge in EDGES_MM if _FEWEST_CELLS * cell <= edge < found[0]]):
        if found[3] <= most_kg:
            break
        found = made(edge)
    return found[:3]


def coupon_load_kg(coupon: Coupon, curve: StressCurve, strain: float) -> float:
    """Return the load that presses a block by a strain, half of the plates' hold on it taken into account."""
    stress = float(curve.stress(np.array(strain)))
    held = middle_grip(curve, coupon.edge_mm / coupon.geometry.thickness_mm)
    return stress * held * coupon.geometry.area_mm2 / 1000.0 / N_PER_KG


def _sink(coupon: Coupon, band: CurveBand, load_kg: float) -> Estimate:
    """Return how far a load presses a block, mm; the stiff curve gives the low end."""
    strain = np.linspace(0.0, 0.95, 381)
    found = []
    for curve in (band.value, band.high, band.low):
        held = middle_grip(curve, coupon.edge_mm / coupon.geometry.thickness_mm)
        loads = curve.stress(strain) * held * coupon.geometry.area_mm2 / 1000.0 / N_PER_KG
        found.append(coupon.geometry.thickness_mm * float(np.interp(load_kg, loads, strain)))
    return Estimate(found[0], found[1], found[2], band.basis)


def solid_share(coupon: Coupon) -> float:
    """Return how much of a block's volume is filament: contours, fill and closed layers."""
    given = coupon.settings
    wall = bead_wall_mm(given.bead_width_mm, given.layer_thickness_mm)
    density = relative_density(
        given.fill_structure, given.solid_share_pct, given.fill_cell_mm, given.bead_width_mm, given.layer_thickness_mm
    )
    walls = min(given.contour_count * wall * coupon.geometry.perimeter_mm / coupon.geometry.area_mm2, 1.0)
    skins = (given.body_side_layer_count + given.base_side_layer_count) * given.layer_thickness_mm
    skins = min(skins / coupon.geometry.thickness_mm, 1.0)
    return skins + (1.0 - skins) * (walls + (1.0 - walls) * density)


def laid_out(meshes: Sequence[TriMesh], bed_mm: tuple[float, float]) -> list[TriMesh]:
    """Return blocks at their places on the bed, in rows, the deepest first.

    Raises InputError when they do not fit.
    """
    placed: dict[int, TriMesh] = {}
    x = y = deepest = 0.0
    sizes = [np.ptp(mesh.bounds[:, :2], axis=0) for mesh in meshes]
    for index in sorted(range(len(meshes)), key=lambda each: -float(sizes[each][1])):
        wide, deep = (float(each) for each in sizes[index])
        if x > 0.0 and x + wide > bed_mm[0]:
            x, y, deepest = 0.0, y + deepest + _GAP_MM, 0.0
        if x + wide > bed_mm[0] or y + deep > bed_mm[1]:
            raise InputError(
                f"{counted(len(meshes), 'block does', 'blocks do')} not fit a bed of {bed_mm[0]:g} x {bed_mm[1]:g} mm.",
                hint="Ask for fewer blocks, and print twice.",
            )
        matrix = np.eye(4)
        matrix[:2, 3] = np.array([x, y]) - meshes[index].bounds[0, :2]
        placed[index] = meshes[index].transformed(matrix)
        x += wide + _GAP_MM
        deepest = max(deepest, deep)
    return [placed[index] for index in range(len(meshes))]
