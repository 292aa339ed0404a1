"""Work once per bar of music, not once per player.

Players who double a line share the very same tuples of events. What is derived from such a tuple
is kept under its identity, so that the next player gets the same derived object, and so on down
to the written text.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

T = TypeVar("T")


class ByIdentity(Generic[T]):
    """Results kept by the identity of objects and a key of plain values.

    The objects are held, so that an identity is never given to another object meanwhile.
    """

    def __init__(self) -> None:
        self._kept: dict[Hashable, tuple[tuple[object, ...], T]] = {}

    def get(self, objects: tuple[object, ...], key: Hashable, make: Callable[[], T]) -> T:
        """The kept result for these objects and this key, made now where there is none."""
        name = (*map(id, objects), key)
        found = self._kept.get(name)
        if found is None:
            found = self._kept[name] = (objects, make())
        return found[1]
