"""Values that are worked out when first asked for and kept, safe and free to be asked for by several threads."""

from __future__ import annotations

import functools
from threading import RLock
from typing import Any, TypeVar

Value = TypeVar("Value")


class cached_property(functools.cached_property[Value]):  # noqa: N801  # it is used as functools' own is
    """A property that is worked out once for each object.

    Up to Python 3.11 functools' own has one lock for all objects of a class, so that two threads never work out the
    same property of two meshes at once; from 3.12 on it has none, so that both work out the same one. This has a lock
    for each object, as long as it is worked out.
    """

    def __get__(self, instance: Any, owner: type[Any] | None = None) -> Any:
        """Return the value, worked out by whichever thread asked first; a look at the class gives the property."""
        if instance is None:
            return self
        assert self.attrname is not None  # for the type checker: a class body has given it
        kept, being_made = instance.__dict__, f"{self.attrname} is being worked out"
        with kept.setdefault(being_made, RLock()):
            if self.attrname not in kept:
                kept[self.attrname] = self.func(instance)
            kept.pop(being_made, None)
            return kept[self.attrname]
