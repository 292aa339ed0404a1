"""What every player must have, whatever staff it stands on in the score.

Tempo, rehearsal marks and jumps, repeats, endings and double bars, and where everybody holds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import (
    Barline,
    Carried,
    Change,
    Direction,
    Document,
    Event,
    Part,
    PartBar,
    Time,
)
from expander.model.words import is_system_mark

T = TypeVar("T")

_OF_THE_PAGE = frozenset({"print", "bookmark", "link"})
_FIRST = {"rehearsal": 0, "segno": 1, "coda": 1}


class Common(Struct, frozen=True):
    """The shared things of a score by bar index.

    `holds` are places of fermatas over notes or rests: the tick at which a held event starts.
    `times` are the time signatures where they are new.
    """

    barlines: Mapping[int, tuple[Barline, ...]]
    directions: Mapping[int, tuple[Direction, ...]]
    holds: Mapping[int, tuple[int, ...]]
    times: Mapping[int, Time]
    sounds: Mapping[int, tuple[Carried, ...]]


def common_of(score: Document) -> Common:
    """Gather what all parts of a score share."""
    return Common(
        barlines=_by_bar(_barlines, score),
        directions=_by_bar(_directions, score),
        holds=_by_bar(_holds, score),
        times={
            i: score.bars[i].time
            for i in range(len(score.bars))
            if i == 0 or score.bars[i].time != score.bars[i - 1].time
        },
        sounds=_by_bar(_sounds, score),
    )


def _by_bar(
    find: Callable[[Document, int], tuple[T, ...]], score: Document
) -> dict[int, tuple[T, ...]]:
    """What is found in each bar, bars without it left out."""
    return {i: found for i in range(len(score.bars)) if (found := find(score, i))}


def _barlines(score: Document, index: int) -> tuple[Barline, ...]:
    found: dict[tuple[str, int], Barline] = {}
    for part in score.parts:
        for barline in part.bars[index].barlines:
            key = (barline.location, barline.at)
            found[key] = _both(found[key], barline) if key in found else barline
    order = ("left", "middle", "right")
    return tuple(sorted(found.values(), key=lambda b: (order.index(b.location), b.at)))


def _both(one: Barline, other: Barline) -> Barline:
    return replace(
        one,
        style=one.style or other.style,
        repeat=one.repeat or other.repeat,
        ending=one.ending or other.ending,
        marks=one.marks or other.marks,
    )


def _directions(score: Document, index: int) -> tuple[Direction, ...]:
    """System marks, each once: rehearsal marks first, as they stand furthest from the staff."""
    found: list[Direction] = []
    for part in score.parts:
        for direction in part.bars[index].directions:
            if is_system_mark(direction) and not any(_same(direction, d) for d in found):
                found.append(replace(direction, staff=0, voice="", placement="above"))
    return tuple(sorted(found, key=lambda d: (d.at, _rank(d))))


def _rank(direction: Direction) -> int:
    return min((_FIRST.get(m.name, 2) for m in direction.marks), default=3)


def _same(one: Direction, other: Direction) -> bool:
    if one.at != other.at:
        return False
    return one.marks == other.marks or _said(one) == _said(other) != ()


def _said(direction: Direction) -> tuple[tuple[str, str, str], ...]:
    return tuple((m.name, m.text.strip(), m.inner) for m in direction.marks)


def _holds(score: Document, index: int) -> tuple[int, ...]:
    places = {
        event.at
        for part in score.parts
        for layer in part.bars[index].layers
        for event in layer
        if has_fermata(event)
    }
    return tuple(sorted(places))


def has_fermata(event: Event[Written]) -> bool:
    """Whether a note, chord or rest is held."""
    marks = [*event.marks, *[m for n in event.notes for m in n.marks]]
    return any([m.name == "fermata" for m in marks])


def _sounds(score: Document, index: int) -> tuple[Carried, ...]:
    """Measure-level playback elements of the first part that has any."""
    for part in score.parts:
        found = tuple(c for c in part.bars[index].carried if c.mark.name == "sound")
        if found:
            return found
    return ()


def with_common(part: Part[Written], common: Common) -> Part[Written]:
    """The part with everything that all players must have, the score's page breaks left out."""
    bars = tuple(_bar(content, index, common) for index, content in enumerate(part.bars))
    return replace(part, bars=bars)


def _bar(content: PartBar[Written], index: int, common: Common) -> PartBar[Written]:
    own = [d for d in content.directions if not is_system_mark(d)]
    shared = common.directions.get(index, ())
    carried = [c for c in content.carried if c.mark.name not in {*_OF_THE_PAGE, "sound"}]
    return replace(
        content,
        directions=tuple(sorted((*shared, *own), key=lambda d: d.at)),
        barlines=common.barlines.get(index, ()),
        changes=_with_time(content.changes, common.times.get(index)),
        carried=(*common.sounds.get(index, ()), *carried),
        attributes=(),
    )


def _with_time(changes: tuple[Change, ...], time: Time | None) -> tuple[Change, ...]:
    """The changes with the time signature of the bar, also where only another part has it."""
    if time is None or any(isinstance(c.what, Time) and c.at == 0 for c in changes):
        return changes
    return (Change(0, time), *changes)
