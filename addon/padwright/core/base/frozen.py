"""Arrays that a frozen record holds: no one may write into them either."""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray


def hold(record: object, **arrays: NDArray[Any]) -> None:
    """Set a frozen dataclass's fields of these names to arrays of its own and make them read-only."""
    for name, array in arrays.items():
        array.setflags(write=False)
        object.__setattr__(record, name, array)
