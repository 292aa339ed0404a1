"""A melody thickened into chords: `{under: tune, voicing: drop 2, voices: 5}`."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.errors import ExpanderError
from expander.model.finding import Finding, Severity
from expander.model.pitch import Sounding
from expander.model.plan import Events, Strand
from expander.model.rules import StrandRule
from expander.model.score import Bar, Event, Sketch
from expander.voicing.approach import APPROACHES, Approach, harmonized
from expander.voicing.built import (
    Attack,
    Built,
    Held,
    attacks,
    beat_ticks,
    lead_of,
    tied_event_pieces,
)
from expander.voicing.harmony import ChordTones
from expander.voicing.layout import Layout, key_of
from expander.voicing.lead import lead, under_lead_price
from expander.voicing.limits import Limits, low_interval_limits
from expander.voicing.pads import follower, numerals_remark
from expander.voicing.price import Terms
from expander.voicing.reach import Reach
from expander.voicing.recipes import Recipe, Voicing, candidates, recipe
from expander.voicing.symbols import Symbol, symbol_at, symbol_for, symbols

DEFAULT_VOICES = 4
DEFAULT_VOICING = "close"
_CHOICES = 12


class _Moment(Struct, frozen=True):
    """A melody note, or the part of one, over one chord. `long`: longer than a quarter."""

    start: int
    end: int
    lead: Sounding
    symbol: Symbol | None
    long: bool

    @property
    def chord(self) -> ChordTones | None:
        return self.symbol.chord if self.symbol else None

    @property
    def key(self) -> int:
        return key_of(self.lead)

    def same_sound(self, other: _Moment) -> bool:
        """True where it repeats the note over the same chord."""
        return self.lead == other.lead and self.chord == other.chord


class _How(Struct, frozen=True):
    """What the rule asks for."""

    recipe: Recipe
    voices: int
    terms: Terms
    approach: str


def block(
    rule: StrandRule,
    lead_strand: Strand,
    sketch: Sketch,
    bars: range,
    compass: tuple[int, int] | None = None,
    limits: Limits | None = None,
    reach: Reach = (),
) -> Built:
    """The melody with voices under it, one layer for each voice, the melody itself on top.

    The top layer is the first layer of `lead_strand` as it is; the others follow its rhythm,
    without words. Where a chord changes under a held note, the voices below change with it.
    Where no chord is in force all voices are in unison, with a finding. `compass` bounds all
    voices, lowest and highest sounding MIDI key, `reach` each voice by itself. Raises
    ExpanderError for an unknown voicing or approach or a number of voices the voicing is not
    for.
    """
    how = _how(rule, compass, limits, reach)
    found = symbols(sketch)
    struck = attacks(sketch, lead_strand, bars)
    moments = [m for a in struck for m in _moments(sketch, found, a)]
    voiced = _voiced(moments, how, sketch.grid)
    layers = {
        index: _bar_layers(lead_strand.bars[index][0], lower)
        for index, lower in _lower(sketch, lead_strand, struck, voiced, bars, how.voices)
    }
    strand = replace(
        lead_strand, name=rule.name, bars=layers, staves=(), built=True, replaces=frozenset()
    )
    remarks = _remarks(rule, sketch, moments, lead_strand, bars)
    return Built(strand, (*numerals_remark(rule.name, sketch, bars), *remarks))


def _how(
    rule: StrandRule, compass: tuple[int, int] | None, limits: Limits | None, reach: Reach
) -> _How:
    voices = rule.voices or DEFAULT_VOICES
    if rule.approach and rule.approach not in APPROACHES:
        near = difflib.get_close_matches(rule.approach, APPROACHES, n=1)
        hint = f"Did you mean {near[0]!r}?" if near else f"There are: {', '.join(APPROACHES)}."
        fault = f"{rule.approach!r} is not a way to harmonize approach notes."
        raise ExpanderError(fault, at=rule.at, hint=hint)
    low, high = compass or (0, 127)
    terms = Terms(
        limits=low_interval_limits() if limits is None else limits,
        low=low,
        high=high,
        reach=reach,
        rich=rule.tensions == "usual",
    )
    wanted = recipe(rule.voicing or DEFAULT_VOICING, voices, rule.at)
    return _How(wanted, voices, terms, rule.approach)


def _moments(sketch: Sketch, found: Sequence[Symbol], attack: Attack) -> list[_Moment]:
    """A note by the chords under it: changes within a beat of its ends count as part of it."""
    top = lead_of(attack.first)
    if top is None:
        return []
    beat = beat_ticks(sketch.bars[attack.pieces[0][0]], sketch.grid)
    start, symbol = attack.start, symbol_for(found, attack.start, attack.end, beat)
    moments: list[_Moment] = []
    for change in _changes(found, attack, beat):
        moments.append(_moment(start, change.start, top, symbol, sketch.grid))
        start, symbol = change.start, change
    return [*moments, _moment(start, attack.end, top, symbol, sketch.grid)]


def _changes(found: Sequence[Symbol], attack: Attack, beat: int) -> list[Symbol]:
    """New chords well inside a note; none in tuplets, whose values are not to be cut."""
    if any(e.value is None or e.value.actual != e.value.normal for _, e in attack.pieces):
        return []
    first, last = attack.start + beat, attack.end - beat
    here = symbol_at(found, attack.start)
    inside = [s for s in found if first <= s.start <= last]
    return [s for s in inside if here is not None and s.chord != here.chord]


def _moment(start: int, end: int, top: Sounding, symbol: Symbol | None, grid: int) -> _Moment:
    return _Moment(start, end, top, symbol, long=end - start > grid)


def _voiced(moments: Sequence[_Moment], how: _How, grid: int) -> dict[int, Layout]:
    """The voicing of every moment by its start: stable ones led together, approaches to them."""
    goals = _approached(moments, grid)
    stable = [m for m, goal in zip(moments, goals, strict=True) if not goal and m.chord]
    groups = _repeats(stable)
    rows = _choices(groups, how)
    path = lead(rows, under_lead_price) if rows else ()
    found = {m.start: v.notes for group, v in zip(groups, path, strict=True) for m in group}
    for index in range(len(moments) - 1, -1, -1):
        moment = moments[index]
        if goals[index]:
            found[moment.start] = _approaching(moment, moments[index + 1], found, how)
        elif moment.start not in found:
            found[moment.start] = (moment.lead,) * how.voices
    return found


def _approached(moments: Sequence[_Moment], grid: int) -> list[bool]:
    """Which moments are approach notes, judged from the last one backwards."""
    found = [False] * len(moments)
    for index in range(len(moments) - 2, -1, -1):
        found[index] = _is_approach(moments[index], moments[index + 1], found[index + 1], grid)
    return found


def _is_approach(note: _Moment, after: _Moment, after_approaches: bool, grid: int) -> bool:
    """Short, foreign to its chord, and a step from a note that has its own place."""
    if note.chord is None or after.chord is None or note.chord.holds(note.key % 12):
        return False
    if note.end - note.start > grid or note.end != after.start:
        return False
    settled = after_approaches or after.chord.find(after.key % 12) is not None
    return settled and 1 <= abs(note.key - after.key) <= 2


def _approaching(note: _Moment, after: _Moment, found: Mapping[int, Layout], how: _How) -> Layout:
    chord = after.chord or note.chord
    target = found[after.start]
    if chord is None:
        return (note.lead,) * how.voices
    fifths = after.symbol.fifths if after.symbol else None
    meant = Approach(note.lead, target, chord, how.recipe, how.voices, how.terms, fifths)
    return harmonized(meant, how.approach)


def _repeats(moments: Sequence[_Moment]) -> list[list[_Moment]]:
    """Moments with their immediate repetitions, which keep one voicing."""
    groups: list[list[_Moment]] = []
    for moment in moments:
        if groups and groups[-1][-1].same_sound(moment):
            groups[-1].append(moment)
        else:
            groups.append([moment])
    return groups


def _choices(groups: Sequence[Sequence[_Moment]], how: _How) -> list[tuple[Voicing, ...]]:
    known: dict[tuple[ChordTones, Sounding, bool], tuple[Voicing, ...]] = {}
    rows: list[tuple[Voicing, ...]] = []
    for group in groups:
        first, long = group[0], any(m.long for m in group)
        if first.chord is None:
            continue
        case = (first.chord, first.lead, long)
        if case not in known:
            terms = replace(how.terms, long=long)
            known[case] = candidates(
                first.chord, how.recipe, how.voices, first.lead, terms, _CHOICES
            )
        rows.append(known[case])
    return rows


def _lower(
    sketch: Sketch,
    lead_strand: Strand,
    struck: Sequence[Attack],
    voiced: Mapping[int, Layout],
    bars: range,
    voices: int,
) -> list[tuple[int, list[list[Event[Sounding]]]]]:
    """Under each bar of the melody, the events of every lower voice."""
    chains = {(i, e.at): a for a in struck for i, e in a.pieces}
    found: list[tuple[int, list[list[Event[Sounding]]]]] = []
    for index in bars:
        layers = lead_strand.bars.get(index)
        if layers:
            rows = [
                _followed(sketch, index, layers[0], chains, voiced, voice)
                for voice in range(1, voices)
            ]
            found.append((index, rows))
    return found


def _followed(
    sketch: Sketch,
    index: int,
    melody: Events,
    chains: Mapping[tuple[int, int], Attack],
    voiced: Mapping[int, Layout],
    voice: int,
) -> list[Event[Sounding]]:
    """One lower voice of a bar. Grace and cue notes stay with the melody alone."""
    bar = sketch.bars[index]
    events: list[Event[Sounding]] = []
    for event in melody:
        if event.is_rest and event.duration:
            events.append(replace(event, lyrics=()))
        elif event.duration and not event.cue:
            events += _under(sketch, bar, event, chains[(index, event.at)], voiced, voice)
    return events


def _under(
    sketch: Sketch,
    bar: Bar,
    event: Event[Sounding],
    attack: Attack,
    voiced: Mapping[int, Layout],
    voice: int,
) -> list[Event[Sounding]]:
    if attack.start not in voiced:
        return [Event(event.at, event.duration, (), event.value)]
    inside = sorted(s for s in voiced if attack.start <= s < attack.end)
    if len(inside) == 1:
        return [follower(event, voiced[attack.start][voice])]
    ends = [*inside[1:], attack.end]
    held = [Held(s, e, voiced[s]) for s, e in zip(inside, ends, strict=True)]
    pieces = tied_event_pieces(sketch, bar, (event.at, event.end), held, voice)
    return [replace(pieces[0], marks=event.marks), *pieces[1:]]


def _bar_layers(melody: Events, lower: Sequence[Sequence[Event[Sounding]]]) -> tuple[Events, ...]:
    return (melody, *(tuple(row) for row in lower))


def _remarks(
    rule: StrandRule,
    sketch: Sketch,
    moments: Sequence[_Moment],
    lead_strand: Strand,
    bars: range,
) -> list[Finding]:
    """Bars in unison for want of a chord symbol, and layers that were not voiced."""
    found: list[Finding] = []
    bare = {m.start for m in moments if m.chord is None}
    for index in bars:
        bar = sketch.bars[index]
        inside = [s for s in sorted(bare) if bar.start <= s < bar.start + bar.length]
        if inside:
            found.append(_in_unison(rule, bar, index))
        if len(lead_strand.bars.get(index, ())) > 1:
            found.append(_not_voiced(rule, bar, index))
    return found


def _in_unison(rule: StrandRule, bar: Bar, index: int) -> Finding:
    text = (
        f"No chord symbol is in force for notes of bar {bar.number}; there the strand "
        f"{rule.name!r} is in unison. Put a chord symbol over them to have them voiced."
    )
    return Finding("no-chord-symbol", Severity.NOTE, text, bar=bar.number, index=index)


def _not_voiced(rule: StrandRule, bar: Bar, index: int) -> Finding:
    text = (
        f"{rule.under!r} has more than one layer in bar {bar.number}; the strand {rule.name!r} "
        "voices the first one alone. Name a layer in the rule of that strand."
    )
    return Finding("layer-not-voiced", Severity.WARNING, text, bar=bar.number, index=index)
