"""What the pad stage takes: the person's wishes, and what it needs of the reading of the impression."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from ...base.mesh import Bool, Float, TriMesh
from .relief import PlacedRelief


@dataclass(frozen=True)
class PadSettings:
    """What the person asks of the pad, each number within the limits of the job's key of its name."""

    fit_gap_mm: float = 0.4  # normal distance between the base and the pad's base side
    least_thickness_mm: float = 4.0  # the pad is nowhere thinner; the footprint ends where the clay is thinner
    rim_radius_mm: float = 2.0  # rounding of the rim towards the body side
    base_edge_radius_mm: float = 1.0  # and towards the base side
    cover_mm: float = 0.0  # allowance on the body side for a cover, or for the film that lay on the clay
    # (k, 3), mm, part frame; a closed curve that bounds the footprint; the clay's own edge when there is none.
    outline: Float | None = None
    envelope: TriMesh | None = None  # the artist's own solid, in the part frame; the pad is this less base and body
    reliefs: Sequence[PlacedRelief] = ()
    # without an outline or envelope: "clay" to the clay's own edge; "contact" no farther than `contact_margin_mm` from
    # what the body pressed; "auto" so where the clay covers more than twice that.
    footprint_from: str = "clay"
    contact_margin_mm: float = 10.0
    resolution_mm: float | None = None  # grid step; chosen from the scans when there is none


class ClayReading(Protocol):
    """What the pad needs of the reading: `ImpressionReading` has it, and `BaseOnly` where there is no impression."""

    @property
    def press_direction(self) -> Float | None:
        """(3,) unit vector from the body into the part; None for a wrap-around part."""

    @property
    def thickness(self) -> Float:
        """(n,) mm, clay between body side and base at every vertex of the impression."""

    @property
    def is_clay(self) -> Bool:
        """(n,) where the impression shows clay."""

    @property
    def is_contact(self) -> Bool:
        """(n,) where the body pressed it."""


@dataclass(frozen=True, eq=False)
class BaseOnly:
    """In place of a reading where there is no impression: an envelope less the base."""

    press_direction: Float | None
    thickness: Float = field(default_factory=lambda: np.zeros(0))
    is_clay: Bool = field(default_factory=lambda: np.zeros(0, dtype=bool))
    is_contact: Bool = field(default_factory=lambda: np.zeros(0, dtype=bool))
