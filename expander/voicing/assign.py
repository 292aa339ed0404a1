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

from collections.abc import Sequence
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


class _Reading(Struct, frozen=True):
    cost: int
    voice: int = LEFT_OUT
    before: _Reading | None = None


_Last = tuple[int, ...]


class _Search(Struct):
    """The notes in order, with what the costs need, and how much work was done."""

    tones: list[Tone]
    voices: Sequence[Voice]
    cost: Costs
    beat: int
    ends: list[int] = field(default_factory=list)
    heights: list[int] = field(default_factory=list)
    readings: int = 0

    def __post_init__(self) -> None:
        # The last element serves index -1: a voice that has not sounded yet is free.
        self.ends = [*(t.end for t in self.tones), -(10**12)]
        self.heights = [t.semitone - 1000 * t.layer for t in self.tones]


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
    order = sorted(range(len(tones)), key=lambda i: _key(tones[i]))
    work = _Search([tones[i] for i in order], voices, cost or costs(), max(1, beat))
    found: dict[_Last, _Reading] = {(-1,) * len(voices): _Reading(0)}
    for _, group in groupby(range(len(order)), key=lambda j: work.tones[j].onset):
        found = _place(work, list(group), found)
    best = min(found.values(), key=lambda r: r.cost)
    placed = [LEFT_OUT] * len(tones)
    for index, voice in zip(order, _voices_of(best, len(order)), strict=True):
        placed[index] = voice
    return tuple(placed), work.readings


def _key(tone: Tone) -> tuple[int, int, int, int]:
    return (tone.onset, tone.layer, -tone.semitone, tone.end)


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
    pairs: dict[tuple[int, int], int] = {}
    swap = 0 if _plain(work, group) else SWAP
    for rank, tone in enumerate(group):
        grown: dict[_Last, _Reading] = {}
        fits = [work.cost.fit(voice, work.tones[tone].semitone) for voice in work.voices]
        for last, reading in found.items():
            _extend(work, group, rank, swap, last, reading, fits, pairs, grown)
        found = _pruned(grown)
        work.readings += len(grown)
    return found


def _plain(work: _Search, group: list[int]) -> bool:
    """True for a chord in which all take part and can, in order: nothing speaks for crossing."""
    return len(group) == len(work.voices) and all(
        voice.strain(work.tones[tone].semitone)[0] == 0
        for voice, tone in zip(work.voices, group, strict=True)
    )


def _extend(
    work: _Search,
    group: list[int],
    rank: int,
    swap: int,
    last: _Last,
    reading: _Reading,
    fits: list[int],
    pairs: dict[tuple[int, int], int],
    grown: dict[_Last, _Reading],
) -> None:
    """All ways to give the next note to a voice in one reading."""
    tone = group[rank]
    options = _options(work, group, rank, last, swap)
    if not options:
        _keep(grown, last, _Reading(reading.cost + work.cost.left_out, LEFT_OUT, reading))
    for voice in options:
        before = last[voice]
        step = pairs.get((before, tone))
        if step is None:
            step = pairs[before, tone] = _step(work, before, tone)
        total = reading.cost + step + fits[voice] + _order(work, last, voice, tone, group[0])
        after = (*last[:voice], tone, *last[voice + 1 :])
        _keep(grown, after, _Reading(total, voice, reading))


def _keep(grown: dict[_Last, _Reading], last: _Last, reading: _Reading) -> None:
    old = grown.get(last)
    if old is None or reading.cost < old.cost:
        grown[last] = reading


def _pruned(grown: dict[_Last, _Reading]) -> dict[_Last, _Reading]:
    if len(grown) == 1:
        return grown
    ranked = sorted(grown.items(), key=lambda item: item[1].cost)[:WIDTH]
    limit = ranked[0][1].cost + BEHIND
    return {last: reading for last, reading in ranked if reading.cost <= limit}


def _options(work: _Search, group: list[int], rank: int, last: _Last, swap: int) -> list[int]:
    """Voices that may take the note: free, and near its place in pitch order."""
    first, now = group[0], work.tones[group[0]].onset
    ends = work.ends
    free = [v for v, a in enumerate(last) if a >= first or ends[a] <= now]
    spare = max(0, len(free) - len(group))
    window = free[max(0, rank - swap) : rank + spare + swap + 1]
    options = [v for v in window if last[v] < first and _together(work, last, v, group[rank])]
    if options:
        return options
    return [v for v in free if last[v] < first and _together(work, last, v, group[rank])]


def _together(work: _Search, last: _Last, voice: int, tone: int) -> bool:
    """True unless the player sounds the same note already, or something of another length."""
    player = work.voices[voice].player
    if player < 0:
        return True
    new = work.tones[tone]
    for other, held in enumerate(last):
        if work.voices[other].player != player or work.ends[held] <= new.onset:
            continue
        old = work.tones[held]
        if (old.onset, old.end) != (new.onset, new.end) or old.semitone == new.semitone:
            return False
    return True


def _step(work: _Search, before: int, tone: int) -> int:
    """Cost of one note after another in a line."""
    cost = work.cost
    if before < 0:
        return cost.first_entry
    old, new = work.tones[before], work.tones[tone]
    total = cost.leap_of(new.semitone - old.semitone) + cost.rest_of(new.onset - old.end, work.beat)
    total += cost.lengths_of(old.end - old.onset, new.end - new.onset)
    return total + (cost.layer_changes if old.layer != new.layer else 0)


def _order(work: _Search, last: _Last, voice: int, tone: int, first: int) -> int:
    """Cost of crossings with lines that sound, and of moving past where a resting one was."""
    cost, heights, now = work.cost, work.heights, work.tones[tone].onset
    height, total = heights[tone], 0
    player = work.voices[voice].player
    for other, held in enumerate(last):
        if other == voice or held < 0:
            continue
        depth = height - heights[held] if other < voice else heights[held] - height
        sounds = work.ends[held] > now
        if sounds and player >= 0 and work.voices[other].player == player:
            total += cost.second_note
        if depth > 0 and sounds:
            total += cost.crossing + cost.crossing_depth * min(depth, 12)
        elif depth > 0 and held < first:
            total += cost.passing_neighbour
    return total
