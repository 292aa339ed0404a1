"""A full score read into lines: who plays what, how high, how loud, in which colour.

Conventions
    Pitches are sounding semitones (middle C = 60). Bars are indices from 0, ticks count from the
    start of the bar. A *line* is one layer of one part, or one note of its chords from the top
    or the bottom; a *cell* is what a line has in one bar.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from msgspec import Struct
from msgspec.structs import replace

from expander.checks.music import Music, Stand
from expander.checks.prepare import music_of
from expander.model.dynamics import LEVELS, level_after
from expander.model.instrument import Instrument
from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Direction, Document, Event, Part, Sketch
from expander.revoice.harmonics import as_heard
from expander.sounding import to_sounding

SOFT_ENOUGH = LEVELS.index("mf")
"""The level assumed where a score says none."""


class Owner(Struct, frozen=True):
    """Who has a part of the score. `instrument` is None where the part was not recognised.

    `size` is how many read the part; `sung` is true where it has words to sing.
    """

    part: int
    name: str
    short: str
    instrument: Instrument | None
    size: int
    sung: bool

    @property
    def family(self) -> str:
        """The family of the instrument, "" where it is not known."""
        return self.instrument.family if self.instrument else ""


class Colour(Struct, frozen=True):
    """How a bar is played: technique and mute as rules name them, "" for the ordinary way."""

    technique: str = ""
    mute: str = ""


class Line(Struct, frozen=True):
    """One line of the score. `cells` has its events by bar, bars of silence left out.

    `layer` is the index in the part's layers; `depth` 0 is the line's own note of each chord,
    1 and on the others. `staff` is the stave of the part from 1. `unpitched` lines are drums.
    `player` is whose it is among those who share the part, from 0. `told` are the marks meant
    for it, by bar; None where they have not been sorted and those of its stave are taken.
    `played` is then how it is played, for bars in which that is not the ordinary way; in bars
    that are `turned` its marks say it.
    """

    number: int
    owner: Owner
    layer: int
    staff: int
    depth: int
    cells: Mapping[int, Events]
    unpitched: bool = False
    player: int = 0
    told: Mapping[int, tuple[Direction, ...]] | None = None
    played: Mapping[int, Colour] = {}
    turned: frozenset[int] = frozenset()


PLAIN = Colour()


class FullScore(Struct, frozen=True):
    """A score as it is heard, its lines, and what holds for each part by bar.

    `colours` and `levels` (places in `model.dynamics.LEVELS`) are indexed by part, then bar;
    so is `said`, the level in force where a bar begins ("" before the first). `seconds` are
    the times at which bars begin, and the end of the last. `solos` are
    (part, bar) where words say that a player is alone or in front. `hands` tells for (part, bar)
    which instrument is in hand at its first note (its id, "" where unknown), and who of several
    is named to play ("1.", "a 2").
    """

    sketch: Sketch
    owners: tuple[Owner, ...]
    lines: tuple[Line, ...]
    colours: tuple[tuple[Colour, ...], ...]
    levels: tuple[tuple[int, ...], ...]
    said: tuple[tuple[str, ...], ...]
    seconds: tuple[float, ...]
    solos: frozenset[tuple[int, int]] = frozenset()
    hands: Mapping[tuple[int, int], tuple[str, str]] = {}


def full_score(document: Document, sketch: Sketch | None = None) -> FullScore:
    """Read a document into lines. `sketch` is it as heard, where that is known or was changed."""
    heard = sketch or to_sounding(document)
    music = music_of(document)
    owners = tuple(_owner(stand) for stand in music.stands)
    said = said_levels(heard)
    return FullScore(
        sketch=heard,
        owners=owners,
        lines=tuple(_lines(heard, owners)),
        colours=tuple(_colours(stand, len(heard.bars)) for stand in music.stands),
        levels=tuple(_levels(part, row) for part, row in zip(heard.parts, said, strict=True)),
        said=said,
        seconds=tuple(music.clock.at(tick) for tick in (*music.starts, _end(heard))),
        solos=frozenset(_solos(music)),
        hands=_hands(music),
    )


def _end(sketch: Sketch) -> int:
    return sketch.bars[-1].start + sketch.bars[-1].length if sketch.bars else 0


def _owner(stand: Stand) -> Owner:
    return Owner(
        stand.index,
        stand.name,
        stand.part.short or stand.name,
        stand.instrument,
        stand.players,
        stand.contents.worded and (stand.instrument is None or stand.family == "voice"),
    )


# -- lines -----------------------------------------------------------------------------------------


def _lines(sketch: Sketch, owners: Sequence[Owner]) -> Iterator[Line]:
    number = 0
    for owner, part in zip(owners, sketch.parts, strict=True):
        for index, layer in enumerate(part.layers):
            cells = {
                bar: events
                for bar, content in enumerate(part.bars)
                if (events := as_heard(music(content.layers[index]), owner.family == "plucked"))
            }
            for row, drums in _sorts(cells):
                yield Line(number, owner, index, layer.staff, 0, row, drums)
                number += 1


def _sorts(cells: Mapping[int, Events]) -> Iterator[tuple[Mapping[int, Events], bool]]:
    """A layer's music with pitch and its drums, apart where it has both."""
    kinds = {isinstance(n.pitch, Drum) for c in cells.values() for e in c for n in e.notes}
    if len(kinds) < 2:
        yield from ((cells, drums) for drums in kinds)
        return
    for drums in (False, True):
        kept = {bar: _only(events, drums) for bar, events in cells.items()}
        yield {bar: c for bar, c in kept.items() if any(e.notes for e in c)}, drums


def _only(events: Events, drums: bool) -> Events:
    return tuple(_only_in(event, drums) for event in events)


def _only_in(event: Event[Sounding], drums: bool) -> Event[Sounding]:
    kept = tuple(n for n in event.notes if isinstance(n.pitch, Drum) == drums)
    if len(kept) == len(event.notes):
        return event
    if kept:
        return replace(event, notes=kept)
    return Event(event.at, event.duration, (), event.value)


def music(events: Events) -> Events:
    """The events to be played, cues left out; nothing where the bar is silent."""
    kept = tuple(e for e in events if not e.cue) if any(e.cue for e in events) else events
    return kept if any(e.notes for e in kept) else ()


def split(lines: Sequence[Line], low: frozenset[int]) -> tuple[Line, ...]:
    """Every line as lines of single notes, numbered anew.

    Chords of a line give the highest note to depth 0, or the lowest where the line's number is in
    `low` (basses), the others in order to depths 1 and on.
    """
    found: list[Line] = []
    for line in lines:
        deepest = 1 if line.unpitched else _deepest(line)
        for depth in range(deepest):
            cells = _at_depth(line, depth, line.number in low) if deepest > 1 else line.cells
            if cells:
                found.append(replace(line, number=len(found), depth=depth, cells=cells))
    return tuple(found)


def _deepest(line: Line) -> int:
    return max(len(e.notes) for events in line.cells.values() for e in events)


def _at_depth(line: Line, depth: int, low: bool) -> dict[int, Events]:
    cells = {bar: _thin(events, depth, low) for bar, events in line.cells.items()}
    return {bar: events for bar, events in cells.items() if any(e.notes for e in events)}


def _thin(events: Events, depth: int, low: bool) -> Events:
    return tuple(_thin_event(event, depth, low) for event in events)


def _thin_event(event: Event[Sounding], depth: int, low: bool) -> Event[Sounding]:
    if not event.notes or (len(event.notes) == 1 and depth == 0):
        return event
    notes = sorted(event.notes, key=lambda n: height(n.pitch), reverse=not low)
    if depth >= len(notes):
        return Event(event.at, event.duration, (), event.value)
    marks = tuple(m for m in event.marks if m.name not in _CHORD_MARKS)
    kept = replace(event, notes=(notes[depth],), marks=marks)
    return replace(kept, lyrics=()) if depth else kept


_CHORD_MARKS = frozenset({"arpeggiate", "non-arpeggiate"})


def height(pitch: Sounding | Drum) -> int:
    """Sounding semitones, quarter tones rounded down; drums lie at 0."""
    return 0 if isinstance(pitch, Drum) else int(pitch.semitone)


@lru_cache(maxsize=65536)
def heights(events: Events) -> tuple[int, ...]:
    """The sounding semitones of all pitched notes of a cell, grace notes left out."""
    return tuple(
        int(n.pitch.semitone)
        for e in events
        if e.duration
        for n in e.notes
        if not isinstance(n.pitch, Drum)
    )


def begins_tied(cell: Events) -> bool:
    """True where a cell begins with a note held over from the bar before."""
    first = next((e for e in cell if e.notes and e.duration), None)
    return bool(first) and any(n.tie_stop for n in first.notes) if first else False


# -- how it is played ------------------------------------------------------------------------------

HARMONICS = "harmonics"
_BOWS = {"pizz": "pizzicato", "col legno": "col legno battuto"}


def _colours(stand: Stand, bars: int) -> tuple[Colour, ...]:
    """The colour of each bar: that of its first chord; a silent bar has the last one's."""
    found: dict[int, Colour] = {}
    for chord in stand.chords:
        hand = chord.hand
        technique = HARMONICS if chord.has("harmonic") else _BOWS.get(hand.bow, "")
        found.setdefault(chord.bar, Colour(technique, hand.mute))
    colours, current = [], PLAIN
    for bar in range(bars):
        current = found.get(bar, current)
        colours.append(current)
    return tuple(colours)


MOST = 0.5
"""Share of the parts from which a new level is everybody's, also where a part leaves it out."""


def said_levels(sketch: Sketch) -> tuple[tuple[str, ...], ...]:
    """The level in force at the start of each bar, for each part.

    Where half the parts or more are given one level in a bar, those who were not given one of
    their own there or later go along.
    """
    given = [[_last(bar.directions) for bar in part.bars] for part in sketch.parts]
    current = [""] * len(given)
    rows: list[list[str]] = [[] for _ in given]
    for bar in range(len(sketch.bars)):
        new = [row[bar] for row in given]
        everybody = _everybody(new)
        for part, level in enumerate(new):
            rows[part].append(current[part])
            current[part] = level or everybody or current[part]
    return tuple(tuple(row) for row in rows)


def _last(directions: Sequence[Direction]) -> str:
    found = [name for d in sorted(directions, key=lambda d: d.at) if (name := _level(d))]
    return found[-1] if found else ""


def _everybody(levels: Sequence[str]) -> str:
    """The level that most of the parts are given, "" where there is none."""
    counts = {name: levels.count(name) for name in LEVELS if name in levels}
    best = max(counts, key=lambda name: counts[name], default="")
    return best if best and counts[best] >= MOST * len(levels) and len(levels) > 1 else ""


def _levels(part: Part[Sounding], said: Sequence[str]) -> tuple[int, ...]:
    """The loudest level in force in each bar."""
    found: list[int] = []
    for bar, before in zip(part.bars, said, strict=True):
        inside = [LEVELS.index(name) for d in bar.directions if (name := _level(d))]
        start = [] if _at_start(bar.directions) else [_index(before)]
        found.append(max([*start, *inside]))
    return tuple(found)


def _index(level: str) -> int:
    return LEVELS.index(level) if level else SOFT_ENOUGH


def _level(direction: Direction) -> str:
    name = level_after(direction)
    return name if name in LEVELS and name != "n" else ""


def _at_start(directions: Sequence[Direction]) -> bool:
    return any(d.at == 0 and _level(d) for d in directions)


def _solos(music: Music) -> Iterator[tuple[int, int]]:
    for stand in music.stands:
        for chord in stand.chords:
            if chord.hand.label in ("solo", "soli"):
                yield stand.index, chord.bar


def _hands(music: Music) -> dict[tuple[int, int], tuple[str, str]]:
    found: dict[tuple[int, int], tuple[str, str]] = {}
    for stand in music.stands:
        for chord in stand.chords:
            one = chord.hand.instrument
            found.setdefault((stand.index, chord.bar), (one.id if one else "", chord.hand.label))
    return found
