"""How much room bars and systems want on paper, in millimetres at a 7 mm staff.

The figures are common practice, no source; they were set against pages engraved by Verovio,
whose default spacing is a little tighter.
"""

from __future__ import annotations

from collections.abc import Sequence

from expander.model.pitch import Drum, Written
from expander.model.score import Bar, Change, Clef, Event, Key, Part, PartBar, Time
from expander.notate.clefs import middle_line
from expander.parts.inforce import in_force

QUARTER = 6.6
"""A quarter note's own room. Others go by the power below: twice as long is not twice as wide."""
POWER = 0.55
LEAST = 3.4
GRACE = 2.4
ACCIDENTAL = 2.0
DOT = 1.0
LETTER = 1.75
LYRIC_GAP = 2.2
BAR_EDGE = 3.6
EMPTY_BAR = 11.0
LONG_REST = 26.0
CLEF = 6.5
SIGN = 1.9
TIME = 5.0
SYMBOL_LETTER = 2.1

STAFF = 7.0
AROUND = 15.0
"""Millimetres of a staff and of what stands around it between systems."""
NEXT_STAFF = 9.0
VERSE = 4.0
CUED_WORDS = 1.5
SYMBOLS = 3.0
STEP = STAFF / 8
FREE_STEPS = 8
MOST_BEYOND = 9.0


def bar_width(content: PartBar[Written], bar: Bar, grid: int) -> float:
    """The natural width of a bar."""
    events = [e for layer in content.layers for e in layer]
    onsets = sorted({e.at for e in events if e.duration and (e.notes or not e.whole_bar)})
    if not onsets or not any(e.notes for e in events):
        body = EMPTY_BAR
    else:
        ends = [*onsets[1:], bar.length]
        body = sum(
            _column(events, at, end - at, grid) for at, end in zip(onsets, ends, strict=True)
        )
    symbols = sum(2.5 + SYMBOL_LETTER * len(h.text or h.kind[:3]) for h in content.harmonies)
    return max(body, symbols) + BAR_EDGE + sum(_change(c) for c in content.changes)


def _column(events: Sequence[Event[Written]], at: int, ticks: int, grid: int) -> float:
    """One moment of a bar: its notes' time, what stands before them, and words below."""
    here = [e for e in events if e.at == at]
    time = QUARTER * float((max(1, ticks) / grid) ** POWER)
    signs = ACCIDENTAL * any(n.accidental for e in here for n in e.notes)
    graces = GRACE * sum(e.grace is not None for e in here)
    dots = DOT * max((e.value.dots for e in here if e.value), default=0)
    words = max((len(ly.text) for e in here for ly in e.lyrics), default=0)
    return max(max(LEAST, time) + signs + graces + dots, words * LETTER + LYRIC_GAP * bool(words))


def _change(change: Change) -> float:
    what = change.what
    if isinstance(what, Key):
        return SIGN * abs(what.fifths) + 1.5
    return {Clef: CLEF if change.at else 4.0, Time: TIME}.get(type(what), 0.0)


def opening_widths(part: Part[Written]) -> list[float]:
    """What stands at the head of a system that begins with each bar: clef and key."""
    return [CLEF + SIGN * abs(key.fifths) + 2.0 for key in in_force(part).keys]


def system_height(part: Part[Written]) -> float:
    """How high a system of the part is, with the space to the next."""
    events = [e for bar in part.bars for layer in bar.layers for e in layer if e.lyrics]
    verses = {lyric.verse for e in events if not e.cue for lyric in e.lyrics}
    symbols = any(b.harmonies for b in part.bars)
    words = VERSE * len(verses) or CUED_WORDS * bool(events)
    height = STAFF + AROUND + (part.staves - 1) * (STAFF + NEXT_STAFF)
    return height + words + SYMBOLS * symbols + _beyond(part)


def _beyond(part: Part[Written]) -> float:
    """Room for the outermost notes of most bars, beyond what every staff has around it."""
    above, below = [0], [0]
    force = in_force(part)
    for bar, clef in zip(part.bars, force.clefs, strict=True):
        steps = [
            n.pitch.diatonic - middle_line(clef)
            for layer, home in zip(bar.layers, part.layers, strict=True)
            if home.staff == 1
            for e in layer
            for n in e.notes
            if not isinstance(n.pitch, Drum)
        ]
        if steps:
            above.append(max(0, max(steps) - FREE_STEPS))
            below.append(max(0, -min(steps) - FREE_STEPS))
    return min(MOST_BEYOND, STEP * (_usual(above) + _usual(below)))


def _usual(values: list[int]) -> int:
    """What nine of ten bars keep within."""
    return sorted(values)[(len(values) * 9) // 10 if len(values) > 1 else 0]
