"""Values with a side that takes no part in comparing: where they stood, what was odd."""

from __future__ import annotations

from typing import ClassVar

from msgspec import Struct


class Apart(Struct, frozen=True, eq=False):
    """A value that equals another where all fields but those in `APART` are equal."""

    APART: ClassVar[frozenset[str]] = frozenset({"at", "spots", "warnings"})

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return all(
            getattr(self, name) == getattr(other, name)
            for name in self.__struct_fields__
            if name not in self.APART
        )

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash(tuple(getattr(self, n) for n in self.__struct_fields__ if n not in self.APART))
