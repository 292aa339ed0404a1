"""The chord symbols of a sketch in order of time, each with the stretch it is in force.

Ticks count from the start of the piece.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from msgspec import Struct

from expander.model.pitch import Sounding
from expander.model.score import Harmony, Key, Part, Sketch
from expander.voicing.harmony import ChordTones, chord_tones


class Symbol(Struct, frozen=True):
    """A chord symbol in force from `start` up to `end`. `chord` is None for "N.C.".

    `fifths` is the key signature there; None where the sketch gives none that counts fifths.
    """

    start: int
    end: int
    harmony: Harmony[Sounding]
    chord: ChordTones | None
    fifths: int | None = None


def symbols(sketch: Sketch) -> tuple[Symbol, ...]:
    """Every chord symbol of the sketch, on whatever staff it stands.

    Where two parts have a symbol at one place, the upper part's counts. Symbols without root
    (numerals, functions) are analysis, not chords to play: see `numerals`.
    """
    places = _places(sketch)
    if not places:
        return ()
    last = sketch.bars[-1]
    starts = sorted(places)
    ends = [*starts[1:], last.start + last.length]
    found: list[Symbol] = []
    for start, end in zip(starts, ends, strict=True):
        harmony = places[start]
        fifths = key_at(sketch, start)
        found.append(Symbol(start, end, harmony, chord_tones(harmony, fifths), fifths))
    return tuple(found)


def _places(sketch: Sketch) -> dict[int, Harmony[Sounding]]:
    found: dict[int, Harmony[Sounding]] = {}
    for part in sketch.parts:
        for bar, content in zip(sketch.bars, part.bars, strict=True):
            for harmony in filter(_is_playable, content.harmonies):
                found.setdefault(bar.start + harmony.at, harmony)
    return found


def _is_playable(harmony: Harmony[Sounding]) -> bool:
    return harmony.root is not None or harmony.kind == "none"


def numerals(sketch: Sketch, bars: range) -> tuple[int, ...]:
    """The bars with symbols that name no root and are passed over."""
    return tuple(
        index
        for index in bars
        if any(not _is_playable(h) for part in sketch.parts for h in part.bars[index].harmonies)
    )


def key_at(sketch: Sketch, tick: int) -> int | None:
    """The key signature in force at a tick, from the first part that has signatures."""
    for part in sketch.parts:
        keys = _keys(sketch, part)
        current = [key for start, key in keys if start <= tick]
        if current:
            return None if current[-1].own else current[-1].fifths
    return None


def _keys(sketch: Sketch, part: Part[Sounding]) -> list[tuple[int, Key]]:
    return [
        (bar.start + change.at, change.what)
        for bar, content in zip(sketch.bars, part.bars, strict=True)
        for change in content.changes
        if isinstance(change.what, Key)
    ]


def symbol_at(found: Sequence[Symbol], tick: int) -> Symbol | None:
    """The symbol in force at a tick, "N.C." included; None before the first."""
    index = bisect_right(found, tick, key=lambda s: s.start) - 1
    return found[index] if index >= 0 else None


def symbol_for(found: Sequence[Symbol], start: int, end: int, beat: int) -> Symbol | None:
    """The symbol that a note belongs to, anticipations included.

    A note struck within a beat before a new symbol and lasting longer under it than before it
    takes the new chord (Ted Pease, Jazz Composition, p. xvi: an anticipated note anticipates
    its chord).
    """
    here = symbol_at(found, start)
    if here is None or here.end >= end:
        return here
    early = here.end - start
    if early <= beat and end - here.end > early:
        return symbol_at(found, here.end)
    return here
