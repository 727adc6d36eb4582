"""How far load centers read in virtual clay lie off a body's own lowest places, and how often their range holds them.

Bodies from formulas: two blunt ellipsoids whose undersides lie flat, more or less, on a dished board. The last rows
press one body whose flesh is thinner under the bones than around them, as flesh of one thickness is taken for it. The
tables stand in docs/models/body.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np
from tests.support.scanned import grid

import studying
from padwright.core.base.mesh import Float, TriMesh
from padwright.core.stages.body.clay_bed import lay_clay
from padwright.core.stages.body.clay_border import clay_share, with_wall
from padwright.core.stages.body.flesh import Flesh, flesh_layer
from padwright.core.stages.body.press_clay import BodyOnClay, Imprint, press_to_depth
from padwright.core.stages.body.spread import spread_of
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.reading.impression_reading import ImpressionReading

DOWN = np.array([0.0, 0.0, -1.0])
CLAY_MM, FORCE_N = 30.0, 435.0
WAYS = {"even": 0.0, "between": 0.5, "heaped": 1.0}


@dataclass(frozen=True)
class Person:
    """Two ellipsoids, and a board to sit on."""

    apart_mm: float  # between their lowest places
    blunt_mm: float  # radius of each, across
    flat_mm: float  # so much of their lowest part lies as good as flat
    thick_mm: float  # of the flesh
    modulus_kpa: float
    dish_mm: float  # how much higher the board is at its sides

    @classmethod
    def drawn(cls, seed: int) -> Person:
        """Return one at random: from round to flat, from soft to firm."""
        rng = np.random.default_rng([11, seed])
        low = (100.0, 60.0, 0.0, 25.0, 3.0, 0.0)
        high = (140.0, 110.0, 3.0, 70.0, 30.0, 6.0)
        return cls(*(float(each) for each in rng.uniform(low, high)))

    def skin(self, x: Float, y: Float) -> Float:
        """Return the height of the underside."""
        sides = []
        for side in (-0.5, 0.5):
            share = ((x - side * self.apart_mm) / self.blunt_mm) ** 2 + (y / (0.9 * self.blunt_mm)) ** 2
            sides.append(0.9 * self.blunt_mm * (1.0 - np.sqrt(1.0 - np.minimum(share, 0.95))))
        one = np.asarray(-4.0 * np.logaddexp(-sides[0] / 4.0, -sides[1] / 4.0))
        return one if self.flat_mm < 0.01 else self.flat_mm * np.logaddexp(0.0, (one - self.flat_mm) / self.flat_mm)

    @property
    def lowest(self) -> Float:
        """Places of the two lowest places of the skin, (2, 2)."""
        x = np.linspace(0.3, 0.8, 20_001) * self.apart_mm
        at = float(x[np.argmin(self.skin(x, 0.0 * x))])
        return np.array([[-at, 0.0], [at, 0.0]])


def laid(person: Person, heaping: float, seed: int) -> tuple[BodyOnClay, TriMesh]:
    """Return the body over clay on its board, both scanned with 0.1 mm of noise, and the board."""
    rng = np.random.default_rng([12, seed])
    ends = [np.arange(-150.0, 150.1, 4.0), np.arange(-120.0, 120.1, 4.0)]
    board = grid(*ends, lambda x, y: person.dish_mm * (x / 150.0) ** 2 + rng.normal(0.0, 0.1, x.shape))
    ends = [np.arange(-140.0, 140.1, 2.5), np.arange(-110.0, 110.1, 2.5)]
    skin = grid(*ends, lambda x, y: person.skin(x, y) + 60.0 + rng.normal(0.0, 0.1, x.shape)).flipped()
    bed = lay_clay(board, DOWN, CLAY_MM)
    height, _ = bed.seen_below(skin)
    # Its thickness is given, its stiffness is known as well as the card of the seat says it.
    flesh = replace(flesh_layer(person.thick_mm, person.modulus_kpa, 7.0), stress_factors=(0.375, 3.75))
    return BodyOnClay(bed, height, CLAY_MM, FORCE_N, flesh, heaping), board


def read(body: BodyOnClay, board: TriMesh, found: Imprint, heaping: tuple[float, float] | None) -> ImpressionReading:
    """Return the reading of an imprint; with the ends of what heaps up, load centers with their doubt."""
    bed, doubt = body.bed, None
    if heaping is not None:
        doubt = spread_of(
            body, found, lambda one: press_to_depth(one, 20.0), basis="model", heaping=heaping, load_factor=1.15
        ).centers
    pressed, is_touched = np.full(bed.is_clay.shape, np.nan), np.zeros(bed.is_clay.shape, dtype=bool)
    pressed[bed.is_clay] = bed.top_mm[bed.is_clay] - found.depth_mm
    is_touched[bed.is_clay] = found.is_touched
    share = clay_share(bed.is_clay, is_touched, bed.step_mm, 15.0)
    surface = bed.surface(np.round(with_wall(pressed, bed.base_mm, share), 6), board)
    return read_impression(
        board, surface, press_direction=DOWN, clay_thickness_mm=CLAY_MM, expected_centers=(2, 2),
        compare_sides=False, is_scanned=False, doubt=doubt,
    )  # fmt: skip


class UnevenFlesh(Flesh):
    """Flesh with a thickness for each place that the body covers, (n,), in place of one."""

    def __post_init__(self) -> None:
        """Leave the check of one thickness out."""


def uneven(body: BodyOnClay, person: Person, under_mm: float, beside_mm: float) -> BodyOnClay:
    """Return the body with flesh of one thickness under its bones, fading over 20 mm to another beside them."""
    assert body.flesh is not None
    flat = body.bed.flat[np.isfinite(body.height_mm)] @ body.bed.axes[:, :2]
    away = np.linalg.norm(flat[:, None] - person.lowest[None], axis=2).min(axis=1)
    thick = beside_mm + (under_mm - beside_mm) * np.exp(-0.5 * (away / 20.0) ** 2)
    return replace(body, flesh=UnevenFlesh(thick, body.flesh.curve))  # type: ignore[arg-type]


def shares(seeds: range, way: str, *, is_flat: bool) -> tuple[tuple[str, ...], list[tuple[str, bool]]]:
    """Return a row of bodies at random in clay that bears one way, and what is claimed of them."""
    words = f"{way}, flat board" if is_flat else way
    off, stated, held, spacings, are_held = [], [], [], [], []
    for seed in seeds:
        person = replace(Person.drawn(seed), **({"dish_mm": 0.0} if is_flat else {}))
        body, board = laid(person, WAYS[way], seed)
        ends = (0.0, 1.0) if way == "between" else (WAYS[way], WAYS[way])
        reading = read(body, board, press_to_depth(body, 20.0), ends)
        for center in reading.load_centers:
            away = float(np.linalg.norm(person.lowest - center.position_mm[:2], axis=1).min())
            off.append(away)
            stated.append(center.plus_minus_mm)
            held.append(away <= center.plus_minus_mm)
        if reading.spacing_mm is not None and reading.spacing_plus_minus_mm is not None:
            spacings.append(reading.spacing_mm - 2.0 * float(person.lowest[1, 0]))
            are_held.append(abs(spacings[-1]) <= reading.spacing_plus_minus_mm)
    row = (
        f"{len(seeds)} at random, {words}",
        f"{np.sqrt(np.mean(np.square(off))):.1f}, {max(off):.1f} mm",
        f"{np.median(stated):.1f} mm",
        f"{sum(held)} of {len(held)}",
        f"{np.mean(spacings):+.1f}, {max(spacings, key=abs):+.1f} mm",
        f"{sum(are_held)} of {len(are_held)}",
        "",
    )
    claims = [(f"{words}: {sum(held)} of {len(held)} load centers held", studying.can_be(sum(held), len(held), 0.95))]
    can_hold = studying.can_be(sum(are_held), len(are_held), 0.95)
    return row, [*claims, (f"{words}: {sum(are_held)} of {len(are_held)} spacings held", can_hold)]


def two_thicknesses(under_mm: float, beside_mm: float) -> tuple[str, ...]:
    """Return a row of one body with flesh of two thicknesses, beside itself with flesh of 40 mm."""
    person = Person(118.0, 85.0, 1.0, 40.0, 8.0, 3.0)
    body, board = laid(person, WAYS["between"], 0)
    whole = press_to_depth(body, 20.0)
    other = press_to_depth(uneven(body, person, under_mm, beside_mm), 20.0)
    first, second = (read(body, board, found, None).load_centers for found in (whole, other))
    moved = [min(float(np.linalg.norm(a.position_mm - b.position_mm)) for b in second) for a in first]
    both = whole.is_touched & other.is_touched
    shape = float(np.sqrt(np.square(whole.depth_mm - other.depth_mm)[both].mean()))
    return (
        f"flesh {under_mm:g} mm under bones, {beside_mm:g} beside",
        f"{np.sqrt(np.mean(np.square(moved))):.1f}, {max(moved):.1f} mm",
        "",
        "",
        f"imprint {shape:.1f} mm",
        "",
        f"{100.0 * (other.peak_kpa / whole.peak_kpa - 1.0):+.0f} %, "
        f"contact {100.0 * (other.contact_cm2 / whole.contact_cm2 - 1.0):+.0f} %",
    )


def study(seeds: range) -> studying.Finding:
    """Press bodies at random, then one with flesh of two thicknesses."""
    rows, claims = [], []
    for way, is_flat in (*((way, False) for way in WAYS), ("even", True), ("between", True)):
        row, claimed = shares(seeds, way, is_flat=is_flat)
        rows.append(row)
        claims += claimed
    rows += [two_thicknesses(*each) for each in ((40.0, 40.0), (20.0, 50.0), (10.0, 50.0), (55.0, 35.0))]
    head = (
        "bodies, clay", "load centers off (RMS, most)", "stated (median)", "range holds",
        "spacing off (mean, most)", "its range holds", "peak on the clay",
    )  # fmt: skip
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=20, sample=2))
