"""How much room bars and systems want on paper, in millimetres at a 7 mm staff.

The figures are common practice, no source; they were set against pages engraved by Verovio,
whose default spacing is a little tighter.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import chain

from msgspec import Struct

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


class _Column(Struct):
    """One moment of a bar: what stands before its notes, and words below.

    `stands` where it takes room of its own; `words` is the longest syllable's letters.
    """

    stands: bool = False
    signs: bool = False
    graces: int = 0
    dots: int = 0
    words: int = 0

    def add(self, event: Event[Written]) -> None:
        """One more event that begins here."""
        if event.duration and (event.notes or not event.whole_bar):
            self.stands = True
        if event.grace is not None:
            self.graces += 1
        if event.value is not None and event.value.dots > self.dots:
            self.dots = event.value.dots
        for note in event.notes:
            if note.accidental is not None:
                self.signs = True
        for lyric in event.lyrics:
            self.words = max(self.words, len(lyric.text))

    def width(self, ticks: int, grid: int) -> float:
        """The room it takes, with so many ticks to the next."""
        notes = max(LEAST, _time(ticks, grid)) + ACCIDENTAL * self.signs
        notes += GRACE * self.graces
        notes += DOT * self.dots
        return max(notes, self.words * LETTER + LYRIC_GAP * bool(self.words))


def bar_width(content: PartBar[Written], bar: Bar, grid: int) -> float:
    """The natural width of a bar."""
    sounding = any([e.notes for layer in content.layers for e in layer])
    body = _notes_width(content, bar, grid) if sounding else EMPTY_BAR
    symbols = sum([2.5 + SYMBOL_LETTER * len(h.text or h.kind[:3]) for h in content.harmonies])
    return max(body, symbols) + BAR_EDGE + sum([_change(c) for c in content.changes])


def _notes_width(content: PartBar[Written], bar: Bar, grid: int) -> float:
    columns: dict[int, _Column] = {}
    for event in chain(*content.layers):
        column = columns.get(event.at)
        if column is None:
            column = columns[event.at] = _Column()
        column.add(event)
    onsets = sorted([at for at, column in columns.items() if column.stands])
    if not onsets:
        return EMPTY_BAR
    ends = [*onsets[1:], bar.length]
    return sum([columns[at].width(end - at, grid) for at, end in zip(onsets, ends, strict=True)])


@lru_cache(maxsize=4096)
def _time(ticks: int, grid: int) -> float:
    """The room of so many ticks."""
    return QUARTER * float((max(1, ticks) / grid) ** POWER)


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
            n.pitch.diatonic
            for layer, home in zip(bar.layers, part.layers, strict=True)
            if home.staff == 1
            for e in layer
            for n in e.notes
            if not isinstance(n.pitch, Drum)
        ]
        if steps:
            middle = middle_line(clef)
            above.append(max(0, max(steps) - middle - FREE_STEPS))
            below.append(max(0, middle - min(steps) - FREE_STEPS))
    return min(MOST_BEYOND, STEP * (_usual(above) + _usual(below)))


def _usual(values: list[int]) -> int:
    """What nine of ten bars keep within."""
    return sorted(values)[(len(values) * 9) // 10 if len(values) > 1 else 0]
