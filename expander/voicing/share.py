"""From a task to lines: a single line is doubled, chords and layers are dealt out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from expander.model.instrument import Ensemble, Seat
from expander.model.pitch import Sounding
from expander.model.plan import Events, Line, Task
from expander.model.score import Event
from expander.voicing.deal import Dealt, Desk, deal

CHORDAL = 4
"""From how many notes at once an instrument plays whole chords by itself (keyboards, harp)."""


class Shared(Struct, frozen=True):
    """The lines of a task, and the sketch notes (by origin) that it had to leave out, with why."""

    lines: tuple[Line, ...]
    dropped: tuple[tuple[int, str], ...] = ()


def share(task: Task, starts: Sequence[int], ensemble: Ensemble, pools: Sequence[int]) -> Shared:
    """Give each seat of a task its line.

    `starts` are the ticks at which bars start; `pools` tells for each seat which name of the
    entry's `by` it came in with: where every name has players enough for the whole chord, each
    of them plays it; otherwise all players together share it out.
    """
    bars = {i: task.strand.bars[i] for i in task.bars if i in task.strand.bars}
    if task.strand.slashes:
        return Shared(tuple(line for seat in task.seats for line in _whole(seat, task, bars)))
    depth = max((_notes_at_once(layers) for layers in bars.values()), default=0)
    if depth <= 1:
        line = {index: merged(layers) for index, layers in bars.items()}
        return Shared(tuple(Line(seat, task, line) for seat in task.seats))
    chordal = [s for s in task.seats if plays_chords(s)]
    lines = [line for seat in chordal for line in _whole(seat, task, bars)]
    dropped: list[tuple[int, str]] = []
    for pool in pools_of(task.seats, pools, depth):
        found = _deal_pool(pool, task, bars, starts, depth, ensemble)
        lines += found.lines
        dropped += found.dropped
    return Shared(tuple(lines), tuple(dropped))


def merged(layers: tuple[Events, ...]) -> Events:
    """Layers that never sound together, as one; a single layer stays the same object."""
    sounding = [layer for layer in layers if any(e.notes for e in layer)]
    if len(sounding) == 1:
        return sounding[0]
    if not sounding:
        return next((layer for layer in layers if layer), ())
    events = (e for layer in sounding for e in layer if e.notes)
    return tuple(sorted(events, key=lambda e: (e.at, e.duration > 0)))


def _notes_at_once(layers: tuple[Events, ...]) -> int:
    timed = [e for layer in layers for e in layer if e.notes]
    if len(layers) == 1:
        return max((len(e.notes) for e in timed), default=0)
    return max((_sounding_at(timed, e) for e in timed), default=0)


def _sounding_at(events: list[Event[Sounding]], event: Event[Sounding]) -> int:
    if not event.duration:
        return len(event.notes)
    return sum(len(e.notes) for e in events if e.at <= event.at < e.end)


def plays_chords(seat: Seat) -> bool:
    """True for those who take a whole chord by themselves."""
    return seat.instrument.at_once >= CHORDAL and seat.instrument.family != "strings"


def _whole(seat: Seat, task: Task, bars: Mapping[int, tuple[Events, ...]]) -> list[Line]:
    """Every layer as a line of its own, for a player who takes whole chords."""
    count = max((len(layers) for layers in bars.values()), default=0)
    found = []
    for number in range(count):
        line = {i: layers[number] for i, layers in bars.items() if number < len(layers)}
        line = {i: events for i, events in line.items() if events}
        if line:
            found.append(Line(seat, task, line, desk=number))
    return found


def pools_of(seats: Sequence[Seat], pools: Sequence[int], depth: int) -> list[tuple[Seat, ...]]:
    """The seats in groups that share a chord of `depth` notes out; `pools` as for `share`."""
    by_name: dict[int, list[Seat]] = {}
    for seat, pool in zip(seats, pools, strict=True):
        if not plays_chords(seat):
            by_name.setdefault(pool, []).append(seat)
    groups = list(by_name.values())
    if len(groups) > 1 and all(len(group) >= depth for group in groups):
        return [tuple(group) for group in groups]
    together = tuple(seat for group in groups for seat in group)
    return [together] if together else []


def _deal_pool(
    seats: tuple[Seat, ...],
    task: Task,
    bars: Mapping[int, tuple[Events, ...]],
    starts: Sequence[int],
    depth: int,
    ensemble: Ensemble,
) -> Shared:
    places = desks_of(seats, depth, ensemble)
    desks = [desk for _, _, desk in places]
    dealt: Dealt = deal(bars, starts, desks)
    lines = [
        Line(seat, task, line, desk=number)
        for (seat, number, _), line in zip(places, dealt.lines, strict=True)
        if line
    ]
    return Shared(tuple(lines), dealt.dropped)


def desks_of(
    seats: tuple[Seat, ...], depth: int, ensemble: Ensemble
) -> list[tuple[Seat, int, Desk]]:
    """A place for each seat; sections divide where there are more notes than seats."""
    counts = [1] * len(seats)
    sizes = [ensemble.players[seat.player].size for seat in seats]
    while sum(counts) < depth:
        free = [i for i, size in enumerate(sizes) if counts[i] < min(size, 4)]
        if not free:
            break
        counts[min(free, key=lambda i: (counts[i], i))] += 1
    return [
        (seat, number, _desk(seat, sizes[index]))
        for index, seat in enumerate(seats)
        for number in range(counts[index])
    ]


def _desk(seat: Seat, size: int) -> Desk:
    instrument = seat.instrument
    at_once = 1 if size > 1 else instrument.at_once
    if instrument.professional is None or instrument.comfortable is None:
        return Desk(at_once=at_once, name=instrument.id)
    low, high = instrument.sounding(instrument.professional)
    soft_low, soft_high = instrument.sounding(instrument.comfortable)
    bottom, top, soft_bottom, soft_top = (int(p.semitone) for p in (low, high, soft_low, soft_high))
    return Desk(bottom, top, soft_bottom, soft_top, at_once, instrument.id)
