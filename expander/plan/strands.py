"""Strands: what the rules name in the sketch, taken out bar by bar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events, Strand
from expander.model.rules import StrandRule
from expander.model.score import Direction, Event, Note, Sketch, StaffAddress, staves_of
from expander.model.words import is_system_mark
from expander.plan.between import lent
from expander.plan.form import passage_bars
from expander.plan.meant import BY_LAYER, Said, for_layer

Bars = dict[int, tuple[Events, ...]]
HANDS = 2
"""The staves of a part for two hands."""


def take(sketch: Sketch, rule: StrandRule) -> Strand:
    """The strand a rule describes, from its staves, layer, notes and bars of the sketch.

    Where it names several staves, their layers follow each other from the top down and the
    marks are those of the first staff.
    """
    staves = staves_of(sketch)
    addresses = [staves[number - 1] for number in (rule.staff, *rule.more_staves)]
    wanted = range(len(sketch.bars)) if rule.bars is None else passage_bars(sketch, rule.bars)
    bars = {index: _layers(sketch, addresses, rule.layer, index) for index in wanted}
    if rule.notes.isdecimal():
        bars = {i: tuple(_nth(la, int(rule.notes)) for la in layers) for i, layers in bars.items()}
    elif rule.notes != "all":
        bars = _outer_line(bars, highest=rule.notes == "highest")
    directions = staff_directions(sketch, addresses[0], rule.layer)
    strand = Strand(
        name=rule.name,
        bars={index: layers for index, layers in bars.items() if any(layers)},
        directions={i: marks for i, marks in directions.items() if i in wanted},
        staves=tuple(address.number for address in addresses),
        hands=_hands(addresses, rule) if rule.more_staves else (),
        sides={a.number: a.staff for a in addresses if sketch.parts[a.part].staves == HANDS},
    )
    return _going_on(sketch, strand, wanted) if rule.repeat else strand


def _layers(
    sketch: Sketch, addresses: Sequence[StaffAddress], layer: int, index: int
) -> tuple[Events, ...]:
    found: list[Events] = []
    for address in addresses:
        bar = sketch.parts[address.part].bars[index]
        layers = [music(bar.layers[number]) for number in _chosen(address, layer)]
        if sketch.parts[address.part].staves > 1:
            layers = [_with_staves(events, address.number - address.staff) for events in layers]
        found += layers
    return tuple(found)


def _with_staves(events: Events, before: int) -> Events:
    """Notes on another staff with its number in the sketch; so many are before the part's."""
    if not any([note.voice_staff for event in events for note in event.notes]):
        return events
    return tuple([replace(e, notes=tuple([_on(n, before) for n in e.notes])) for e in events])


def _on(note: Note[Sounding], before: int) -> Note[Sounding]:
    return replace(note, voice_staff=note.voice_staff + before) if note.voice_staff else note


def _hands(addresses: Sequence[StaffAddress], rule: StrandRule) -> tuple[int, ...]:
    """The stave of each layer, for `Strand`; none where one line is picked out of them all."""
    if rule.notes in ("highest", "lowest"):
        return ()
    return tuple(a.number for a in addresses for _ in _chosen(a, rule.layer))


def _chosen(address: StaffAddress, layer: int) -> Sequence[int]:
    return address.layers if layer == 0 else address.layers[layer - 1 : layer]


def music(events: Events) -> Events:
    """What is to be played: cues left out, rests kept between notes, silence as nothing."""
    kept = events if not any(e.cue for e in events) else tuple(e for e in events if not e.cue)
    if any(e.notes or e.marks for e in kept):
        return kept  # the same object, so that equal bars stay one bar
    return ()


def staff_directions(
    sketch: Sketch, address: StaffAddress, layer: int = 0
) -> Mapping[int, tuple[Direction, ...]]:
    """The marks of one staff by bar, without those that belong to the whole system.

    Those that are meant for a `layer` (from 1), or for any where it is 0; see `plan.meant`.

    Dynamics and hairpins between the staves of one instrument are for both; see `plan.between`.
    """
    part = sketch.parts[address.part]
    between = lent(part.bars, address.staff) if part.staves > 1 else {}
    found: dict[int, tuple[Direction, ...]] = {}
    for index, bar in enumerate(part.bars):
        others = between.get(index, ())
        here = tuple(d for d in bar.directions if _is_own(d, address.staff) or d in others)
        if here:
            found[index] = here
    if any(d.voice or BY_LAYER in d.marks for marks in found.values() for d in marks):
        return _meant(found, [part.layers[n].voice for n in address.layers], layer)
    return found


def _meant(found: Said, voices: Sequence[str], layer: int) -> Mapping[int, tuple[Direction, ...]]:
    if layer and len(voices) > 1:
        return for_layer(found, voices, layer - 1)
    kept = {bar: tuple(d for d in marks if BY_LAYER not in d.marks) for bar, marks in found.items()}
    return {bar: marks for bar, marks in kept.items() if marks}


def _is_own(direction: Direction, staff: int) -> bool:
    return (direction.staff or 1) == staff and not is_system_mark(direction)


def _going_on(sketch: Sketch, figure: Strand, bars: range) -> Strand:
    """A figure repeated from its own bars to the end of the piece, cut to each bar's length."""
    repeated: Bars = {}
    for index in range(bars.start, len(sketch.bars)):
        source = bars.start + (index - bars.start) % len(bars)
        layers = figure.bars.get(source, ())
        if layers:
            repeated[index] = tuple(_cut(layer, sketch.bars[index].length) for layer in layers)
    return replace(figure, bars=repeated)


def _cut(events: Events, length: int) -> Events:
    if all(e.end <= length for e in events):
        return events
    kept = [e for e in events if e.at < length]
    return tuple(e if e.end <= length else _shortened(e, length - e.at) for e in kept)


def _shortened(event: Event[Sounding], duration: int) -> Event[Sounding]:
    notes = tuple(replace(n, tie_start=False) for n in event.notes)
    return replace(event, duration=duration, value=None, notes=notes, beams=())


def _nth(layer: Events, place: int) -> Events:
    """Of each chord the note so many from the top; silence where it has fewer."""
    kept = [_nth_of(event, place) for event in layer]
    played = tuple(e for e in kept if e.notes or e.duration)
    return played if any(e.notes for e in played) else ()


def _nth_of(event: Event[Sounding], place: int) -> Event[Sounding]:
    if not event.notes or (len(event.notes) == 1 and place == 1):
        return event
    if place > len(event.notes):
        return Event(event.at, event.duration, (), event.value)
    heads = sorted(event.notes, key=lambda n: -_height(n))
    return replace(event, notes=(heads[place - 1],))


def _outer_line(bars: Bars, *, highest: bool) -> Bars:
    """The top or bottom sounding note at each onset, as one layer."""
    lines: Bars = {}
    for index, layers in bars.items():
        events = [e for layer in layers for e in layer]
        lines[index] = (_outermost(events, highest=highest),)
    return lines


def _outermost(events: list[Event[Sounding]], *, highest: bool) -> Events:
    sign = 1 if highest else -1
    chosen: list[Event[Sounding]] = []
    for event in sorted(events, key=lambda e: (e.at, e.duration > 0)):  # grace notes first
        if not event.notes:
            continue
        best = max(event.notes, key=lambda n: sign * _height(n))
        rivals = [
            n
            for e in events
            if e.duration and e is not event and e.at <= event.at < e.end
            for n in e.notes
        ]
        if all(sign * _height(best) >= sign * _height(n) for n in rivals):
            chosen.append(_only(event, best))
    return _one_voice(chosen)


def _only(event: Event[Sounding], note: Note[Sounding]) -> Event[Sounding]:
    return event if len(event.notes) == 1 else replace(event, notes=(note,))


def _one_voice(events: list[Event[Sounding]]) -> Events:
    """Cut each event where the next begins; of two at one place the first stays."""
    line: list[Event[Sounding]] = []
    for event in events:
        if line and event.duration and line[-1].duration and event.at == line[-1].at:
            continue
        if line and line[-1].end > event.at:
            line[-1] = _shortened(line[-1], event.at - line[-1].at)
        line.append(event)
    return tuple(line)


def _height(note: Note[Sounding]) -> float:
    if isinstance(note.pitch, Drum):
        return float("-inf")
    return float(note.pitch.semitone)
