"""The memory of the stages that every button goes through, one for as long as the modeller runs."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from ..core.base.errors import InputError

if TYPE_CHECKING:
    from ..core.run.memory import StageMemory

_memory: StageMemory | None = None
_OLDEST_SCIPY = (1, 11)


def memory() -> StageMemory:
    """Return the memory of the stages; the libraries they need are loaded here, not on enabling.

    Raises InputError when one cannot be loaded.
    """
    global _memory
    if _memory is None:
        try:
            # In this order: where scipy is missing, igl ends with words that help no one.
            scipy, *_ = (import_module(name) for name in ("scipy", "manifold3d", "igl", "PIL"))
        except ImportError as error:
            raise InputError(
                f"A library that Padwright needs cannot be loaded: {error}.",
                hint="Install the Padwright zip made for this system again and restart.",
            ) from error
        found = tuple(int(each) for each in scipy.__version__.split(".")[:2])
        if found < _OLDEST_SCIPY:
            raise InputError(
                f"Another add-on brought scipy {scipy.__version__}; Padwright needs 1.11 or later.",
                hint="Update or disable that add-on and restart.",
            )
        from ..core.run.memory import StageMemory

        _memory = StageMemory()
    return _memory


def begun_memory() -> StageMemory:
    """Return the memory for new work: no stage is at work yet. Raises as `memory`."""
    found = memory()
    found.at = ""
    return found


def failing_stage() -> str:
    """Return the stage that raised the last error, or nothing when it came before or after the stages."""
    return _memory.at if _memory is not None else ""
