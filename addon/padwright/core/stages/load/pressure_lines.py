"""Published pressures to hold a prediction against: for information, never pass or fail on anyone's health."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

KPA_PER_MMHG = 0.1333223874
"""Mercury of 13.5951 g/cm3 under 9.80665 m/s2, 1 mm high: 133.322 Pa."""


JUST_NOTICEABLE = 0.13
"""Pressures under a sit bone that differ by less, up or down, are not told apart: 13 % at 26.5 kPa and 14 % at 13.3
(doi 10.1080/00140130500123647, read in an abstract)."""


@dataclass(frozen=True)
class PressureLine:
    """One published pressure."""

    name: str
    kpa: float  # mean
    plus_minus_kpa: float  # standard deviation; 0 where none was published
    text: str
    source: str  # with what was read of it in brackets; docs/sources.md lists them all
    families: tuple[str, ...] = ()  # part families it speaks of; empty: all


LINES = (
    PressureLine(
        "32 mmHg",
        32 * KPA_PER_MMHG,
        0.0,
        "Often quoted as the pressure that closes the finest blood vessels. It is the pressure in those of the nail "
        "fold, at the arterial end; along them 15 to 38 mmHg were measured. On a bare chair even the mean lies above "
        "it. It says little about tissue, where time, shear, warmth and movement count more.",
        "Landis 1930, Heart 15:209 (cited, not read); the range and that it agrees with Landis: doi 10.1042/cs0740507 "
        "(abstract)",
    ),
    PressureLine(
        "chair without a cushion, mean",
        6.66,
        1.42,
        "211 people of 20 and of over 60, mean over 660 to 830 cm2 of contact; of their four groups the lowest mean is "
        "6.3 kPa, the highest 7.5.",
        "J. Phys. Ther. Sci. 29:57, 2017, doi 10.1589/jpts.29.57 (tables; its four groups put together)",
        ("seat_pad",),
    ),
    PressureLine(
        "saddle with a nose, mean between the sit bones",
        315.2 * KPA_PER_MMHG,
        39.0 * KPA_PER_MMHG,
        "Men; on the other of the two saddles 388 mmHg, upright on a table 48. It is above the pressure of the blood.",
        '"Only the Nose Knows", J. Sex. Med. 2005, doi 10.1111/j.1743-6109.2005.00089.x (abstract). Without '
        "a nose less than half, 33 riders: Lowe, Schrader & Breitenstein 2004, Med. Sci. Sports Exerc. 36:1055 "
        "(abstract)",
        ("seat_pad",),
    ),
    PressureLine(
        "standing, heel",
        139.0,
        0.0,
        "Barefoot, quiet.",
        "Cavanagh, Rodgers & Iiboshi 1987 (cited, not read)",
        ("insole",),
    ),
    PressureLine(
        "standing, forefoot",
        53.0,
        0.0,
        "Barefoot, quiet.",
        "Cavanagh, Rodgers & Iiboshi 1987 (cited, not read)",
        ("insole",),
    ),
    PressureLine(
        "walking at 1.5 m/s, heel",
        517.0,
        158.0,
        "131 people, barefoot, mean of their peaks; a step is not standing.",
        "Shorten, Eden & Himmelsbach 1989, J. Biomech. 22:1083 (abstract)",
        ("insole",),
    ),
    PressureLine(
        "hand, skin flow stops",
        50.0,
        0.0,
        "At 30 to 52 kPa the flow of blood in the skin of fingers and thumb falls by 85 %; in mid-palm it takes more.",
        "Johansson, Hagg & Fischer 2002, Eur. J. Appl. Physiol. 86:394, doi 10.1007/s00421-001-0562-4 (abstract)",
        ("grip",),
    ),
    PressureLine(
        "hand, discomfort at the ball of the thumb",
        100.0,
        0.0,
        "Short presses; the palm bears about twice that.",
        "Johansson 1999, Perception of surface pressure applied to the hand (abstract: discomfort begins at 22 % of "
        "what hurts there, at 40 % in the palm; the pressures themselves cited, not read)",
        ("grip",),
    ),
)


def pressure_lines(family: str | None = None) -> Sequence[PressureLine]:
    """Return the published pressures that speak of a part family; None: all."""
    return tuple(line for line in LINES if family is None or not line.families or family in line.families)
