"""One player's pieces as one voice."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence

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
    place = bisect_left(spans, span)
    if place < len(spans) and spans[place] == span:
        return True
    after = place < len(spans) and spans[place][0] < span[1]
    before = place > 0 and spans[place - 1][1] > span[0]
    if after or before:
        return False
    spans.insert(place, span)
    return True


Known = dict[tuple[int, ...], Events]
"""Bars that were put together, by the identities of their events."""


def line_of(pieces: Sequence[Piece], known: Known) -> Mapping[int, Events]:
    """Bar index to the events of one voice. Notes of the same start and length are a chord.

    Players who get the same get the same object (kept in `known`), which is then dressed, moved
    and engraved only once.
    """
    chords: dict[tuple[int, ...], list[Piece]] = {}
    for piece in sorted(pieces, key=_order):
        chords.setdefault(_order(piece)[:5], []).append(piece)
    line: dict[int, list[Head]] = {}
    for members in chords.values():
        line.setdefault(members[0].place[0], []).append(_event(members))
    return {bar: _known(events, known) for bar, events in line.items()}


def _known(events: list[Head], known: Known) -> Events:
    return known.setdefault(tuple(map(id, events)), tuple(events))


def _order(piece: Piece) -> tuple[int, ...]:
    """Place in the line; each grace has one of its own, before the note at the same tick."""
    bar, layer, index = piece.place
    event = piece.event
    if event.duration == 0:
        return (bar, event.at, 0, layer, index, 0, 0)
    return (bar, event.at, 1, event.duration, 0, layer, index)


def _event(pieces: list[Piece]) -> Head:
    """The event with the notes of its pieces, in the order in which it had them."""
    first = pieces[0].event
    if all(p.event is first for p in pieces):
        mine = {id(n) for p in pieces for n in p.notes}
        if len(mine) == len(first.notes):
            return first
        return replace(first, notes=tuple(n for n in first.notes if id(n) in mine))
    notes = tuple(dict.fromkeys((p.place, n) for p in pieces for n in p.notes))
    marks: dict[Mark, None] = dict.fromkeys(m for p in pieces for m in p.event.marks)
    return replace(first, notes=tuple(n for _, n in notes), marks=tuple(marks))
