"""Which notes make a line: simultaneous notes to a number of voices, over the whole phrase.

Method
    Notes are taken in time order, those that start together from the top down. A *reading* is
    one way to have given out all notes so far; of readings with the same last note in every
    voice only the cheapest can be part of the best whole, so the rest are forgotten (dynamic
    programming). Readings far behind the best are given up, and at most `WIDTH` are kept, which
    makes the time linear in the number of notes for any number of voices.

Conventions
    Voices count from 0 at the top. Pitches are sounding semitones (middle C is 60), times are
    ticks. A held note keeps its voice; a voice sounds one note at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from msgspec import Struct, field

from expander.voicing.cost import Costs, costs
from expander.voicing.tones import Tone, Voice

WIDTH = 24
"""Most readings kept at any moment."""

BEHIND = 3000
"""Readings that cost this much more than the best are given up."""

SWAP = 1
"""How many places a note may stand away from its place in pitch order."""

LEFT_OUT = -1
"""The voice of a note for which none was free."""


class _Reading(Struct, frozen=True, gc=False):
    """A way to have given out the notes so far; `free` are the voices free at this moment."""

    cost: int
    voice: int = LEFT_OUT
    before: _Reading | None = None
    free: tuple[int, ...] = ()


_Last = tuple[int, ...]


class _Search(Struct):
    """The notes in order, with what the costs need, and how much work was done."""

    tones: list[Tone]
    voices: Sequence[Voice]
    cost: Costs
    beat: int
    ends: list[int] = field(default_factory=list)
    heights: list[int] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    shared: bool = False
    strains: dict[int, tuple[list[int], list[bool]]] = field(default_factory=dict)
    readings: int = 0

    def __post_init__(self) -> None:
        # The last element serves index -1: a voice that has not sounded yet is free.
        self.ends = [*(t.end for t in self.tones), -(10**12)]
        self.heights = [t.semitone - 1000 * t.layer for t in self.tones]
        self.numbers = _numbers(self.tones)
        self.shared = any(voice.player >= 0 for voice in self.voices)

    def strain(self, tone: int) -> tuple[list[int], list[bool]]:
        """For each voice, what the pitch of a note costs in it, and whether it is in range."""
        pitch = self.tones[tone].semitone
        found = self.strains.get(pitch)
        if found is None:
            fits = [self.cost.fit(voice, pitch) for voice in self.voices]
            found = self.strains[pitch] = fits, [v.strain(pitch)[0] == 0 for v in self.voices]
        return found


class _Known(dict[int, int]):
    """Costs by the number of the note they are counted against, each counted once."""

    def __init__(self, count: Callable[[int], int]) -> None:
        self.count = count

    def __missing__(self, tone: int) -> int:
        found = self[tone] = self.count(tone)
        return found


class _Next(Struct):
    """The next note: its number, and what it costs.

    `fits` is by voice; `after` by the note that the same voice had last, `under` and `over` by
    the note that a voice above or below had last.
    """

    tone: int
    fits: list[int]
    after: _Known
    under: _Known
    over: _Known


def assign(
    tones: Sequence[Tone], voices: Sequence[Voice], *, beat: int, cost: Costs | None = None
) -> tuple[int, ...]:
    """The voice of every tone, in the order given, `LEFT_OUT` where no voice was free.

    `voices` are from the top down; `beat` is the ticks in a quarter note. Deterministic.
    """
    return search(tones, voices, beat=beat, cost=cost)[0]


def search(
    tones: Sequence[Tone], voices: Sequence[Voice], *, beat: int, cost: Costs | None = None
) -> tuple[tuple[int, ...], int]:
    """As `assign`, and how many readings were looked at (the measure of work)."""
    order = [key[-1] for key in sorted([_key(tone, i) for i, tone in enumerate(tones)])]
    work = _Search([tones[i] for i in order], voices, cost or costs(), max(1, beat))
    found: dict[_Last, _Reading] = {(-1,) * len(voices): _Reading(0)}
    onsets = [tone.onset for tone in work.tones]
    for _, group in groupby(work.numbers, key=onsets.__getitem__):
        found = _place(work, list(group), found)
    best = min(found.values(), key=lambda r: r.cost)
    placed = [LEFT_OUT] * len(tones)
    for index, voice in zip(order, _voices_of(best, len(order)), strict=True):
        placed[index] = voice
    return tuple(placed), work.readings


def _key(tone: Tone, number: int) -> tuple[int, int, int, int, int]:
    return (tone.onset, tone.layer, -tone.semitone, tone.end, number)


def _numbers(tones: Sequence[Tone]) -> list[int]:
    """A number for each note, in order; copies of a note that is doubled have the same one.

    Which copy a player has makes no difference, so it makes no other reading.
    """
    numbers: list[int] = []
    for place, tone in enumerate(tones):
        again = place > 0 and tone == tones[place - 1]
        numbers.append(numbers[-1] if again else place)
    return numbers


def _voices_of(reading: _Reading, count: int) -> list[int]:
    found = [LEFT_OUT] * count
    node: _Reading | None = reading
    for place in range(count - 1, -1, -1):
        assert node is not None
        found[place] = node.voice
        node = node.before
    return found


def _place(work: _Search, group: list[int], found: dict[_Last, _Reading]) -> dict[_Last, _Reading]:
    """Give out notes that start together, one after the other from the top."""
    swap = 0 if _plain(work, group) else SWAP
    now = work.tones[group[0]].onset
    if swap == 0 and len(found) == 1 and not work.shared:
        last, reading = next(iter(found.items()))
        if len(_free(work, last, now)) == len(group):
            return _straight(work, group, reading)
    found = {
        last: _Reading(reading.cost, reading.voice, reading.before, _free(work, last, now))
        for last, reading in found.items()
    }
    for rank in range(len(group)):
        grown = _forced(work, group, rank, swap, found) or _grown(work, group, rank, swap, found)
        work.readings += len(grown)
        found = _pruned(grown)
    return found


def _straight(work: _Search, group: list[int], reading: _Reading) -> dict[_Last, _Reading]:
    """A chord for all voices, each its own note: no other way, so no cost need be counted."""
    for voice in range(len(group)):
        reading = _Reading(reading.cost, voice, reading)
    work.readings += len(group)
    return {tuple(group): reading}


def _forced(
    work: _Search, group: list[int], rank: int, swap: int, found: dict[_Last, _Reading]
) -> dict[_Last, _Reading] | None:
    """The one way on from a single reading, for which no cost need be counted; None: several."""
    if len(found) > 1:
        return None
    last, reading = next(iter(found.items()))
    options = _options(work, group, rank, last, reading.free, swap)
    if len(options) != 1:
        return None
    voice = options[0]
    return {_given(last, voice, group[rank]): _Reading(reading.cost, voice, reading, reading.free)}


def _grown(
    work: _Search, group: list[int], rank: int, swap: int, found: dict[_Last, _Reading]
) -> dict[_Last, _Reading]:
    """Every reading with the next note given in every way."""
    grown: dict[_Last, _Reading] = {}
    note = _next(work, group[rank], group[0])
    for last, reading in found.items():
        options = _options(work, group, rank, last, reading.free, swap)
        if options:
            _extend(work, note, last, reading, options, grown)
        else:
            _keep(grown, last, reading.cost + work.cost.left_out, LEFT_OUT, reading)
    return grown


def _next(work: _Search, tone: int, first: int) -> _Next:
    """A note of the chord that begins with `first`."""
    return _Next(
        tone,
        work.strain(tone)[0],
        _Known(lambda before: _step(work, before, tone)),
        _Known(lambda held: _passed(work, held, tone, first, 1)),
        _Known(lambda held: _passed(work, held, tone, first, -1)),
    )


def _free(work: _Search, last: _Last, now: int) -> tuple[int, ...]:
    ends = work.ends
    return tuple([voice for voice, tone in enumerate(last) if ends[tone] <= now])


def _plain(work: _Search, group: list[int]) -> bool:
    """True for a chord in which all take part and can, in order: nothing speaks for crossing."""
    return len(group) == len(work.voices) and all(
        [work.strain(tone)[1][voice] for voice, tone in enumerate(group)]
    )


def _extend(
    work: _Search,
    note: _Next,
    last: _Last,
    reading: _Reading,
    options: list[int],
    grown: dict[_Last, _Reading],
) -> None:
    """All ways to give a note to a voice in one reading."""
    under, over = note.under.__getitem__, note.over.__getitem__
    for voice in options:
        total = reading.cost + note.after[last[voice]] + note.fits[voice]
        total += sum(map(under, last[:voice])) + sum(map(over, last[voice + 1 :]))
        if work.shared:
            total += work.cost.second_note * _beside(work, last, voice, note.tone)
        _keep(grown, _given(last, voice, note.tone), total, voice, reading)


def _given(last: _Last, voice: int, tone: int) -> _Last:
    return (*last[:voice], tone, *last[voice + 1 :])


def _keep(
    grown: dict[_Last, _Reading], last: _Last, cost: int, voice: int, before: _Reading
) -> None:
    old = grown.get(last)
    if old is None or cost < old.cost:
        grown[last] = _Reading(cost, voice, before, before.free)


def _pruned(grown: dict[_Last, _Reading]) -> dict[_Last, _Reading]:
    if len(grown) == 1:
        return grown
    ranked = sorted(grown.items(), key=lambda item: item[1].cost)[:WIDTH]
    limit = ranked[0][1].cost + BEHIND
    return {last: reading for last, reading in ranked if reading.cost <= limit}


def _options(
    work: _Search, group: list[int], rank: int, last: _Last, free: tuple[int, ...], swap: int
) -> list[int]:
    """Voices that may take the note: free, and near its place in pitch order."""
    first = group[0]
    spare = max(0, len(free) - len(group))
    window = free[max(0, rank - swap) : rank + spare + swap + 1]
    options = [v for v in window if last[v] < first]
    if work.shared:
        options = [v for v in options if _together(work, last, v, group[rank])]
    if options:
        return options
    return [v for v in free if last[v] < first and _together(work, last, v, group[rank])]


def _together(work: _Search, last: _Last, voice: int, tone: int) -> bool:
    """True unless the player sounds the same note already, or what does not go with it."""
    player, stops = work.voices[voice].player, work.voices[voice].stops
    if player < 0:
        return True
    new = work.tones[tone]
    heights = [new.semitone]
    for other, held in enumerate(last):
        if work.voices[other].player != player or work.ends[held] <= new.onset:
            continue
        old = work.tones[held]
        if (old.onset, old.end) != (new.onset, new.end) or old.semitone == new.semitone:
            return False
        heights.append(old.semitone)
    return stops is None or len(heights) == 1 or stops(tuple(sorted(heights)))


def _step(work: _Search, before: int, tone: int) -> int:
    """Cost of one note after another in a line."""
    cost = work.cost
    if before < 0:
        return cost.first_entry
    old, new = work.tones[before], work.tones[tone]
    total = cost.leap_of(new.semitone - old.semitone) + cost.rest_of(new.onset - old.end, work.beat)
    total += cost.lengths_of(old.end - old.onset, new.end - new.onset)
    return total + (cost.layer_changes if old.layer != new.layer else 0)


def _passed(work: _Search, held: int, tone: int, first: int, side: int) -> int:
    """Cost of crossing a line that sounds, or of moving past where a resting one was.

    `held` is the last note of another voice, above (`side` 1) or below (-1).
    """
    depth = side * (work.heights[tone] - work.heights[held])
    if held < 0 or depth <= 0:
        return 0
    if work.ends[held] > work.tones[tone].onset:
        return work.cost.crossing + work.cost.crossing_depth * min(depth, 12)
    return work.cost.passing_neighbour if held < first else 0


def _beside(work: _Search, last: _Last, voice: int, tone: int) -> int:
    """How many other notes the player of a voice already sounds."""
    player, now = work.voices[voice].player, work.tones[tone].onset
    return sum(
        other != voice and held >= 0 and work.ends[held] > now
        for other, held in enumerate(last)
        if player >= 0 and work.voices[other].player == player
    )
