"""The door to colorspacious: compiled for the first time, its text has backslashes that Python warns of."""

from __future__ import annotations

import warnings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colorspacious

__all__ = ["colorspacious"]
