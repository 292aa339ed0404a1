"""What all staves share: metre, keys, barlines, tempo and rehearsal marks, chord symbols."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import Sounding
from expander.model.score import (
    Bar,
    Barline,
    Carried,
    Change,
    Direction,
    Harmony,
    Key,
    Mark,
    Sketch,
)
from expander.model.spans import span_of
from expander.model.words import is_system_mark


class KeyChange(Struct, frozen=True):
    """A concert key from a place on."""

    bar: int
    at: int
    key: Key


class System(Struct, frozen=True):
    """The shared things of a sketch, by bar.

    `metres` numbers the bars that are alike in time and length. `keys_in` has the concert keys that
    begin in a bar, `key_of_bar` the one at each bar's start.
    """

    bars: tuple[Bar, ...]
    metres: tuple[int, ...]
    keys_in: Mapping[int, tuple[KeyChange, ...]]
    key_of_bar: tuple[Key, ...]
    barlines: Mapping[int, tuple[Barline, ...]]
    directions: Mapping[int, tuple[Direction, ...]]
    harmonies: Mapping[int, tuple[Harmony[Sounding], ...]]
    sounds: Mapping[int, tuple[Carried, ...]]

    @property
    def keys(self) -> tuple[KeyChange, ...]:
        """The concert keys in order of place."""
        return tuple(change for changes in self.keys_in.values() for change in changes)


def system_of(sketch: Sketch) -> System:
    """Gather what the staves of a sketch share."""
    count = range(len(sketch.bars))
    keys = _by_bar(_keys(sketch))
    ends = _ends(sketch)
    return System(
        sketch.bars,
        _metres(sketch.bars),
        keys,
        tuple(_key_of_bar(keys, len(sketch.bars))),
        {i: lines for i in count if (lines := _barlines(sketch, i))},
        {i: marks for i in count if (marks := _directions(sketch, i, ends.get(i, ())))},
        {i: symbols for i in count if (symbols := _harmonies(sketch, i))},
        {i: sounds for i in count if (sounds := _sounds(sketch, i))},
    )


def _keys(sketch: Sketch) -> tuple[KeyChange, ...]:
    """The keys of the first part that has any; other parts' signatures are habits of notation."""
    for part in sketch.parts:
        found = [
            KeyChange(index, change.at, change.what)
            for index, bar in enumerate(part.bars)
            for change in bar.changes
            if isinstance(change.what, Key) and change.staff <= 1
        ]
        if found:
            return tuple(found)
    return ()


def _metres(bars: Sequence[Bar]) -> tuple[int, ...]:
    known: dict[object, int] = {}
    return tuple(
        known.setdefault((bar.length, bar.nominal, bar.time, bar.implicit), len(known))
        for bar in bars
    )


def _by_bar(changes: Sequence[KeyChange]) -> dict[int, tuple[KeyChange, ...]]:
    return {bar: tuple(found) for bar, found in groupby(changes, key=lambda c: c.bar)}


def _key_of_bar(keys: Mapping[int, tuple[KeyChange, ...]], count: int) -> Iterator[Key]:
    """The concert key at the start of each bar."""
    current = Key()
    for bar in range(count):
        changes = keys.get(bar, ())
        for change in changes:
            current = change.key if change.at == 0 else current
        yield current
        for change in changes:
            current = change.key


def _barlines(sketch: Sketch, index: int) -> tuple[Barline, ...]:
    """One barline for each place; a repeat or ending in any part counts for all."""
    found: dict[str, Barline] = {}
    for part in sketch.parts:
        for barline in part.bars[index].barlines:
            known = found.get(barline.location)
            found[barline.location] = barline if known is None else _both(known, barline)
    return tuple(found[place] for place in ("left", "middle", "right") if place in found)


def _both(one: Barline, other: Barline) -> Barline:
    return replace(
        one,
        style=one.style or other.style,
        repeat=one.repeat or other.repeat,
        ending=one.ending or other.ending,
        marks=one.marks or other.marks,
    )


def _directions(sketch: Sketch, index: int, ends: Sequence[Direction]) -> tuple[Direction, ...]:
    found: list[Direction] = []
    for part in sketch.parts:
        for direction in part.bars[index].directions:
            if is_system_mark(direction) and not any(_same(direction, d) for d in found):
                found.append(replace(direction, staff=0, voice="", placement="above"))
    return tuple(sorted([*found, *ends], key=lambda d: d.at))


_EXTENDED = frozenset({"dashes", "bracket"})


def _ends(sketch: Sketch) -> dict[int, tuple[Direction, ...]]:
    """By bar the ends of dashes and brackets that begin with a mark of the system ("rit. - -")."""
    found: dict[int, tuple[Direction, ...]] = {}
    seen: set[object] = set()
    for part in sketch.parts:
        opened: set[tuple[str, str]] = set()
        for index, bar in enumerate(part.bars):
            for direction in bar.directions:
                ends = tuple(m for m in direction.marks if _extent(m, "stop") in opened)
                opened -= {_extent(m, "stop") for m in ends}
                place = (index, direction.at, direction.marks)
                if is_system_mark(direction):
                    starts = {_extent(m, "start") for m in direction.marks} - {_NOTHING}
                    opened |= starts if place not in seen else set()
                    seen.add(place)
                elif ends:
                    end = Direction(direction.at, ends, placement="above")
                    found[index] = (*found.get(index, ()), end)
    return found


_NOTHING = ("", "")


def _extent(mark: Mark, kind: str) -> tuple[str, str]:
    """The name and number of dashes or a bracket whose `kind` of end this is."""
    if mark.name not in _EXTENDED or mark.get("type") != kind:
        return _NOTHING
    return span_of(mark)


def _same(one: Direction, other: Direction) -> bool:
    return one.at == other.at and one.marks == other.marks


def _harmonies(sketch: Sketch, index: int) -> tuple[Harmony[Sounding], ...]:
    """Chord symbols of all staves, one for each place: the uppermost staff's."""
    found: dict[int, Harmony[Sounding]] = {}
    for part in sketch.parts:
        mine: dict[int, list[Harmony[Sounding]]] = {}
        for harmony in part.bars[index].harmonies:
            mine.setdefault(harmony.at, []).append(harmony)
        for at, harmonies in mine.items():
            found.setdefault(at, replace(harmonies[-1], staff=0))
    return tuple(found[at] for at in sorted(found))


def _sounds(sketch: Sketch, index: int) -> tuple[Carried, ...]:
    """Measure-level playback elements of the first part that has any."""
    for part in sketch.parts:
        found = tuple(c for c in part.bars[index].carried if c.mark.name == "sound")
        if found:
            return found
    return ()


def time_changes(bars: tuple[Bar, ...], index: int) -> tuple[Change, ...]:
    """The time signature of a bar where it is new."""
    if index and bars[index].time == bars[index - 1].time:
        return ()
    return (Change(0, bars[index].time),)
