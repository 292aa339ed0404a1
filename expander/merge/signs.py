"""What stands in a bar besides its notes, put together as decided.

Directions, chord symbols, changes inside the bar, barlines and what no stage interprets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

from msgspec.structs import replace

from expander.merge.facts import (
    ATTRIBUTE,
    BARLINE,
    DIRECTION,
    KINDS,
    OTHER,
    SYMBOL,
    FactKey,
    Facts,
    is_companion,
)
from expander.merge.same import (
    Sign,
    barline_signs,
    change_sign,
    direction_signs,
    harmony_sign,
    is_look,
    mark_sign,
)
from expander.model.pitch import Written
from expander.model.score import (
    Barline,
    Carried,
    Change,
    Direction,
    Harmony,
    Mark,
    PartBar,
)

Bars = Sequence[PartBar[Written]]
"""The versions of a bar in the order in which things are looked for: the hand's first."""

T = TypeVar("T")


def put_together(chosen: Facts, sources: Bars, looks: PartBar[Written]) -> PartBar[Written]:
    """A bar without notes that says what was decided; page breaks are those of `looks`."""
    return PartBar(
        (),
        _changes(chosen, sources),
        _directions(chosen, sources),
        _harmonies(chosen, sources),
        _barlines(chosen, sources),
        _carried(chosen, sources, looks),
        looks.attributes,
    )


def with_breaks(bar: PartBar[Written], looks: PartBar[Written]) -> PartBar[Written]:
    """A bar with the page and system breaks of another version of it."""
    breaks = _breaks(looks)
    if breaks == _breaks(bar):
        return bar
    others = tuple([c for c in bar.carried if c.mark.name != "print"])
    return replace(bar, carried=(*breaks, *others))


def _breaks(bar: PartBar[Written]) -> tuple[Carried, ...]:
    return tuple([c for c in bar.carried if c.mark.name == "print"])


class _Wanted:
    """Signs still to be written; each is written once."""

    def __init__(self, chosen: Facts) -> None:
        self.chosen = chosen
        self.done: set[tuple[FactKey, object]] = set()

    def __call__(self, key: FactKey, sign: object) -> bool:
        value = self.chosen.get(key)
        stands = sign in value if isinstance(value, frozenset) else sign == value
        if not stands or (key, sign) in self.done:
            return False
        self.done.add((key, sign))
        return True


def _directions(chosen: Facts, sources: Bars) -> tuple[Direction, ...]:
    wanted = _Wanted(chosen)
    found: list[Direction] = []
    for place, bar in enumerate(sources):
        for direction in bar.directions:
            kept = _kept(direction, wanted)
            if kept is not None and (kept.marks or place == 0):
                found.append(kept)
    return _by_time(found, lambda d: d.at)


def _kept(direction: Direction, wanted: _Wanted) -> Direction | None:
    """The direction with those of its marks that stand; None where none is left of some."""
    if not direction.marks:
        return direction
    signs = [(_key(sign), sign[2:], mark) for sign, mark in direction_signs(direction)]
    marks = tuple([mark for key, sign, mark in signs if wanted(key, sign)])
    if len(marks) == len(direction.marks):
        return direction
    return replace(direction, marks=marks) if marks else None


def _key(sign: Sign) -> FactKey:
    return (DIRECTION, *sign[:3])


def _harmonies(chosen: Facts, sources: Bars) -> tuple[Harmony[Written], ...]:
    """Each symbol as often as the first version that has it shows it (one on each staff)."""
    found: list[Harmony[Written]] = []
    done: set[tuple[int, Sign]] = set()
    for bar in sources:
        here = [(h, (h.at, harmony_sign(h))) for h in bar.harmonies]
        new = [(h, key) for h, key in here if key not in done and _stands(chosen, *key)]
        found += [h for h, _ in new]
        done |= {key for _, key in new}
    return _by_time(found, lambda h: h.at)


def _stands(chosen: Facts, at: int, sign: Sign) -> bool:
    value = chosen.get((SYMBOL, at), frozenset())
    return isinstance(value, frozenset) and sign in value


def _changes(chosen: Facts, sources: Bars) -> tuple[Change, ...]:
    """Changes inside the bar and what no stage interprets; the bar's start is not decided here."""
    wanted = _Wanted(chosen)
    found: list[Change] = []
    for bar in sources:
        found += [change for change, key, sign in _keyed(bar) if wanted(key, sign)]
    start = [c for c in sources[0].changes if c.at == 0 and type(c.what) in KINDS]
    companions = [c for c in sources[0].changes if c.at == 0 and is_companion(c.what)]
    opening = [c for c in sources[0].changes if c in start or c in companions]
    return (*opening, *_by_time(found, lambda c: c.at))


def _keyed(bar: PartBar[Written]) -> Iterator[tuple[Change, FactKey, Sign]]:
    for change in bar.changes:
        sign = change_sign(change)
        kind = KINDS.get(type(change.what))
        if kind and change.at:
            yield change, (ATTRIBUTE, change.at, change.staff or 1, kind), sign
        elif kind is None and not is_companion(change.what):
            yield change, (OTHER, change.at, change.staff, sign[0]), sign


def _carried(chosen: Facts, sources: Bars, looks: PartBar[Written]) -> tuple[Carried, ...]:
    wanted = _Wanted(chosen)
    found = [
        c
        for bar in sources
        for c in bar.carried
        if not is_look(c.mark) and wanted((OTHER, c.at, 0, c.mark.name), mark_sign(c.mark))
    ]
    seen = [c for c in looks.carried if is_look(c.mark)]
    return _by_time([*seen, *found], lambda c: c.at)


def _barlines(chosen: Facts, sources: Bars) -> tuple[Barline, ...]:
    """Each barline with the aspects that stand, each from the first version that has it."""
    wanted = _Wanted(chosen)
    made: dict[tuple[str, int], Barline] = {}
    for bar in sources:
        for line in bar.barlines:
            place = (line.location, line.at)
            aspects = [
                aspect
                for aspect, sign in barline_signs(line)
                if wanted((BARLINE, *place, aspect), sign)
            ]
            if aspects or (bar is sources[0] and not list(barline_signs(line))):
                before = made.get(place, Barline(line.location, at=line.at))
                made[place] = _with(before, line, aspects)
    return tuple(made[place] for place in sorted(made, key=_order))


def _order(place: tuple[str, int]) -> tuple[int, int]:
    return ("left", "middle", "right").index(place[0]), place[1]


def _with(before: Barline, line: Barline, aspects: Sequence[str]) -> Barline:
    """A barline with more aspects, from another that has them."""
    looks = ("bar-style", "barline")
    own: tuple[Mark, ...] = tuple([m for m in line.marks if m.name in aspects])
    if not before.marks:
        own = (*own, *(m for m in line.marks if m.name in looks))
    styled = "style" in aspects or (not before.style and "repeat" in aspects) or not aspects
    return replace(
        before,
        style=line.style if styled else before.style,
        repeat=line.repeat if "repeat" in aspects else before.repeat,
        ending=line.ending if "ending" in aspects else before.ending,
        marks=(*before.marks, *own),
    )


def _by_time(things: list[T], at: Callable[[T], int]) -> tuple[T, ...]:
    return tuple(sorted(things, key=at))
