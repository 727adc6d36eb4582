"""The pose that the person took where the scans cannot tell: it is one of these scans, and goes when they change."""

from __future__ import annotations

from typing import Any
from zlib import crc32

from .. import state


def scans_of(part: Any, settings: str = "") -> str:
    """Return a short text that changes when the scans or their size do: poses are numbered for these alone.

    Who has the settings of the scans at hand gives them.
    """
    return f"{crc32((settings or state.all_settings(part, 'scans')['scans']).encode()):08x}"


def taken(part: Any, settings: str = "") -> int:
    """Return the number of the pose that was taken for the scans of now, or 0; picked pairs go before it."""
    is_by_pairs = any(pair.has_base and pair.has_impression for pair in part.pairs)
    return part.pose if part.pose and not is_by_pairs and part.pose_scans == scans_of(part, settings) else 0


def shown(part: Any) -> int:
    """Return the number of the pose that the impression is shown in, or 0."""
    return part.pose_shown if part.pose_shown_scans == scans_of(part) else 0


def take(part: Any, number: int) -> None:
    """Keep the number of a pose for the scans of now; 0: none."""
    part.pose, part.pose_scans = number, scans_of(part) if number else ""
