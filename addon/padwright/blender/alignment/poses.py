"""The pose that the person took where the scans cannot tell: it is one of these scans, and goes when they change."""

from __future__ import annotations

from typing import Any

from .. import state


def scans_of(part: Any) -> str:
    """Return a short text that changes when the scans or their size do."""
    return state.print_of_scans(state.all_settings(part, "scans")["scans"])


def taken(part: Any) -> int:
    """Return the number of the pose that was taken for the scans of now, or 0; picked pairs go before it."""
    return state.taken_pose(part, state.all_settings(part, "scans")["scans"])


def shown(part: Any) -> int:
    """Return the number of the pose that the impression is shown in, or 0."""
    return part.pose_shown if part.pose_shown_scans == scans_of(part) else 0


def take(part: Any, number: int) -> None:
    """Keep the number of a pose for the scans of now; 0: none."""
    part.pose, part.pose_scans = number, scans_of(part) if number else ""
