"""Times in words."""

from __future__ import annotations

from ..core.base.text import counted


def duration(seconds: float) -> str:
    """Return a time in words: "48 s", "12 min", "3 h 20 min"."""
    if seconds < 90.0:
        return f"{seconds:.0f} s" if seconds >= 9.5 else f"{seconds:.1f} s"
    minutes = round(seconds / 60.0)
    if minutes < 90:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if hours < 24 else counted(round(hours / 24.0), "day")
