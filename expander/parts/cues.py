"""Cues: what a player hears before coming in after a long rest, small and with a name.

Common practice (E. Gould, *Behind Bars*, 2011, "Cues", from memory): cue-size notes in the
reader's transposition and clef, the source named, the reader's own rests shown beside them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.checks.tempo import Clock
from expander.model.pitch import Drum, Sounding, Written
from expander.model.score import (
    Bar,
    Clef,
    Direction,
    Event,
    Key,
    LayerId,
    Mark,
    Note,
    Part,
    PartBar,
)
from expander.notate.accidentals import with_accidentals
from expander.notate.clefs import middle_line
from expander.notate.spelling import spelling, written_event
from expander.parts.inforce import InForce, in_force, keys_inside
from expander.parts.lines import Source, most_prominent
from expander.parts.rests import silent

LONG_REST = 20.0
"""Seconds: 8 bars of 4/4 at 96 quarters a minute, an ordinary tempo."""

CUE_TIME = 4.0
MOST_CUE_BARS = 4
"""A cue takes whole bars of about so many seconds together."""

_KEPT = frozenset({"tuplet", "tied"})
_ABOVE_DRUMS = Drum(5, 5)
"""Where a drummer reads the rhythm of a cue: above the staff, as treble A5."""

_ON_STAFF = 6
"""Letter steps from the middle line within which a cue lies well: one ledger line and a space."""
_OCTAVE = 1.5
"""What a note costs in another octave than its own, in steps too far from the staff."""

_OCTAVE_SAID = {1: " (8va)", 2: " (15ma)", -1: " (8va bassa)", -2: " (15ma bassa)"}
"""What a label adds where the cue is written so many octaves from where it sounds to the reader."""

_RESTING = 4
"""Letter steps from the middle line to a rest that makes room for a cue."""


class Cued(Struct, frozen=True):
    """A cue as the report tells it: bars by index, and whose music it is."""

    first: int
    last: int
    source: str


class Prompter(Struct, frozen=True):
    """All that cues are made from: the lines of the score, its bars, keys and clock."""

    sources: tuple[Source, ...]
    bars: tuple[Bar, ...]
    keys: tuple[Key, ...]
    clock: Clock

    def with_cues(self, part: Part[Written], number: int) -> tuple[Part[Written], list[Cued]]:
        """A part with cues before its entries; `number` is its index in the score."""
        done: list[Cued] = []
        places: list[tuple[range, Source]] = []
        for window in self._windows(part):
            source = most_prominent(self.sources, window, self.bars, number)
            if source:
                places.append((window, source))
                done.append(Cued(window.start, window.stop - 1, source.label))
        if not places:
            return part, []
        return _Writer(self, part).written(places), done

    def _windows(self, part: Part[Written]) -> Iterator[range]:
        """The bars before each entry that a cue shall fill."""
        start = 0
        for index, content in enumerate(part.bars):
            if silent(content):
                continue
            rested = self._seconds(start, index)
            if rested >= LONG_REST:
                yield self._window(start, index)
            start = index + 1

    def _seconds(self, first: int, stop: int) -> float:
        if stop <= first:
            return 0.0
        end = self.bars[stop - 1].start + self.bars[stop - 1].length
        return self.clock.at(end) - self.clock.at(self.bars[first].start)

    def _window(self, first: int, entry: int) -> range:
        start = entry - 1
        while start > max(first, entry - MOST_CUE_BARS) and self._seconds(start, entry) < CUE_TIME:
            start -= 1
        return range(start, entry)


class _Writer:
    """Writes cues into one part, on its first staff."""

    def __init__(self, prompter: Prompter, part: Part[Written]) -> None:
        self.prompter, self.part = prompter, part
        self.force: InForce = in_force(part)
        self.layer = LayerId(1, _free_voice(part))

    def written(self, places: Sequence[tuple[range, Source]]) -> Part[Written]:
        """The part with all its cues, in a layer of their own below the first staff's."""
        bars = [replace(b, layers=(*b.layers, ())) for b in self.part.bars]
        for window, source in places:
            shift = self._octaves(window, source)
            for index in window:
                bars[index] = self._bar(bars[index], index, source, window, shift)
            where, tick = _beginning(window, source)
            label = f"{source.label}{_OCTAVE_SAID.get(shift, '')}"
            bars[where] = _labelled(bars[where], label, tick)
        return replace(self.part, layers=(*self.part.layers, self.layer), bars=tuple(bars))

    @property
    def _drums(self) -> bool:
        return self.force.clefs[0].sign == "percussion"

    def _octaves(self, window: range, source: Source) -> int:
        """Octaves by which the cue is moved into the reader's clef."""
        if self._drums:
            return 0
        steps = [
            note.pitch.diatonic - middle_line(self.force.clefs[index])
            for index in window
            for event in self._music(index, source, 0)
            for note in event.notes
            if not isinstance(note.pitch, Drum)
        ]
        if not steps:
            return 0
        tries = sorted(range(-4, 5), key=abs)
        return min(tries, key=lambda n: _distance(steps, n))

    def _music(self, index: int, source: Source, octaves: int) -> tuple[Event[Written], ...]:
        """A bar of the source in the reader's transposition."""
        move = self.force.moves[index]
        spelled = spelling(move, self.prompter.keys[index].fifths, keyless=False)
        return tuple(
            _small(written_event(event, spelled.interval), octaves)
            for event in source.bars[index]
            if event.notes
        )

    def _bar(
        self, content: PartBar[Written], index: int, source: Source, window: range, octaves: int
    ) -> PartBar[Written]:
        if self._drums:
            cue = tuple(_beaten(e) for e in source.bars[index] if e.notes and e.grace is None)
        else:
            cue = self._music(index, source, octaves)
        cue = _untied(cue, first=index == window.start, last=index == window.stop - 1)
        if not cue:
            return content
        up = self._high(cue, self.force.clefs[index])
        cue = tuple(replace(e, stem="up" if up else "down") for e in cue)
        own = _rest_aside(content.layers[0], self.force.clefs[index], below=up)
        layers = with_accidentals(
            (own, cue), self.force.keys[index].fifths, keys_inside(self.part, index)
        )
        return replace(content, layers=(layers[0], *content.layers[1:-1], layers[1]))

    def _high(self, cue: Sequence[Event[Written]], clef: Clef) -> bool:
        steps = [
            n.pitch.diatonic - middle_line(clef)
            for e in cue
            for n in e.notes
            if not isinstance(n.pitch, Drum)
        ]
        return not steps or sum(steps) >= 0


def _distance(steps: Sequence[int], octaves: int) -> float:
    """How badly a cue so many octaves away lies on the staff, and how far that is from its own."""
    beyond = sum(max(0, abs(step + 7 * octaves) - _ON_STAFF) for step in steps)
    return beyond + _OCTAVE * abs(octaves) * len(steps)


def _beginning(window: range, source: Source) -> tuple[int, int]:
    """Bar and tick of the first note of a cue."""
    notes = ((index, e.at) for index in window for e in source.bars[index] if e.notes)
    return next(notes, (window.start, 0))


def _small(event: Event[Written], octaves: int) -> Event[Written]:
    """A cue-size event with only what a listener needs: pitch, rhythm, words."""
    notes = tuple(
        Note(
            n.pitch if isinstance(n.pitch, Drum) else n.pitch.octave_moved(octaves),
            n.tie_start,
            n.tie_stop,
        )
        for n in event.notes
    )
    marks = tuple(m for m in event.marks if m.name in _KEPT)
    return Event(
        event.at, event.duration, notes, event.value, marks, event.beams, event.lyrics[:1],
        event.grace, cue=True,
    )  # fmt: skip


def _beaten(event: Event[Sounding]) -> Event[Written]:
    marks = tuple(m for m in event.marks if m.name in _KEPT)
    note: Note[Written] = Note(_ABOVE_DRUMS, event.notes[0].tie_start, event.notes[0].tie_stop)
    return Event(
        event.at, event.duration, (note,), event.value, marks, event.beams, event.lyrics[:1],
        cue=True,
    )  # fmt: skip


def _untied(
    events: Sequence[Event[Written]], *, first: bool, last: bool
) -> tuple[Event[Written], ...]:
    """Without ties to what the cue does not show."""
    done = list(events)
    if first and done:
        notes = tuple(replace(n, tie_stop=False) for n in done[0].notes)
        done[0] = replace(done[0], notes=notes)
    if last and done:
        notes = tuple(replace(n, tie_start=False) for n in done[-1].notes)
        done[-1] = replace(done[-1], notes=notes)
    return tuple(done)


def _rest_aside(
    events: Sequence[Event[Written]], clef: Clef, *, below: bool
) -> tuple[Event[Written], ...]:
    """The reader's own rests, moved away from the cue."""
    middle = 34 if clef.sign == "percussion" else middle_line(clef)
    octave, step = divmod(middle + (-_RESTING if below else _RESTING), 7)
    place = (
        f"<display-step>{'CDEFGAB'[step]}</display-step><display-octave>{octave}</display-octave>"
    )
    mark = Mark("note", "rest", inner=place)
    return tuple(replace(e, carried=(*e.carried, mark)) for e in events)


def _labelled(content: PartBar[Written], label: str, tick: int) -> PartBar[Written]:
    words = Mark("direction-type", "words", (("font-size", "8"),), label)
    said = Direction(tick, (words,), placement="above")
    directions = sorted((*content.directions, said), key=lambda d: d.at)
    return replace(content, directions=tuple(directions))


def _free_voice(part: Part[Written]) -> str:
    taken = {layer.voice for layer in part.layers}
    return next(str(n) for n in range(2, 100) if str(n) not in taken)
