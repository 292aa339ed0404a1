"""From a task to lines: a single line is doubled, chords and layers are dealt out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from itertools import pairwise

from msgspec import Struct, field

from expander.model.instrument import Ensemble, Instrument, Seat
from expander.model.memo import ByIdentity
from expander.model.pitch import Sounding
from expander.model.plan import Events, Line, Task
from expander.model.score import Event
from expander.voicing.chains import Gathered, gather
from expander.voicing.deal import Dealt, Desk, deal_gathered
from expander.voicing.lines import Known
from expander.voicing.parting import parted

CHORDAL = 4
"""From how many notes at once an instrument plays whole chords by itself (keyboards, harp)."""


Stopping = Callable[[Instrument, tuple[int, ...]], bool]
"""Whether one hand can stop such heights (semitones, the lowest first) on an instrument."""


class Shared(Struct, frozen=True):
    """The lines of a task, and the sketch notes (by origin) that it had to leave out, with why."""

    lines: tuple[Line, ...]
    dropped: tuple[tuple[int, str], ...] = ()


class Taken(Struct):
    """A strand's music in some bars, with how many notes sound at once, and taken apart."""

    bars: Mapping[int, tuple[Events, ...]]
    starts: Sequence[int]
    depth: int
    found: dict[int, Gathered] = field(default_factory=dict)

    def gathered(self, players: int) -> Gathered:
        """The music taken apart for so many; this is done once."""
        bars = parted(self.bars, players)
        key = players if bars is not self.bars else 0
        if key not in self.found:
            self.found[key] = gather(bars, self.starts)
        return self.found[key]


class Dealer:
    """Shares out one task after the other; what several tasks have in common is done once.

    `starts` are the ticks at which bars start. `stops` tells for an instrument of several strings
    which heights one hand can stop at once; without it all go together.
    """

    def __init__(
        self, starts: Sequence[int], ensemble: Ensemble, stops: Stopping | None = None
    ) -> None:
        self.ensemble = ensemble
        self._stops = stops
        self.known = Known()
        self._starts = starts
        self._taken: ByIdentity[Taken] = ByIdentity()

    def share(self, task: Task, pools: Sequence[int]) -> Shared:
        """Give each seat of a task its line.

        `pools` tells for each seat which name of the entry's `by` it came in with: where every
        name has players enough for the whole chord, each of them plays it; otherwise all players
        together share it out.
        """
        taken = self._taken.get((task.strand,), task.bars, lambda: self._take(task))
        bars, depth = taken.bars, taken.depth
        if task.strand.slashes:
            return Shared(tuple(line for seat in task.seats for line in _whole(seat, task, bars)))
        chordal = [s for s in task.seats if plays_chords(s)]
        if depth <= 1:
            line = {index: merged(layers) for index, layers in bars.items()}
            by_hands = chordal if task.strand.hands else ()
            whole = [line for seat in by_hands for line in _whole(seat, task, bars)]
            others = [seat for seat in task.seats if seat not in by_hands]
            return Shared((*(Line(seat, task, line) for seat in others), *whole))
        lines = [line for seat in chordal for line in _whole(seat, task, bars)]
        dropped: list[tuple[int, str]] = []
        for pool in pools_of(task.seats, pools, depth):
            found = self._deal_pool(pool, task, taken)
            lines += found.lines
            dropped += found.dropped
        return Shared(tuple(lines), tuple(dropped))

    def _take(self, task: Task) -> Taken:
        bars = {i: task.strand.bars[i] for i in task.bars if i in task.strand.bars}
        depth = max((_notes_at_once(layers) for layers in bars.values()), default=0)
        return Taken(bars, self._starts, depth)

    def _deal_pool(self, seats: tuple[Seat, ...], task: Task, taken: Taken) -> Shared:
        places = desks_of(seats, taken.depth, self.ensemble, self._stops)
        desks = [desk for _, _, desk in places]
        dealt: Dealt = deal_gathered(taken.gathered(len(desks)), desks, self.known)
        lines = [
            Line(seat, task, line, desk=number)
            for (seat, number, _), line in zip(places, dealt.lines, strict=True)
            if line
        ]
        return Shared(tuple(lines), dealt.dropped)


def share(task: Task, starts: Sequence[int], ensemble: Ensemble, pools: Sequence[int]) -> Shared:
    """One task by itself shared out, as a `Dealer` does."""
    return Dealer(starts, ensemble).share(task, pools)


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
    if len(layers) == 1:
        return max([len(e.notes) for e in layers[0]], default=0)
    sounding = [[e for e in layer if e.notes] for layer in layers]
    timed = [e for layer in sounding for e in layer]
    if sum(map(bool, sounding)) <= 1 and all(a.end <= b.at for a, b in pairwise(timed)):
        return max([len(e.notes) for e in timed], default=0)
    return max([_sounding_at(timed, e) for e in timed], default=0)


def _sounding_at(events: list[Event[Sounding]], event: Event[Sounding]) -> int:
    if not event.duration:
        return len(event.notes)
    at = event.at
    return sum([len(e.notes) for e in events if e.at <= at < e.at + e.duration])


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


def desks_of(
    seats: tuple[Seat, ...], depth: int, ensemble: Ensemble, stops: Stopping | None = None
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
        (seat, number, _desk(seat, sizes[index], stops))
        for index, seat in enumerate(seats)
        for number in range(counts[index])
    ]


def _desk(seat: Seat, size: int, stops: Stopping | None) -> Desk:
    instrument = seat.instrument
    at_once = 1 if size > 1 else instrument.at_once
    if instrument.professional is None or instrument.comfortable is None:
        return Desk(at_once=at_once, name=instrument.id)
    low, high = instrument.sounding(instrument.professional)
    soft_low, soft_high = instrument.sounding(instrument.comfortable)
    bottom, top, soft_bottom, soft_top = (int(p.semitone) for p in (low, high, soft_low, soft_high))
    hand = partial(stops, instrument) if stops and at_once > 1 and instrument.strings else None
    return Desk(bottom, top, soft_bottom, soft_top, at_once, instrument.id, hand)
