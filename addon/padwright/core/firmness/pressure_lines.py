"""Published pressures to hold a prediction against: for information, never pass or fail on anyone's health."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

KPA_PER_MMHG = 0.1333223874
"""Conventional millimetre of mercury, ISO 80000-4: 133.3223874 Pa, from memory."""


@dataclass(frozen=True)
class PressureLine:
    """One published pressure.

    Attributes
    ----------
    name : str
    kpa, plus_minus_kpa : float
        Mean and standard deviation; 0 where none was published.
    text, source : str
    families : tuple of str
        Part families it speaks of; empty: all.
    """

    name: str
    kpa: float
    plus_minus_kpa: float
    text: str
    source: str
    families: tuple[str, ...] = ()


LINES = (
    PressureLine(
        "32 mmHg",
        32 * KPA_PER_MMHG,
        0.0,
        "Often quoted as the pressure that closes the finest blood vessels; it comes from the nail fold, reports range "
        "from below 20 to above 40 mmHg, and even perfectly even sitting lies above it. It says little about tissue, "
        "where time, shear, warmth and movement count more.",
        "Landis 1930, Heart 15:209, from memory",
    ),
    PressureLine(
        "chair, mean of the back half",
        8.11,
        0.99,
        "15 people on a chair, mean over 527 cm2.",
        "BioMedical Engineering OnLine 2018, doi 10.1186/s12938-018-0621-2, table 2",
        ("seat_pad",),
    ),
    PressureLine(
        "chair, peak of the back half",
        41.3,
        12.4,
        "The same people, largest cell of the mat.",
        "BioMedical Engineering OnLine 2018, doi 10.1186/s12938-018-0621-2, table 2",
        ("seat_pad",),
    ),
    PressureLine(
        "nosed saddle, mean between the sit bones",
        42.0,
        5.2,
        "315 +/- 39 mmHg on one saddle with a nose; such pressure can lie above blood pressure.",
        '"Only the nose knows", abstract, from memory; nose removal more than halves it: Lowe, Schrader & Breitenstein '
        "2004, Med. Sci. Sports Exerc. 36:1055",
        ("seat_pad",),
    ),
    PressureLine(
        "standing, heel",
        139.0,
        0.0,
        "Barefoot, quiet.",
        "Cavanagh, Rodgers & Iiboshi 1987, from memory",
        ("insole",),
    ),
    PressureLine(
        "standing, forefoot",
        53.0,
        0.0,
        "Barefoot, quiet.",
        "Cavanagh, Rodgers & Iiboshi 1987, from memory",
        ("insole",),
    ),
    PressureLine(
        "walking at 1.5 m/s, heel",
        517.0,
        158.0,
        "131 people, barefoot; a step is not standing.",
        "Shorten 1989, J. Biomech. 22:1083",
        ("insole",),
    ),
    PressureLine(
        "hand, skin flow stops",
        50.0,
        0.0,
        "About where blood flow in the skin of the hand stops.",
        "Chalmers thesis 2004, research.chalmers.se/publication/208",
        ("grip",),
    ),
    PressureLine(
        "hand, discomfort at the ball of the thumb",
        100.0,
        0.0,
        "Short presses; the palm bears about twice that.",
        "Johansson 1999, absolute values from memory",
        ("grip",),
    ),
)


def pressure_lines(family: str | None = None) -> Sequence[PressureLine]:
    """Return the published pressures that speak of a part family; None: all."""
    return tuple(line for line in LINES if family is None or not line.families or family in line.families)
