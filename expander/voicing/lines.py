"""One player's pieces as one voice."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from itertools import groupby
from operator import attrgetter

from msgspec import Struct, field
from msgspec.structs import replace

from expander.model.plan import Events
from expander.model.score import Mark
from expander.voicing.chains import Head, Piece


def merged(pieces: Sequence[Piece]) -> tuple[list[Piece], list[Piece]]:
    """The pieces that fit in one voice, those given first before others, and the rest.

    Pieces of the same start and length become one chord later; others may not overlap.
    """
    kept: list[Piece] = []
    left: list[Piece] = []
    spans: list[tuple[int, int]] = []
    for piece in pieces:
        (kept if _admitted(spans, piece) else left).append(piece)
    return kept, left


def _admitted(spans: list[tuple[int, int]], piece: Piece) -> bool:
    """True if there is room; `spans` are the times taken, in order, and grow."""
    span = (piece.start, piece.end)
    if span[0] == span[1]:
        return True
    if not spans or spans[-1][1] <= span[0]:
        spans.append(span)
        return True
    place = bisect_left(spans, span)
    if place < len(spans) and spans[place] == span:
        return True
    after = place < len(spans) and spans[place][0] < span[1]
    before = place > 0 and spans[place - 1][1] > span[0]
    if after or before:
        return False
    spans.insert(place, span)
    return True


class Known(Struct):
    """Events and bars that were put together, by the identities of what they were made of.

    Players who get the same get the same object, which is then dressed, moved and engraved only
    once. What they were made of has to live as long.
    """

    events: dict[tuple[int, ...], Head] = field(default_factory=dict)
    bars: dict[tuple[int, ...], Events] = field(default_factory=dict)


def line_of(pieces: Sequence[Piece], known: Known) -> Mapping[int, Events]:
    """Bar index to the events of one voice. Notes of the same start and length are a chord."""
    line: dict[int, list[Head]] = {}
    for (bar, *_), chord in groupby(sorted(pieces, key=_ORDER), key=_CHORD):
        line.setdefault(bar, []).append(_event(list(chord), known))
    return {bar: _known(events, known) for bar, events in line.items()}


_CHORD = attrgetter("chord")
_ORDER = attrgetter("chord", "place")


def _known(events: list[Head], known: Known) -> Events:
    return known.bars.setdefault(tuple(map(id, events)), tuple(events))


def _event(pieces: list[Piece], known: Known) -> Head:
    """The event with the notes of its pieces, in the order in which it had them."""
    first = pieces[0].event
    if len(pieces) == 1 and len(pieces[0].notes) == len(first.notes):
        return first
    name = tuple([n for p in pieces for n in (*p.place[1:], id(p.event), *map(id, p.notes))])
    found = known.events.get(name)
    if found is None:
        found = known.events[name] = _chord(pieces, first)
    return found


def _chord(pieces: list[Piece], first: Head) -> Head:
    if all(p.event is first for p in pieces):
        mine = {id(n) for p in pieces for n in p.notes}
        if len(mine) == len(first.notes):
            return first
        return replace(first, notes=tuple(n for n in first.notes if id(n) in mine))
    notes = tuple(dict.fromkeys((p.place, n) for p in pieces for n in p.notes))
    marks: dict[Mark, None] = dict.fromkeys(m for p in pieces for m in p.event.marks)
    return replace(first, notes=tuple(n for _, n in notes), marks=tuple(marks))
