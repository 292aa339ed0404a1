"""Lanes: the parallel lines on one stave of the score, each with its owner.

A shared stave has a lane for each player, a section one for each division, a keyboard or harp
several on each of its staves. Within a lane nothing overlaps.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from expander.model.instrument import Ensemble, Instrument, Stave
from expander.model.plan import Events, Line, Task
from expander.notate.by_hand import by_hand
from expander.notate.crossing import settled

NEVER = 1 << 30


class Piece(Struct, frozen=True):
    """What a lane has from one task in one bar; `first` as `first_note` has it."""

    task: Task
    instrument: Instrument
    events: Events
    first: int


class Lane(Struct, frozen=True):
    """One line on a stave. `owner` is the place among those who share the stave (from 0).

    `staff` counts from 1 within the part. `bars` has the events of each bar, `pieces` where they
    came from.
    """

    owner: int
    staff: int
    player: int
    bars: Mapping[int, Events]
    pieces: Mapping[int, tuple[Piece, ...]]

    @property
    def slashes(self) -> bool:
        """True where any of it is slashes."""
        return any(p.task.strand.slashes for pieces in self.pieces.values() for p in pieces)

    def material(self, bar: int) -> str:
        """The name of the strand that a bar comes from."""
        return self.pieces[bar][0].task.entry.play


def lanes_of(stave: Stave, lines: Sequence[Line], ensemble: Ensemble) -> list[Lane]:
    """The lanes of a stave, upper staff and first player first."""
    mine = [line for line in lines if line.seat.player in stave.players]
    if len(stave.players) > 1:
        return [
            lane
            for owner, player in enumerate(stave.players)
            for lane in _lanes(_of(mine, player), player, owner, spread=False)
        ]
    player = stave.players[0]
    instruments = ensemble.players[player].instruments
    if max(i.staves for i in instruments) > 1:
        upper, lower = by_hand(mine)
        return [
            *_lanes(upper, player, 0, spread=True),
            *_lanes(lower, player, 0, spread=True, staff=2),
        ]
    return _lanes(mine, player, 0, spread=True)


def _of(lines: Sequence[Line], player: int) -> list[Line]:
    """A player's lines for a stave that they share, on which all heads stand."""
    mine = [line for line in lines if line.seat.player == player]
    return [settled(line) if line.seat.instrument.staves > 1 else line for line in mine]


def _lanes(
    lines: Sequence[Line], player: int, owner: int, *, spread: bool, staff: int = 1
) -> list[Lane]:
    """Lay lines side by side; each bar goes to its line's own lane, or the first that is free.

    Bars that a tie or slur joins go to one lane together.
    """
    bars: list[dict[int, Events]] = []
    pieces: list[dict[int, tuple[Piece, ...]]] = []
    for line in lines:
        wanted = line.desk if spread else 0
        for bar, events, place in _placed(line.bars, bars, wanted):
            while len(bars) <= place:
                bars.append({})
                pieces.append({})
            piece = Piece(line.task, line.seat.instrument, events, first_note(events))
            held = bars[place].get(bar)
            if held is None:
                bars[place][bar], pieces[place][bar] = events, (piece,)
            else:
                bars[place][bar] = _woven(held, events)
                pieces[place][bar] = _in_order((*pieces[place][bar], piece))
    return [
        Lane(owner + number, staff, player, music, origin)
        for number, (music, origin) in enumerate(zip(bars, pieces, strict=True))
    ]


def _placed(
    music: Mapping[int, Events], lanes: Sequence[Mapping[int, Events]], wanted: int
) -> Iterator[tuple[int, Events, int]]:
    """The bars of a line, each with its lane."""
    if wanted >= len(lanes) or lanes[wanted].keys().isdisjoint(music):
        yield from [(bar, events, wanted) for bar, events in music.items()]
        return
    for run in _joined(music):
        place = _free_place(run, music, lanes, wanted)
        yield from [(bar, music[bar], place) for bar in run]


def _joined(music: Mapping[int, Events]) -> list[list[int]]:
    """The bars of a line in groups: those that a tie or slur joins."""
    found: list[list[int]] = []
    slurs, joined = 0, False
    for bar, events in music.items():
        if joined and found[-1][-1] == bar - 1:
            found[-1].append(bar)
        else:
            found.append([bar])
            slurs = 0
        slurs = max(0, slurs + slurs_opened(events))
        joined = slurs > 0 or is_tied_on(events)
    return found


def _free_place(
    run: Sequence[int],
    music: Mapping[int, Events],
    lanes: Sequence[Mapping[int, Events]],
    wanted: int,
) -> int:
    if not any(bar in lanes[wanted] for bar in run):
        return wanted
    places: list[int] = [wanted, *range(len(lanes))]
    for place in places:
        held = lanes[place]
        if not any(bar in held and _collide(held[bar], music[bar]) for bar in run):
            return place
    return len(lanes)


def slurs_opened(events: Events) -> int:
    """How many more slurs begin in a bar than end in it."""
    kinds = [m.get("type") for e in events if e.marks for m in e.marks if m.name == "slur"]
    return kinds.count("start") - kinds.count("stop") if kinds else 0


def is_tied_on(events: Events) -> bool:
    """True where a tie leads from the last notes of a bar to the next."""
    for event in reversed(events):
        if event.notes:
            return any([note.tie_start for note in event.notes])
    return False


def _collide(one: Events, other: Events) -> bool:
    return any(a.at < b.end and b.at < a.end for a in one if a.notes for b in other if b.notes)


def _woven(one: Events, other: Events) -> Events:
    """Two lines that take turns in one bar, as one; rests are made afresh."""
    sounding = [e for e in (*one, *other) if e.notes]
    return tuple(sorted(sounding, key=lambda e: (e.at, e.duration > 0)))


def _in_order(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    return tuple(sorted(pieces, key=lambda p: p.first))


def first_note(events: Events) -> int:
    """The tick of the first event that is played (a large number where there is none)."""
    for event in events:  # a loop, as this is asked of every bar of every player
        if event.notes and not event.cue:
            return event.at
    return NEVER


def last_end(events: Events) -> int:
    """The tick at which the last of the sounding events ends."""
    return max([e.at + e.duration for e in events if e.notes])
