"""What is in force where bars of different versions meet: clefs, keys, transposition, metre.

What each version has in force is followed bar by bar; of the three the one that was changed
stands, and it is written where it is not in force already.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.merge.facts import KINDS
from expander.merge.same import value_sign
from expander.model.pitch import CONCERT, Transposition, Written
from expander.model.score import Bar, Change, Clef, Key, Mark, Part, PartBar, Time
from expander.parts.inforce import TREBLE, in_force

What = Clef | Key | Time | Transposition
PER_STAFF: tuple[type, ...] = (Clef, Key, Transposition)


class State(Struct, frozen=True):
    """What one staff has in force at the start of a bar."""

    clef: Clef = TREBLE
    key: Key = Key()
    move: Transposition = CONCERT

    def of(self, kind: type) -> What:
        """The value of a kind."""
        return self.clef if kind is Clef else self.key if kind is Key else self.move


def states(
    part: Part[Written] | None, rows: Sequence[int | None], staves: int
) -> list[tuple[State, ...]] | None:
    """For each row what every staff has in force; in rows without a bar what went before."""
    if part is None:
        return None
    by_staff = [in_force(part, staff) for staff in range(1, staves + 1)]
    found: list[tuple[State, ...]] = []
    last = next((bar for bar in rows if bar is not None), 0)
    for bar in rows:
        last = last if bar is None else bar
        found.append(tuple(State(f.clefs[last], f.keys[last], f.moves[last]) for f in by_staff))
    return found


Places = frozenset[tuple[type, int]]
"""Kinds of attributes with their staves, counted from 0."""


def fresh_changes(part: Part[Written], staves: int) -> list[Places]:
    """For each bar of a part what it really changes at its start."""
    now: dict[tuple[type, int], What] = {}
    found: list[Places] = []
    for bar in part.bars:
        here: set[tuple[type, int]] = set()
        for change in bar.changes:
            what = change.what
            if isinstance(what, Mark):
                continue
            for staff in _staves(type(what), change.staff, staves):
                place = (type(what), staff)
                before = now.get(place)
                if not change.at and (before is None or value_sign(before) != value_sign(what)):
                    here.add(place)
                now[place] = what
        found.append(frozenset(here))
    return found


def _staves(kind: type, staff: int, staves: int) -> Sequence[int]:
    """The staves a change is for: all, or the one it names; a metre is for all together."""
    if kind is Time:
        return (0,)
    return range(staves) if not staff else (min(staff, staves) - 1,)


class Seams:
    """Goes through a part's merged bars and writes what each needs at its start.

    `fresh` tells for each row what its own version changes there: where that is in force already
    it is not said again. What a version says again on purpose stays.
    """

    def __init__(
        self, staves: int, wanted: Sequence[tuple[State, ...]], fresh: Sequence[Places]
    ) -> None:
        self.staves = staves
        self.wanted = wanted
        self.fresh = fresh
        self.now: dict[tuple[type, int], What] = {
            (kind, staff): State().of(kind) for kind in PER_STAFF for staff in range(staves)
        }
        self.time: What = Time()

    def mended(
        self, bars: Sequence[PartBar[Written]], system: Sequence[Bar]
    ) -> list[PartBar[Written]]:
        """The bars, each with what its staves want in force and no more."""
        return [
            self._bar(row, bar, shared.time)
            for row, (bar, shared) in enumerate(zip(bars, system, strict=True))
        ]

    def _bar(self, row: int, bar: PartBar[Written], time: Time) -> PartBar[Written]:
        wants = self._wants(row, time)
        opening = [c for c in bar.changes if c.at == 0]
        later = [c for c in bar.changes if c.at]
        made = [*self._kept(opening, wants, self.fresh[row]), *self._missing(opening, wants)]
        self.now.update({k: v for k, v in wants.items() if k[0] is not Time})
        self.time = time
        for change in later:
            self._follow(change)
        if made == opening:
            return bar
        return replace(bar, changes=(*made, *later))

    def _wants(self, row: int, time: Time) -> dict[tuple[type, int], What]:
        found: dict[tuple[type, int], What] = {
            (kind, staff): state.of(kind)
            for staff, state in enumerate(self.wanted[row])
            for kind in PER_STAFF
        }
        found[Time, 0] = time
        return found

    def _before(self, kind: type, staff: int) -> What:
        return self.time if kind is Time else self.now[kind, staff]

    def _kept(
        self, opening: Sequence[Change], wants: Mapping[tuple[type, int], What], fresh: Places
    ) -> Iterator[Change]:
        """The changes at the start that say what is wanted, with their companions."""
        drop: tuple[type, int] | None = None
        for change in opening:
            kind = type(change.what)
            if kind in KINDS:
                again = self._in_force(change) and self._places(change) & fresh
                stands = self._stands(change, wants) and not again
                drop = None if stands else (kind, change.staff)
                if stands:
                    yield change
            elif not (drop and _belongs(change, drop)):
                yield change

    def _stands(self, change: Change, wants: Mapping[tuple[type, int], What]) -> bool:
        kind = type(change.what)
        return all(
            value_sign(wants[kind, staff]) == value_sign(change.what)
            for staff in self._staves(kind, change.staff)
        )

    def _in_force(self, change: Change) -> bool:
        kind = type(change.what)
        return all(
            value_sign(self._before(kind, staff)) == value_sign(change.what)
            for staff in self._staves(kind, change.staff)
        )

    def _places(self, change: Change) -> Places:
        kind = type(change.what)
        return frozenset((kind, staff) for staff in self._staves(kind, change.staff))

    def _staves(self, kind: type, staff: int) -> Sequence[int]:
        return _staves(kind, staff, self.staves)

    def _missing(
        self, opening: Sequence[Change], wants: Mapping[tuple[type, int], What]
    ) -> Iterator[Change]:
        """Changes for what is wanted, not in force and not said."""
        said = {
            (type(c.what), staff)
            for c in opening
            if type(c.what) in KINDS and self._stands(c, wants)
            for staff in self._staves(type(c.what), c.staff)
        }
        need = {
            place: what
            for place, what in wants.items()
            if place not in said and value_sign(what) != value_sign(self._before(*place))
        }
        for kind in (Key, Time, Clef, Transposition):
            yield from self._written(kind, {s: w for (k, s), w in need.items() if k is kind})

    def _written(self, kind: type, need: Mapping[int, What]) -> Iterator[Change]:
        """One change for all staves where all need the same, else one for each."""
        values = list(need.values())
        one = len(values) == self.staves and len({value_sign(v) for v in values}) == 1
        if values and (kind is Time or one):
            yield Change(0, values[0])
            return
        for staff, what in need.items():
            yield Change(0, what, staff + 1 if self.staves > 1 else 0)

    def _follow(self, change: Change) -> None:
        kind = type(change.what)
        if kind in PER_STAFF:
            for staff in self._staves(kind, change.staff):
                self.now[kind, staff] = change.what  # type: ignore[assignment]


def _belongs(change: Change, to: tuple[type, int]) -> bool:
    what = change.what
    return isinstance(what, Mark) and what.name == KINDS[to[0]] and change.staff == to[1]
