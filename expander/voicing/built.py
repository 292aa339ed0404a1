"""What the strand builders hand back, and how they write held chords into bars."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.finding import Finding
from expander.model.pitch import Sounding
from expander.model.plan import Events, Strand
from expander.model.score import Bar, Event, Note, Sketch, Value
from expander.model.values import spell_in_bar


class Built(Struct, frozen=True):
    """A strand built from chord symbols, with what there is to say about it."""

    strand: Strand
    findings: tuple[Finding, ...] = ()


class Held(Struct, frozen=True):
    """Notes sounding from `start` to `end` (ticks of the piece), from the top voice down."""

    start: int
    end: int
    notes: tuple[Sounding, ...]


class Attack(Struct, frozen=True):
    """A note of a rhythm with what is tied to it: `pieces` are (bar index, event)."""

    start: int
    end: int
    pieces: tuple[tuple[int, Event[Sounding]], ...]

    @property
    def first(self) -> Event[Sounding]:
        """The event that is struck."""
        return self.pieces[0][1]


def attacks(sketch: Sketch, strand: Strand, bars: range) -> tuple[Attack, ...]:
    """The struck notes of a strand's first layer, tied ones joined. Grace and cue notes are not."""
    found: list[Attack] = []
    for index in bars:
        bar = sketch.bars[index]
        for event in _sounding(strand.bars.get(index, ())):
            start, end = bar.start + event.at, bar.start + event.end
            if found and found[-1].end == start and _is_tied(event):
                last = found[-1]
                found[-1] = replace(last, end=end, pieces=(*last.pieces, (index, event)))
            else:
                found.append(Attack(start, end, ((index, event),)))
    return tuple(found)


def _sounding(layers: Sequence[Events]) -> Iterable[Event[Sounding]]:
    if not layers:
        return ()
    return (e for e in layers[0] if e.notes and e.duration and not e.cue)


def _is_tied(event: Event[Sounding]) -> bool:
    return all(note.tie_stop for note in event.notes)


def lead_of(event: Event[Sounding]) -> Sounding | None:
    """The highest pitched note of an event; None for rests and drums."""
    pitches = [n.pitch for n in event.notes if isinstance(n.pitch, Sounding)]
    return max(pitches, key=lambda p: (p.semitone, p.diatonic), default=None)


def written_held(
    sketch: Sketch, held: Sequence[Held], bars: range, voices: int
) -> dict[int, tuple[Events, ...]]:
    """Held notes as events, bar by bar and voice by voice, tied over barlines and metre.

    Gaps become rests; bars without any note are left out.
    """
    found: dict[int, tuple[Events, ...]] = {}
    for index in bars:
        bar = sketch.bars[index]
        inside = [h for h in held if h.start < bar.start + bar.length and h.end > bar.start]
        if inside:
            layers = [_layer(sketch, bar, inside, voice) for voice in range(voices)]
            found[index] = tuple(layers)
    return found


def _layer(sketch: Sketch, bar: Bar, held: Sequence[Held], voice: int) -> Events:
    events: list[Event[Sounding]] = []
    place = 0
    for chord in held:
        start = max(chord.start - bar.start, 0)
        end = min(chord.end - bar.start, bar.length)
        events += rests(bar, place, start, sketch.grid)
        events += _tied(sketch, bar, chord, voice, (start, end))
        place = end
    return (*events, *rests(bar, place, bar.length, sketch.grid))


def _tied(
    sketch: Sketch, bar: Bar, chord: Held, voice: int, span: tuple[int, int]
) -> list[Event[Sounding]]:
    start, end = span
    events: list[Event[Sounding]] = []
    for ticks, value in _spelled(bar, start, end, sketch.grid):
        note = Note(
            chord.notes[voice],
            tie_start=bar.start + start + ticks < chord.end,
            tie_stop=bar.start + start > chord.start,
        )
        events.append(Event(start, ticks, (note,), value))
        start += ticks
    return events


def tied_event_pieces(
    sketch: Sketch, bar: Bar, span: tuple[int, int], held: Sequence[Held], voice: int
) -> list[Event[Sounding]]:
    """One voice of held chords inside a stretch of a bar (ticks of the bar), tied as needed."""
    events: list[Event[Sounding]] = []
    for chord in held:
        start, end = max(chord.start - bar.start, span[0]), min(chord.end - bar.start, span[1])
        if start < end:
            events += _tied(sketch, bar, chord, voice, (start, end))
    return events


def rests(bar: Bar, start: int, end: int, grid: int) -> list[Event[Sounding]]:
    """Rests from one tick of a bar to another, cut by the metre; a whole bar is one rest."""
    if start == 0 and end == bar.length:
        return [Event(0, bar.length, whole_bar=True)]
    events: list[Event[Sounding]] = []
    for ticks, value in _spelled(bar, start, end, grid):
        events.append(Event(start, ticks, (), value))
        start += ticks
    return events


def _spelled(bar: Bar, start: int, end: int, grid: int) -> list[tuple[int, Value | None]]:
    """A stretch of a bar as values; whole and without one where no values add up to it."""
    try:
        return [*spell_in_bar(start + metre_shift(bar), end - start, bar.time, grid)]
    except ValueError:
        return [(end - start, None)]


def metre_shift(bar: Bar) -> int:
    """Where in its metre a short bar begins: a pickup ends where a full bar would."""
    short = bar.implicit and bar.length < bar.nominal
    return bar.nominal - bar.length if short else 0


def beat_ticks(bar: Bar, grid: int) -> int:
    """One beat of the metre in ticks; a quarter where there is no metre."""
    kind = bar.time.beats[0][1].strip() if bar.time.beats else ""
    return max(1, 4 * grid // int(kind)) if kind.isdecimal() and int(kind) else grid
