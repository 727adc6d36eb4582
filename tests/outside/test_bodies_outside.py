"""Pressures under real bodies against the load check: seats, heels and forefeet of people; the source beside each.

A body of revolution with the family card's flesh is pressed on a hard plate; how round it is follows from the contact
or the peak that was measured there. Then it is pressed on what lay between, and what was measured of that must lie
between the softest and the stiffest body and pad that the cards allow. How far off each is: docs/models/contact.md.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.support.patches import avalle, disc, patch

from padwright.core.job.cards import load_family
from padwright.core.stages.body.flesh import Flesh, flesh_layer
from padwright.core.stages.load.contact import LoadResult, check_load
from padwright.core.stages.load.felt import FOAM_KPA, FOAM_STRAIN
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.material.curves import StressCurve
from padwright.core.stages.material.fill import fill_curve
from padwright.core.stages.material.hardness import gent_kpa

MMHG = 0.133322
HARD = StressCurve(np.array([0.0, 0.98]), np.array([0.0, 0.98e6]), 0.9, 0.0)
"""A plate: 1 GPa."""

SOFT, VALUE, STIFF = range(3)


def flesh(family: str, end: int) -> Flesh:
    """Return the card's flesh at an end: thick and soft, its value, thin and stiff."""
    card = load_family(family).flesh
    return flesh_layer(card.thickness_mm[2 - end], card.modulus_kpa[end], card.stiffening)


def foam(strain: float, kpa: float) -> StressCurve:
    """Return a foam's curve that bears so much at a strain."""
    return avalle(kpa / float(avalle().stress(np.array(strain))), knots=200)


@functools.cache
def plate(radius_mm: float) -> object:
    return disc(radius_mm, radius_mm / 40.0)


def pressed(
    force_n: float,
    round_mm: float,
    body: Flesh,
    pad: StressCurve,
    pad_mm: float,
    *,
    reach_mm: float,
    cupped: float = 0.0,
) -> LoadResult:
    """Return a paraboloid of that radius pressed on a pad; cupped 1: the pad has the unloaded body's shape."""
    on = patch(plate(reach_mm), gap=lambda x, y: (1.0 - cupped) * (x * x + y * y) / (2.0 * round_mm), thickness=pad_mm)
    return check_load(LoadCase(force_n=force_n, tilt="held", flesh=body), on, [pad], is_explained=False)


# doi 10.1589/jpts.29.57, tables: men and women over 60, men and women of 20; contact cm2 and mean mmHg on the bare
# chair, mean mmHg on memory foam.
SEATED = [(661.7, 47.5, 30.1), (728.1, 47.8, 27.5), (829.5, 56.3, 34.9), (813.0, 48.6, 29.6)]
FOAM_MM = (40.0, 80.0)
"""Thickness of seat cushions; theirs is not stated: common practice, no source."""

SEAT_MM = 320.0
"""How far the seat reaches: never the limit here."""


@functools.cache
def seated(group: int, end: int) -> tuple[float, Flesh, float]:
    """Return force, flesh and roundness of a group's body, from its contact on the bare chair."""
    area, mean, _ = SEATED[group]
    force, body = mean * MMHG * area / 10.0, flesh("seat_pad", end)

    def over(round_mm: float) -> float:
        found = pressed(force, round_mm, body, HARD, 2.0, reach_mm=SEAT_MM)
        return found.contact_area_cm2.value / area - 1.0

    return force, body, float(brentq(over, 100.0, 4000.0, rtol=1e-3))


def on_foam(group: int, end: int, pad_mm: float, kpa: float) -> LoadResult:
    force, body, round_mm = seated(group, end)
    return pressed(force, round_mm, body, foam(FOAM_STRAIN, kpa), pad_mm, reach_mm=SEAT_MM)


@pytest.mark.parametrize("group", range(4))
def test_contact_grows_on_foam_as_under_seated_people(group):
    _, bare, measured = SEATED[group]
    found = [
        on_foam(group, end, pad_mm, kpa).mean_pressure_kpa.value / MMHG
        for end, pad_mm, kpa in ((SOFT, FOAM_MM[0], FOAM_KPA[1]), (SOFT, FOAM_MM[1], FOAM_KPA[0]), (VALUE, 60.0, 4.0))
    ]
    firmest, softest, middle = found
    assert softest < measured < firmest < 0.75 * bare
    # The miss: with the flesh that lies under a sit bone, taken for all of the seat, contact grows too far.
    assert middle < measured < 1.6 * middle


def test_a_contact_that_cannot_grow_misses_what_foam_does():
    # The same bodies on the same foam, held to the contact they have on the bare chair: as if a pad ended there.
    for group, (area, bare, measured) in enumerate(SEATED):
        force, body, round_mm = seated(group, SOFT)
        held = pressed(
            force, round_mm, body, foam(FOAM_STRAIN, 4.0), 60.0, reach_mm=float(np.sqrt(100.0 * area / np.pi))
        )
        mean = held.mean_pressure_kpa.value / MMHG
        assert mean > 1.5 * measured
        assert mean == pytest.approx(bare, rel=0.01)  # rings of a fortieth round off its area by half a percent


def test_seated_flesh_is_squeezed_as_it_was_seen():
    # Under the middle of the bare chair half to 0.6 of muscle and fat are gone, on a hard seat and on cushions alike
    # (doi 10.1682/JRRD.2009.07.0105, abstract, 10 people); 0.4 to 0.6 simulated (PMC10267746, table 4).
    for group in range(4):
        shares = []
        for end in (SOFT, VALUE, STIFF):
            force, body, round_mm = seated(group, end)
            peak = pressed(force, round_mm, body, HARD, 2.0, reach_mm=SEAT_MM).largest_pressure_kpa.value
            shares.append(float(body.squeezed_mm(np.array(peak))) / body.thickness_mm)
        assert shares[SOFT] > 0.55 > 0.5 > shares[VALUE] > 0.4 > shares[STIFF]


WALKING_KPA = 367.0
"""Peak under a heel at 1 m/s, 131 people: 367 +/- 115 (Shorten, Eden & Himmelsbach 1989, abstract)."""

HEEL_N, HEEL_MM = 550.0, 32.0
"""On a heel as it strikes, 0.8 of the weight of 70 kg; half of a heel's breadth, 67 to 72 mm (ANSUR II)."""

FLAT_MM = (6.3, 12.7)
INSOLE_KPA = (100.0, 200.0, 400.0)
"""Foam insoles: thin and thick, and what they bear at 25 %: common practice, no source."""


def relief(end: int, pad_mm: float, kpa: float, cupped: float) -> float:
    """Return by how much an insole lowers the peak under a heel, as a share."""
    body = flesh("insole", end)

    def over(round_mm: float) -> float:
        return pressed(HEEL_N, round_mm, body, HARD, 2.0, reach_mm=HEEL_MM).peak_pressure_kpa.value - WALKING_KPA

    round_mm = float(brentq(over, 30.0, 5000.0, rtol=1e-3))
    pad = foam(0.25, kpa)
    found = pressed(HEEL_N, round_mm, body, pad, pad_mm, reach_mm=HEEL_MM, cupped=cupped)
    return 1.0 - found.peak_pressure_kpa.value / WALKING_KPA


def test_shape_relieves_a_heel_more_than_material():
    # Finite elements checked on one person: 24 % flat, up to 44 % with the heel's own shape; shape matters most,
    # material little (doi 10.1016/j.jbiomech.2005.08.006, abstract).
    flat, cupped = (
        np.array([[relief(VALUE, mm, kpa, cupped) for kpa in INSOLE_KPA] for mm in FLAT_MM]) for cupped in (0.0, 1.0)
    )
    assert (cupped > flat + 0.05).all()
    assert (cupped - flat).mean() > np.ptp(flat, axis=1).max()
    assert flat.min() < 0.24 < flat.max()
    # The miss: in the cup all of the heel bears alike, and nothing of it is told apart any more.
    assert 0.44 < cupped.min() and np.ptp(cupped) < 0.01


# Walking, ten people, 3 mm flat insoles: peak in the shoe alone and with each sheet (doi 10.1186/s13047-020-00401-3,
# table 4): under the first, then the lateral metatarsal heads.
BARE_KPA = (215.7, 352.5)
SHEETS_KPA = {"PU 55A": (180.0, 288.0), "PU 20-25A": (None, 292.2), "EVA 25A": (None, 295.7)}


@pytest.mark.parametrize("place", [0, 1])
def test_a_thin_sheet_relieves_a_forefoot_between_solid_and_foam(place):
    # The sheets are of "low" and "medium density", so foamed, how much is not stated: what was measured lies between a
    # solid of their hardness and a soft foam, for all three.
    body = flesh("insole", VALUE)

    def over(round_mm: float) -> float:
        return pressed(100.0, round_mm, body, HARD, 2.0, reach_mm=20.0).peak_pressure_kpa.value - BARE_KPA[place]

    round_mm = float(brentq(over, 8.0, 2000.0, rtol=1e-3))
    pads = (fill_curve("solid", 1.0, gent_kpa(55.0), 0.48), fill_curve("solid", 1.0, gent_kpa(22.0), 0.48),
            foam(0.25, INSOLE_KPA[0]))  # fmt: skip
    left = [
        pressed(100.0, round_mm, body, pad, 3.0, reach_mm=20.0).peak_pressure_kpa.value / BARE_KPA[place]
        for pad in pads
    ]
    assert 1.0 > left[0] > left[1] > left[2]
    for measured in SHEETS_KPA.values():
        if (kpa := measured[place]) is not None:
            assert left[2] < kpa / BARE_KPA[place] < left[1]
