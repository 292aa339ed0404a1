"""Chords from chord symbols, held or on a given rhythm: `{chords: symbols, voicing: close}`."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from expander.model.finding import Finding, Severity
from expander.model.pitch import Sounding
from expander.model.plan import Events, Strand
from expander.model.rules import StrandRule
from expander.model.score import Event, Note, Sketch
from expander.voicing.built import (
    Attack,
    Built,
    Held,
    attacks,
    beat_ticks,
    rests,
    written_held,
)
from expander.voicing.harmony import ChordTones
from expander.voicing.lead import lead
from expander.voicing.limits import Limits, low_interval_limits
from expander.voicing.price import Terms
from expander.voicing.reach import Reach
from expander.voicing.recipes import Recipe, candidates, recipe
from expander.voicing.symbols import Symbol, numerals, symbol_for, symbols

DEFAULT_VOICES = 4
DEFAULT_VOICING = "close"
_COMPASS = (48, 76)


def pad(
    rule: StrandRule,
    sketch: Sketch,
    bars: range,
    compass: tuple[int, int] | None = None,
    rhythm: Strand | None = None,
    limits: Limits | None = None,
    reach: Reach = (),
) -> Built:
    """The chords of the symbols in `bars`, one layer for each voice, the top voice first.

    `compass` bounds all voices, lowest and highest sounding MIDI key (None: C3 to E5), `reach`
    each voice by itself (see `reach.reaches`).
    Without `rhythm` a chord is struck at its symbol and held to the next; with it, struck with
    every note of the rhythm's first layer. Where no chord is in force there are rests. Raises
    ExpanderError for an unknown voicing or a number of voices it is not for.
    """
    voices = rule.voices or DEFAULT_VOICES
    wanted = recipe(rule.voicing or DEFAULT_VOICING, voices, rule.at)
    low, high = compass or _COMPASS
    terms = Terms(
        limits=low_interval_limits() if limits is None else limits,
        low=low,
        high=high,
        reach=reach,
        rich=rule.tensions == "usual",
    )
    found = symbols(sketch)
    if rhythm is None:
        spans = _spans(sketch, found, bars)
        layers = written_held(sketch, _voiced(spans, wanted, voices, terms), bars, voices)
    else:
        layers = _on_rhythm(sketch, found, rhythm, bars, (wanted, voices, terms))
    strand = Strand(rule.name, layers, built=True)
    return Built(strand, _remarks(rule, sketch, found, bars))


_Span = tuple[int, int, ChordTones]


def _spans(sketch: Sketch, found: Sequence[Symbol], bars: range) -> list[_Span]:
    """The stretch of every chord inside the bars."""
    if not bars:
        return []
    first, last = sketch.bars[bars[0]], sketch.bars[bars[-1]]
    start, end = first.start, last.start + last.length
    return [
        (max(s.start, start), min(s.end, end), s.chord)
        for s in found
        if s.chord and s.start < end and s.end > start
    ]


def _voiced(spans: Sequence[_Span], wanted: Recipe, voices: int, terms: Terms) -> list[Held]:
    known: dict[ChordTones, tuple[int, ...]] = {}
    rows = [candidates(chord, wanted, voices, None, terms) for chord in _unique(spans, known)]
    path = lead([rows[known[chord][0]] for _, _, chord in spans]) if spans else ()
    return [Held(s, e, v.notes) for (s, e, _), v in zip(spans, path, strict=True)]


def _unique(spans: Sequence[_Span], known: dict[ChordTones, tuple[int, ...]]) -> list[ChordTones]:
    """Different chords in order; `known` is filled with their places."""
    for _, _, chord in spans:
        known.setdefault(chord, (len(known),))
    return list(known)


def _on_rhythm(
    sketch: Sketch,
    found: Sequence[Symbol],
    rhythm: Strand,
    bars: range,
    how: tuple[Recipe, int, Terms],
) -> dict[int, tuple[Events, ...]]:
    struck = attacks(sketch, rhythm, bars)
    chords = [_chord_for(sketch, found, a) for a in struck]
    spans = [(a.start, a.end, c) for a, c in zip(struck, chords, strict=True) if c]
    voiced = {h.start: h.notes for h in _voiced(spans, *how)}
    layers: dict[int, list[list[Event[Sounding]]]] = {}
    for attack in struck:
        notes = voiced.get(attack.start)
        if notes:
            _strike(layers, attack, notes)
    return {
        index: tuple(_with_rests(sketch, index, row) for row in rows)
        for index, rows in sorted(layers.items())
    }


def _chord_for(sketch: Sketch, found: Sequence[Symbol], attack: Attack) -> ChordTones | None:
    bar = sketch.bars[attack.pieces[0][0]]
    symbol = symbol_for(found, attack.start, attack.end, beat_ticks(bar, sketch.grid))
    return symbol.chord if symbol else None


def _strike(
    layers: dict[int, list[list[Event[Sounding]]]],
    attack: Attack,
    notes: tuple[Sounding, ...],
) -> None:
    for index, event in attack.pieces:
        rows = layers.setdefault(index, [[] for _ in notes])
        for row, pitch in zip(rows, notes, strict=True):
            row.append(follower(event, pitch))


def follower(event: Event[Sounding], pitch: Sounding) -> Event[Sounding]:
    """An event with the rhythm, beams, ties and marks of another and a new pitch, without words."""
    note = Note(
        pitch,
        tie_start=all(n.tie_start for n in event.notes),
        tie_stop=all(n.tie_stop for n in event.notes),
    )
    return replace(event, notes=(note,), lyrics=(), carried=(), attributes=(), stem="")


def _with_rests(sketch: Sketch, index: int, row: Sequence[Event[Sounding]]) -> Events:
    bar, place = sketch.bars[index], 0
    events: list[Event[Sounding]] = []
    for event in row:
        events += rests(bar, place, event.at, sketch.grid)
        events.append(event)
        place = event.end
    return (*events, *rests(bar, place, bar.length, sketch.grid))


def _remarks(
    rule: StrandRule, sketch: Sketch, found: Sequence[Symbol], bars: range
) -> tuple[Finding, ...]:
    """A note where the strand has no chord at all, and for symbols that are passed over."""
    passed = numerals_remark(rule.name, sketch, bars)
    if not bars or any(_spans(sketch, found, bars)):
        return passed
    text = f"There is no chord symbol for the strand {rule.name!r} in these bars; it rests."
    first = sketch.bars[bars[0]]
    remark = Finding("no-chord-symbol", Severity.NOTE, text, bar=first.number, index=bars[0])
    return (*passed, remark)


def numerals_remark(name: str, sketch: Sketch, bars: range) -> tuple[Finding, ...]:
    """A note at the first bar whose numerals or functions are passed over."""
    found = numerals(sketch, bars)
    if not found:
        return ()
    label = sketch.bars[found[0]].number
    text = (
        f"Bar {label} has a chord symbol without a root (a numeral or function); the strand "
        f"{name!r} passes over it. Write the chord by its root to have it played."
    )
    return (Finding("numeral-passed-over", Severity.NOTE, text, bar=label, index=found[0]),)
