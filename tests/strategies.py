"""Hypothesis strategies for scores and line-ups.

Scores are drawn stave by stave, bar by bar, from small rhythmic patterns that fill the bar
exactly, so that they shrink towards one stave of whole-bar rests and plain quarters. They are
in the canonical order of `tests/mini.py`, which therefore prints and reads them unchanged.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.entries import line_up
from expander.catalogue.lineup import built
from expander.catalogue.loader import instrument, instrument_ids, instruments
from expander.catalogue.yamlfile import Places
from expander.model.instrument import Ensemble
from expander.model.pitch import Drum, Pitch, Sounding, Written
from expander.model.score import (
    Bar,
    Barline,
    Change,
    Direction,
    Document,
    Event,
    Harmony,
    Header,
    Key,
    LayerId,
    Lyric,
    Mark,
    Note,
    Part,
    PartBar,
    Score,
    Sketch,
    Time,
    Value,
)
from tests import mini, mini_words
from tests.mini_reading import duration_of

GRID = 24
"""Ticks of a quarter: 32nds (3 ticks), triplet eighths (8) and triplet 16ths (4) fit."""

TIMES = (("4", "4"), ("3", "4"), ("2", "4"), ("6", "8"), ("5", "8"), ("2", "2"))
SYLLABLES = ("la", "lo", "mond", "Stern", "sea")
DYNAMICS = ("pp", "p", "mf", "f", "ff", "sfz")
ARTICULATIONS = tuple(mini_words.ARTICULATIONS.values())
CHORDS = ("C", "Dm7", "G7(b9)", "Bbmaj7", "F#m7b5", "Ebdim7", "A7/C#", "Fsus4")


class Traits(Struct, frozen=True):
    """What the drawn music may hold; each can be switched off by a test that has no use for it."""

    staves: int = 5
    layers: int = 3
    bars: int = 4
    chords: bool = True
    tuplets: bool = True
    graces: bool = True
    ties: bool = True
    slurs: bool = True
    lyrics: bool = True
    marks: bool = True
    symbols: bool = True
    drums: bool = True
    pickup: bool = True
    changes: bool = True
    low: int = 36
    high: int = 88


EVERYTHING = Traits()
PLAIN = Traits(3, 1, 3, *[False] * 11)


@st.composite
def pitches(draw: st.DrawFn, kind: type[Pitch], traits: Traits = EVERYTHING) -> Pitch:
    """A spelled pitch within the traits' MIDI keys; mostly naturals, C4 the simplest."""
    step = draw(st.integers(0, 6))
    alter = draw(st.sampled_from((0, 0, 0, 1, -1, 2, -2)))
    octave = draw(st.sampled_from((4, 5, 3, 2, 6, 1)))
    pitch = kind(step, alter, octave)
    while pitch.semitone < traits.low:
        pitch = pitch.octave_moved(1)
    while pitch.semitone > traits.high:
        pitch = pitch.octave_moved(-1)
    return pitch


@st.composite
def _bar_table(draw: st.DrawFn, traits: Traits) -> tuple[Bar, ...]:
    count = draw(st.integers(1, traits.bars))
    time = Time((draw(st.sampled_from(TIMES)),))
    bars: list[Bar] = []
    start = 0
    pickup = traits.pickup and count > 1 and draw(st.booleans())
    for index in range(count):
        if index and traits.changes and draw(st.integers(0, 4)) == 4:
            time = Time((draw(st.sampled_from(TIMES)),))
        nominal = _ticks(Fraction(4 * int(time.beats[0][0]), int(time.beats[0][1])))
        short = pickup and index == 0
        length = GRID if short and nominal > GRID else nominal
        first = 0 if pickup and bars and bars[0].implicit else 1
        implicit = length < nominal
        bars.append(Bar(str(index + first - implicit), start, length, nominal, time, implicit))
        start += length
    return tuple(bars)


def _ticks(quarters: Fraction) -> int:
    return int(quarters * GRID)


@st.composite
def _rhythm(draw: st.DrawFn, length: int, traits: Traits) -> list[list[Value]]:
    """Groups of values that fill a length; a group of several is a tuplet."""
    groups: list[list[Value]] = []
    left = length
    while left:
        fitting = [g for g in _groups(traits) if _length(g) <= left]
        group = draw(st.sampled_from(fitting))
        groups.append(group)
        left -= _length(group)
    return groups


def _groups(traits: Traits) -> list[list[Value]]:
    plain = [Value("quarter"), Value("half"), Value("eighth"), Value("quarter", 1), Value("16th")]
    groups = [[v] for v in (*plain, Value("eighth", 1), Value("whole"), Value("half", 1))]
    if traits.tuplets:
        third = Value("eighth", 0, 3, 2)
        groups += [[third] * 3, [Value("quarter", 0, 3, 2), third], [Value("quarter", 0, 3, 2)] * 3]
    return groups


def _length(group: list[Value]) -> int:
    return sum(_ticks(duration_of(v)) for v in group)


@st.composite
def _heads(draw: st.DrawFn, kind: type[Pitch], traits: Traits, drum: bool) -> tuple[Note, ...]:
    if drum:
        return (Note(Drum(draw(st.sampled_from((6, 3, 0))), 4)),)
    size = draw(st.sampled_from((1, 1, 1, 2, 3))) if traits.chords else 1
    drawn = draw(st.lists(pitches(kind, traits), min_size=size, max_size=size))
    by_height = {p.semitone: p for p in drawn}
    return tuple(Note(by_height[key]) for key in sorted(by_height))


@st.composite
def _layer(
    draw: st.DrawFn, bar: Bar, kind: type[Pitch], traits: Traits, drum: bool
) -> tuple[Event, ...]:
    if draw(st.integers(0, 3)) == 0:
        return (Event(0, bar.length, whole_bar=True),)
    events: list[Event] = []
    at = 0
    for group in draw(_rhythm(bar.length, traits)):
        made = []
        for value in group:
            rest = draw(st.integers(0, 5)) == 5
            heads = () if rest else draw(_heads(kind, traits, drum))
            length = _ticks(duration_of(value))
            made.append(Event(at, length, heads, value))
            at += length
        events += _dressed(draw, _bracketed(made), kind, traits, drum)
    return tuple(events)


def _bracketed(events: list[Event]) -> list[Event]:
    if len(events) == 1:
        return events
    first = replace(events[0], marks=(mini_words.spanner("notations", "tuplet", "start"),))
    last = replace(events[-1], marks=(mini_words.spanner("notations", "tuplet", "stop"),))
    return [first, *events[1:-1], last]


def _dressed(
    draw: st.DrawFn, events: list[Event], kind: type[Pitch], traits: Traits, drum: bool
) -> list[Event]:
    """Articulations, syllables and grace notes for a group of events."""
    dressed = []
    for number, event in enumerate(events):
        opening = event.marks[:1] if number == 0 else ()
        closing = event.marks if number and event.marks else ()
        articulated = traits.marks and event.notes and draw(st.integers(0, 5)) == 5
        marks = (
            (Mark("articulations", draw(st.sampled_from(ARTICULATIONS))),) if articulated else ()
        )
        lyrics = ()
        if traits.lyrics and event.notes and not drum and draw(st.integers(0, 5)) == 5:
            lyrics = (draw(_syllables()),)
        graced = traits.graces and event.notes and not drum and number == 0
        if graced and draw(st.integers(0, 7)) == 7:
            dressed.append(draw(_grace(event.at, kind, traits)))
        dressed.append(replace(event, marks=(*opening, *marks, *closing), lyrics=lyrics))
    return dressed


@st.composite
def _syllables(draw: st.DrawFn) -> Lyric:
    text = draw(st.sampled_from(SYLLABLES))
    syllabic = draw(st.sampled_from(("single", "begin", "middle", "end")))
    verse = draw(st.sampled_from(("1", "2")))
    return Lyric(verse, syllabic, text, mini_words.lyric(verse, syllabic, text))


@st.composite
def _grace(draw: st.DrawFn, at: int, kind: type[Pitch], traits: Traits) -> Event:
    slash = (("slash", "yes"),) if draw(st.booleans()) else ()
    note = Note(draw(pitches(kind, traits)))
    return Event(at, 0, (note,), Value("eighth"), grace=Mark("note", "grace", slash))


@st.composite
def _directions(draw: st.DrawFn, events: tuple[Event, ...], length: int) -> tuple[Direction, ...]:
    """A dynamic, perhaps a hairpin over the bar, perhaps words, at the events' places."""
    found = []
    places = sorted({e.at for e in events})
    if draw(st.integers(0, 2)) == 2:
        found.append(Direction(draw(st.sampled_from(places)), (draw(_sign()),)))
    if draw(st.integers(0, 5)) == 5:
        kind = draw(st.sampled_from(("crescendo", "diminuendo")))
        found.append(Direction(0, (mini_words.spanner("direction-type", "wedge", kind),)))
        found.append(Direction(length, (mini_words.spanner("direction-type", "wedge", "stop"),)))
    return tuple(sorted(found, key=lambda d: d.at))


def _sign() -> st.SearchStrategy[Mark]:
    signs = st.sampled_from(DYNAMICS).map(mini_words.dynamics)
    return signs | st.sampled_from(("dolce", "pizz.", "sul G")).map(mini_words.words)


def _tied(draw: st.DrawFn, bars: list[tuple[Event, ...]]) -> list[tuple[Event, ...]]:
    """Some neighbouring chords joined by ties, bar lines included: the second takes the first's
    pitches."""
    done = [list(bar) for bar in bars]
    line = [(b, i) for b, bar in enumerate(done) for i, e in enumerate(bar) if not e.grace]
    for here, after in pairwise(line):
        first, second = done[here[0]][here[1]], done[after[0]][after[1]]
        pitched = first.notes and second.notes and not isinstance(first.notes[0].pitch, Drum)
        if not pitched or draw(st.integers(0, 5)) < 5:
            continue
        tied = tuple(replace(n, tie_start=True) for n in first.notes)
        answer = tuple(Note(n.pitch, tie_stop=True) for n in first.notes)
        done[here[0]][here[1]] = replace(first, notes=tied)
        done[after[0]][after[1]] = replace(second, notes=answer)
    return [tuple(bar) for bar in done]


def _slurred(draw: st.DrawFn, bars: list[tuple[Event, ...]]) -> list[tuple[Event, ...]]:
    """Perhaps one slur over two or more notes, across bars."""
    done = [list(bar) for bar in bars]
    line = [
        (b, i) for b, bar in enumerate(done) for i, e in enumerate(bar) if e.notes and not e.grace
    ]
    if len(line) < 2 or draw(st.integers(0, 2)) < 2:
        return bars
    first = draw(st.integers(0, len(line) - 2))
    last = draw(st.integers(first + 1, len(line) - 1))
    for (bar, place), kind in ((line[first], "start"), (line[last], "stop")):
        event = done[bar][place]
        slur = mini_words.spanner("notations", "slur", kind)
        done[bar][place] = replace(event, marks=_with_slur(event.marks, slur))
    return [tuple(bar) for bar in done]


def _with_slur(marks: tuple[Mark, ...], slur: Mark) -> tuple[Mark, ...]:
    """Slurs stand after a tuplet's start and before all else, as the mini-notation reads them."""
    opening = tuple(m for m in marks if m.name == "tuplet" and m.get("type") == "start")
    return (*opening, slur, *marks[len(opening) :])


@st.composite
def _layer_over_bars(
    draw: st.DrawFn, bars: tuple[Bar, ...], kind: type[Pitch], traits: Traits, drum: bool
) -> list[tuple[Event, ...]]:
    line = [draw(_layer(bar, kind, traits, drum)) for bar in bars]
    line = _tied(draw, line) if traits.ties and not drum else line
    return _slurred(draw, line) if traits.slurs else line


@st.composite
def _part(
    draw: st.DrawFn, number: int, bars: tuple[Bar, ...], kind: type[Pitch], traits: Traits
) -> Part:
    drum = traits.drums and number > 1 and draw(st.integers(0, 7)) == 7
    count = 1 if drum else draw(st.integers(1, traits.layers))
    lines = [draw(_layer_over_bars(bars, kind, traits, drum)) for _ in range(count)]
    key = draw(st.integers(-6, 6))
    part_bars = []
    for index, bar in enumerate(bars):
        events = tuple(line[index] for line in lines)
        key_here = draw(st.integers(-6, 6)) if _changes(draw, traits, index) else key
        changes = _changes_at(bars, index, None if index and key_here == key else key_here)
        key = key_here
        marks = draw(_directions(events[0], bar.length)) if traits.marks else ()
        symbols = draw(_symbols()) if traits.symbols and number == 1 else ()
        last = (Barline("right", "light-heavy"),) if index == len(bars) - 1 else ()
        part_bars.append(PartBar(events, changes, marks, symbols, last))
    layers = tuple(LayerId(1, str(layer)) for layer in range(1, count + 1))
    name = f"Stave {number}"
    return Part(f"P{number}", name, name, 1, layers, tuple(part_bars))


def _changes(draw: st.DrawFn, traits: Traits, index: int) -> bool:
    return bool(index and traits.changes and draw(st.integers(0, 5)) == 5)


def _changes_at(bars: tuple[Bar, ...], index: int, key: int | None) -> tuple[Change, ...]:
    clef = (Change(0, mini_words.CLEFS["treble"], 1),) if index == 0 else ()
    keys = () if key is None else (Change(0, Key(key)),)
    time = bars[index].time
    times = () if index and bars[index - 1].time == time else (Change(0, time),)
    return (*clef, *keys, *times)


@st.composite
def _symbols(draw: st.DrawFn) -> tuple[Harmony, ...]:
    if draw(st.integers(0, 2)) < 2:
        return ()
    return (mini_words.chord_symbol(draw(st.sampled_from(CHORDS)), 0, 0),)


@st.composite
def _scores(draw: st.DrawFn, kind: type[Pitch], traits: Traits) -> Score:
    bars = draw(_bar_table(traits))
    count = draw(st.integers(1, traits.staves))
    parts = tuple(draw(_part(n, bars, kind, traits)) for n in range(1, count + 1))
    return Score(GRID, Header(), bars, parts)


def sketches(traits: Traits = EVERYTHING) -> st.SearchStrategy[Sketch]:
    """Sketches: 1-5 staves of 1-3 layers, notes numbered."""
    return _scores(Sounding, traits).map(mini.numbered)


def documents(traits: Traits = EVERYTHING) -> st.SearchStrategy[Document]:
    """Documents of the same kind of music, without transposing parts."""
    return _scores(Written, traits)


# Line-ups --------------------------------------------------------------------------------------


@st.composite
def line_ups(draw: st.DrawFn, most: int = 8) -> Ensemble:
    """Random line-ups in score order: any instruments, numbered players, some doubling.

    Like players who follow each other may share a stave, two by two.
    """
    drawn = draw(st.lists(st.sampled_from(instrument_ids()), min_size=1, max_size=most))
    known = sorted(drawn, key=lambda name: (instrument(name).order, name))
    players = [_player(draw, name, known, place) for place, name in enumerate(known)]
    pairs = [
        [one["name"], other["name"]]
        for one, other in zip(players[::2], players[1::2], strict=False)
        if _may_share(one, other) and draw(st.booleans())
    ]
    described = {"title": "Line-up", "players": players, "staves": pairs}
    file = line_up(described)
    return built("line-up", file, Places("line-up.yaml", {}, {}))


def _player(draw: st.DrawFn, id: str, known: list[str], number: int) -> dict[str, object]:  # noqa: A002
    """A player named for the instrument's id and place, with a second instrument now and then."""
    one = instrument(id)
    doubles = draw(st.integers(0, 7)) == 7
    kin = [i.id for i in instruments() if i.kin == one.kin and i.id != id and i.pitched]
    second = [draw(st.sampled_from(kin))] if doubles and kin and one.pitched else []
    size = draw(st.sampled_from((1, 2, 10))) if one.family == "strings" else 1
    name = f"{id.replace('-', ' ')} {1 + known[:number].count(id)}"
    return {"name": name, "plays": [id, *second], "size": size}


def _may_share(one: dict[str, object], other: dict[str, object]) -> bool:
    wind = instrument(one["plays"][0]).family in ("woodwind", "brass")
    return wind and one["plays"] == other["plays"]
