"""What is in force on a staff at the start of each bar: key, clef, transposition."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from msgspec import Struct

from expander.model.pitch import CONCERT, Transposition, Written
from expander.model.score import Change, Clef, Key, P, Part

T = TypeVar("T", Key, Clef, Transposition)
TREBLE = Clef("G", 2)


class InForce(Struct, frozen=True):
    """Key, clef and transposition of one staff, by bar index (at its start)."""

    keys: tuple[Key, ...]
    clefs: tuple[Clef, ...]
    moves: tuple[Transposition, ...]


def in_force(
    part: Part[P], staff: int = 1, changes: Sequence[Sequence[Change]] | None = None
) -> InForce:
    """Follow a staff of a part from bar to bar; `changes` stand for the part's own."""
    key, clef, move = Key(), TREBLE, CONCERT
    keys: list[Key] = []
    clefs: list[Clef] = []
    moves: list[Transposition] = []
    for here in changes or [bar.changes for bar in part.bars]:
        mine = [c for c in here if c.staff in (0, staff)] if here else ()
        if mine:
            key = _last(mine, Key, key, start=True)
            clef = _last(mine, Clef, clef, start=True)
            move = _last(mine, Transposition, move, start=True)
        keys.append(key)
        clefs.append(clef)
        moves.append(move)
        if mine:
            key = _last(mine, Key, key, start=False)
            clef = _last(mine, Clef, clef, start=False)
            move = _last(mine, Transposition, move, start=False)
    return InForce(tuple(keys), tuple(clefs), tuple(moves))


def _last(changes: Sequence[Change], kind: type[T], before: T, *, start: bool) -> T:
    found = [c.what for c in changes if isinstance(c.what, kind) and (c.at == 0 or not start)]
    return found[-1] if found else before


def keys_inside(part: Part[Written], bar: int, staff: int = 1) -> tuple[tuple[int, int], ...]:
    """Key changes inside a bar as (tick, fifths)."""
    return tuple(
        (c.at, c.what.fifths)
        for c in part.bars[bar].changes
        if isinstance(c.what, Key) and c.at and c.staff in (0, staff)
    )
