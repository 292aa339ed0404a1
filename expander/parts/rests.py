"""Silence in a part: whole-bar rests, holds over them, and rests of many bars as one.

A rest of many bars is broken where a player must see something (MOLA music-preparation
guidelines, from memory): rehearsal marks, tempo and other words, changes of time, key or clef,
double bars, repeats, endings and holds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import cast

from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import Bar, Barline, Change, Event, Mark, Part, PartBar
from expander.notate.rests import filled
from expander.parts.common import has_fermata

Events = tuple[Event[Written], ...]

FEWEST = 2
"""Bars of silence from which one sign stands for them."""

_SEEN = frozenset({"print", "sound"})
_PLAIN = frozenset({"", "regular"})
_HOLD = Mark("notations", "fermata", (("type", "upright"),))


def full(events: Sequence[Event[Written]], bar: Bar, grid: int) -> Events:
    """A voice with rests in all its gaps; a silent one is a whole-bar rest."""
    return cast(Events, filled(cast("tuple[Event[Written], ...]", tuple(events)), bar, grid))  # type: ignore[arg-type]


def silent(content: PartBar[Written]) -> bool:
    """Whether a player has nothing to play in a bar; cues are not playing."""
    return not any([e.notes and not e.cue for layer in content.layers for e in layer])


def with_bar_rests(part: Part[Written], bars: Sequence[Bar], grid: int) -> Part[Written]:
    """The part with one whole-bar rest for each staff's silent bar, and no needless voices."""
    homes = {layer.staff: i for i, layer in reversed([*enumerate(part.layers)])}
    rests = {bar.length: full((), bar, grid) for bar in bars}
    done = tuple(
        replace(content, layers=_rested(part, content, homes, rests[bar.length]))
        for content, bar in zip(part.bars, bars, strict=True)
    )
    return _without_empty_layers(replace(part, bars=done), homes)


def _rested(
    part: Part[Written],
    content: PartBar[Written],
    homes: Mapping[int, int],
    rest: Events,
) -> tuple[Events, ...]:
    layers = list(content.layers)
    for staff, home in homes.items():
        mine = [i for i, layer in enumerate(part.layers) if layer.staff == staff]
        if any([e.notes for i in mine for e in layers[i]]) or _crossed(layers, staff):
            continue
        held = any(has_fermata(e) for i in mine for e in layers[i])
        for i in mine:
            layers[i] = ()
        layers[home] = tuple(replace(e, marks=(_HOLD,)) for e in rest) if held else rest
    return tuple(layers)


def _crossed(layers: Sequence[Events], staff: int) -> bool:
    """Whether another staff's voice has notes on a staff."""
    return any(n.voice_staff == staff for layer in layers for e in layer for n in e.notes)


def _without_empty_layers(part: Part[Written], homes: Mapping[int, int]) -> Part[Written]:
    """Layers that never hold anything are left out, except each staff's first."""
    kept = [
        i
        for i in range(len(part.layers))
        if i in homes.values() or any(bar.layers[i] for bar in part.bars)
    ]
    if len(kept) == len(part.layers):
        return part
    bars = tuple(replace(b, layers=tuple(b.layers[i] for i in kept)) for b in part.bars)
    return replace(part, layers=tuple(part.layers[i] for i in kept), bars=bars)


def with_holds(part: Part[Written], holds: Mapping[int, tuple[int, ...]]) -> Part[Written]:
    """The part with the holds of others over its own rests."""
    bars = list(part.bars)
    for index, ticks in holds.items():
        bars[index] = _held(bars[index], ticks)
    return replace(part, bars=tuple(bars))


def _held(content: PartBar[Written], ticks: Sequence[int]) -> PartBar[Written]:
    if any(has_fermata(e) for layer in content.layers for e in layer):
        return content
    layers = list(content.layers)
    for i, layer in enumerate(layers):
        layers[i] = tuple(
            replace(e, marks=(*e.marks, _HOLD))
            if not e.notes and any(e.at <= tick < e.end for tick in ticks)
            else e
            for e in layer
        )
    return replace(content, layers=tuple(layers))


def without_idle_symbols(part: Part[Written]) -> Part[Written]:
    """The part without chord symbols over its silent bars, which would not be rests otherwise.

    A part that has nothing but symbols keeps them: its player makes the music from them.
    """
    if all(silent(bar) for bar in part.bars):
        return part
    bars = tuple(replace(bar, harmonies=()) if silent(bar) else bar for bar in part.bars)
    return replace(part, bars=bars)


# Rests of many bars ------------------------------------------------------------------------------


def rest_runs(parts: Sequence[Part[Written]], bars: Sequence[Bar]) -> list[range]:
    """Stretches of bars, silent in all parts on a stand, that one sign can stand for, in order."""
    runs: list[range] = []
    start: int | None = None
    for index in range(len(bars)):
        empty = all(_empty(part.bars[index]) and not _alone(part.bars[index]) for part in parts)
        if start is not None and (not empty or any(_breaks(p, bars, index) for p in parts)):
            runs.append(range(start, index))
            start = None
        if empty and start is None:
            start = index
    if start is not None:
        runs.append(range(start, len(bars)))
    return [run for run in runs if len(run) >= FEWEST]


def with_long_rests(part: Part[Written], runs: Sequence[range]) -> Part[Written]:
    """The part with MusicXML's `multiple-rest` at the head of each run."""
    bars = list(part.bars)
    for run in runs:
        inner = f"<multiple-rest>{len(run)}</multiple-rest>"
        style = Change(0, Mark("attributes", "measure-style", inner=inner))
        first = bars[run.start]
        bars[run.start] = replace(first, changes=(*first.changes, style))
    return replace(part, bars=tuple(bars))


def _empty(content: PartBar[Written]) -> bool:
    """A bar with nothing but whole-bar rests."""
    return all(e.whole_bar or not (e.notes or e.marks) for la in content.layers for e in la) and (
        silent(content) and not any(e.cue for la in content.layers for e in la)
    )


def _breaks(part: Part[Written], bars: Sequence[Bar], index: int) -> bool:
    """Whether something at the start of a bar, or at the end of the one before, must be seen."""
    content, before = part.bars[index], part.bars[index - 1]
    return (
        bool(content.directions or content.harmonies)
        or any(c.at == 0 and not isinstance(c.what, Mark) for c in content.changes)
        or any(c.mark.name not in _SEEN for c in content.carried)
        or any(_seen(b) for b in content.barlines if b.location == "left")
        or any(_seen(b) for b in before.barlines if b.location == "right")
        or bars[index].implicit != bars[index - 1].implicit
        or bars[index].length != bars[index - 1].length
    )


def _alone(content: PartBar[Written]) -> bool:
    """Whether a silent bar stands for itself: something happens inside it, or all hold."""
    return (
        any(d.at > 0 for d in content.directions)
        or any(c.at > 0 for c in content.changes)
        or any(b.location == "middle" for b in content.barlines)
        or any(e.marks for layer in content.layers for e in layer)
        or len(content.harmonies) > 0
    )


def _seen(barline: Barline) -> bool:
    return bool(barline.style not in _PLAIN or barline.repeat or barline.ending or barline.marks)
