"""Three versions of one thing: which stands, and the account of all that was decided."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import Generic, TypeVar

from msgspec import Struct, field
from msgspec.structs import replace

T = TypeVar("T")


class Verdict(StrEnum):
    """What became of a thing that is not the same in all versions."""

    EDIT = "edit"
    CHANGE = "change"
    BOTH = "both"
    MIXED = "mixed"
    CONFLICT = "conflict"


class Choice(Struct, Generic[T], frozen=True):
    """The value that stands and why; no verdict where all versions agree."""

    value: T
    verdict: Verdict | None = None


def choose(old: T, new: T, edited: T, *, keep_edited: bool) -> Choice[T]:
    """The one that was changed; where both were, differently, the new one (or as asked)."""
    if edited == new:
        return Choice(edited, None if edited == old else Verdict.BOTH)
    if new == old:
        return Choice(edited, Verdict.EDIT)
    if edited == old:
        return Choice(new, Verdict.CHANGE)
    return Choice(edited if keep_edited else new, Verdict.CONFLICT)


def choose_set(
    old: frozenset[T], new: frozenset[T], edited: frozenset[T], *, single: bool, keep_edited: bool
) -> Choice[frozenset[T]]:
    """As `choose`, but what was added or taken away on each side goes together.

    Not so where both changed the same member in different ways, nor where there can be but one.
    """
    plain = choose(old, new, edited, keep_edited=keep_edited)
    if plain.verdict is not Verdict.CONFLICT:
        return plain
    replaced = (old - new) & (old - edited) and (new - old) != (edited - old)
    if single or replaced:
        return plain
    return Choice((new & edited) | (new - old) | (edited - old), Verdict.MIXED)


class Told(Struct, frozen=True):
    """Something the musician should know: a conflict, or what could not be carried over.

    `what` names the thing ("dynamic"); `old`, `new` and `edited` are its versions in words ("" for
    none) and `stands` says which was written: new, edited or neither. `index` is the bar's place
    in the merged score (-1: not in a bar).
    """

    part: str
    bar: str
    beat: float | None
    what: str
    edited: str = ""
    new: str = ""
    old: str = ""
    stands: str = "new"
    message: str = ""
    index: int = -1


class Account(Struct):
    """What was kept, taken and disputed, gathered while merging; changes are only counted."""

    keep_edited: bool = False
    edits: list[Told] = field(default_factory=list)
    changes: int = 0
    conflicts: list[Told] = field(default_factory=list)
    remarks: list[Told] = field(default_factory=list)

    @property
    def winner(self) -> str:
        """Whose version stands in a conflict."""
        return "edited" if self.keep_edited else "new"

    def note(self, verdict: Verdict | None, told: Callable[[], Told]) -> None:
        """Note a decision; `told` says what it was about where that is asked for."""
        self.changes += verdict in (Verdict.CHANGE, Verdict.MIXED)
        if verdict in (Verdict.EDIT, Verdict.MIXED, Verdict.BOTH):
            self.edits.append(replace(told(), stands="edited"))
        elif verdict is Verdict.CONFLICT:
            self.conflicts.append(replace(told(), stands=self.winner))
