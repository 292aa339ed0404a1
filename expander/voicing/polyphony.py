"""Lines out of notes alone: which of several voices each note belongs to, without any layers.

Method
    Moment by moment, the notes that begin are given to voices that are free, in every way that
    may make sense. A *reading* is one way to have given out all notes so far. Of readings with
    the same last note in every voice only the best is kept, of all readings the `WIDTH` best:
    the time is linear in the number of notes. What speaks for a reading is in `texture.py` and
    `beside.py`. The registers of the voices (`registers.py`) and the keys (`keys.py`) are found
    from the whole piece before.

Conventions
    Voices count from 0 at the top; pitches are sounding semitones; times are ticks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import groupby

from msgspec import Struct, field

from expander.voicing.beside import pair, resting, silence
from expander.voicing.figures import Tables, flat, set_for, shipped, strains
from expander.voicing.keys import keys
from expander.voicing.registers import Row, registers
from expander.voicing.texture import SILENT, Features, Past, Texture
from expander.voicing.tones import Tone, Voice

WIDTH = 12
"""Most readings kept at any moment."""

BEHIND = 20000
"""Readings that are worth this much less than the best are given up."""

WAYS = 24
"""Most ways to give out the notes of one moment in one reading."""

HOPELESS = 20000
"""Ways on that are this much worse than the best, voices seen each by itself, are not looked at."""

NEAR, WIDE = 12, 80
"""The windows of the registers, in quarters."""

TONALITY = 8
"""The window of the keys, in quarters."""

Pasts = tuple[Past, ...]
Way = tuple[int, ...]


class Reading(Struct, frozen=True):
    """A way to have given out all notes so far; `way` names the voices of the last ones."""

    worth: float
    pasts: Pasts
    way: Way = ()
    before: Reading | None = None


class Moment(Struct):
    """Notes that begin together, from the top down; where the voices are at home; the key."""

    now: int
    tones: Sequence[int]
    near: Row
    wide: Row
    key: int


class Piece(Struct):
    """The notes in order with all that is known before the search; `work` counts readings.

    `figures` are in a row (`figures.py`); `against` is what speaks against a voice (first) taking
    a note (second) beside them.
    """

    texture: Texture
    moments: list[Moment]
    figures: Sequence[int]
    against: Callable[[int, int], int] | None = None
    work: int = 0


def untangle(
    tones: Sequence[Tone],
    voices: int | Sequence[Voice],
    *,
    beat: int,
    figures: Mapping[str, Tables] | None = None,
) -> tuple[int, ...]:
    """The voice of every tone, in the order given.

    `voices` is how many there are, or what each can sound, from the top down; layers of the tones
    are not looked at. `beat` is the ticks in a quarter note. `figures` replace the shipped ones:
    tables by the name of their set (`figures.set_for`).
    Raises ValueError where more notes sound together than there are voices.
    """
    count = voices if isinstance(voices, int) else len(voices)
    order = sorted(range(len(tones)), key=lambda i: _place(tones[i]))
    row = flat(figures[set_for(count)]) if figures else shipped(set_for(count))
    piece = prepare([tones[i] for i in order], count, beat, row)
    if not isinstance(voices, int):
        piece.against = _strained(voices, piece.texture.pitches)
    placed = [0] * len(tones)
    for moment, way in zip(piece.moments, ways_of(best(piece)), strict=True):
        for tone, voice in zip(moment.tones, way, strict=True):
            placed[order[tone]] = voice
    return tuple(placed)


def _place(tone: Tone) -> tuple[int, int, int, int]:
    return (tone.onset, -tone.semitone, tone.end, tone.layer)


def _strained(voices: Sequence[Voice], pitches: Sequence[int]) -> Callable[[int, int], int]:
    range_cost, comfort_cost = strains()

    def cost(voice: int, tone: int) -> int:
        out, uneasy = voices[voice].strain(pitches[tone])
        return range_cost * out + comfort_cost * uneasy

    return cost


def prepare(tones: Sequence[Tone], count: int, beat: int, figures: Sequence[int]) -> Piece:
    """Moments, registers and keys of notes in order. Raises ValueError for too many at once."""
    texture = Texture(tones, count, beat)
    groups = [
        (now, list(group))
        for now, group in groupby(range(len(tones)), key=lambda j: tones[j].onset)
    ]
    times, chords = [now for now, _ in groups], _chords(texture, groups)
    if any(len(chord) > count for chord in chords):
        raise ValueError(f"more than {count} notes sound together")
    near = registers(times, chords, count, NEAR * beat)
    wide = registers(times, chords, count, WIDE * beat)
    tonal = keys(times, [[tones[j] for j in group] for _, group in groups], beat, TONALITY * beat)
    moments = [
        Moment(now, group, a, b, key)
        for (now, group), a, b, key in zip(groups, near, wide, tonal, strict=True)
    ]
    return Piece(texture, moments, figures)


def _chords(texture: Texture, groups: list[tuple[int, list[int]]]) -> list[list[int]]:
    """What sounds at each moment, from the highest down."""
    sounding: list[int] = []
    found = []
    for now, group in groups:
        sounding = [j for j in sounding if texture.ends[j] > now] + group
        found.append(sorted((texture.pitches[j] for j in sounding), reverse=True))
    return found


def best(piece: Piece, start: Pasts | None = None) -> Reading:
    """The best reading of a piece, its voices beginning from `start`."""
    readings = [Reading(0, start or (SILENT,) * piece.texture.count)]
    for moment in piece.moments:
        readings = _next(piece, moment, readings)
    return readings[0]


def ways_of(reading: Reading) -> list[Way]:
    """The ways of all moments, in order."""
    found = []
    while reading.before is not None:
        found.append(reading.way)
        reading = reading.before
    return found[::-1]


class _Known(Struct):
    """Figures already added up at this moment, for readings that share a voice's past."""

    alone: dict[tuple[int, Past, int], int] = field(default_factory=dict)
    pair: dict[tuple[int, int, int, int, int, int], int] = field(default_factory=dict)
    silence: dict[tuple[int, int, int], int] = field(default_factory=dict)


def _next(piece: Piece, moment: Moment, readings: list[Reading]) -> list[Reading]:
    """The best readings once the notes of a moment have been given out."""
    known = _Known()
    found: dict[tuple[int, ...], tuple[float, Way, Reading]] = {}
    for alone, way, reading, free in _hopeful(piece, moment, readings, known):
        lasts = [past[0] for past in reading.pasts]
        for tone, voice in zip(moment.tones, way, strict=True):
            lasts[voice] = tone
        total = alone + _beside(piece, moment, reading, free, way, known)
        key = tuple(lasts)
        if key not in found or total > found[key][0]:
            found[key] = (total, way, reading)
    piece.work += len(found)
    ranked = sorted(found.values(), key=lambda entry: -entry[0])[:WIDTH]
    limit = ranked[0][0] - BEHIND
    return [
        Reading(worth, _grown(piece.texture, old.pasts, moment.tones, way), way, old)
        for worth, way, old in ranked
        if worth >= limit
    ]


_Start = tuple[float, Way, Reading, list[int]]
"""A way on from a reading: its worth before the voices are seen together, and what was free."""


def _hopeful(
    piece: Piece, moment: Moment, readings: Sequence[Reading], known: _Known
) -> list[_Start]:
    """The ways on from all readings that may still come out best."""
    ends = piece.texture.ends
    starts: list[_Start] = []
    for reading in readings:
        free = [v for v, past in enumerate(reading.pasts) if ends[past[0]] <= moment.now]
        ways = _ways(piece, moment, reading, free, known)
        starts += [(reading.worth + worth, way, reading, free) for worth, way in ways]
    limit = max([start[0] for start in starts]) - HOPELESS
    return [start for start in starts if start[0] >= limit]


def _grown(texture: Texture, pasts: Pasts, tones: Sequence[int], way: Way) -> Pasts:
    grown = list(pasts)
    for tone, voice in zip(tones, way, strict=True):
        grown[voice] = texture.after(pasts[voice], tone)
    return tuple(grown)


def _ways(
    piece: Piece, moment: Moment, reading: Reading, free: list[int], known: _Known
) -> list[tuple[int, Way]]:
    """Ways to give the notes to free voices, with what speaks for each note by itself."""
    ways: list[tuple[int, Way]] = [(0, ())]
    spare = len(free) - len(moment.tones)
    swap = len(free) if piece.texture.count <= 4 else 1
    for rank, tone in enumerate(moment.tones):
        near = free[max(0, rank - swap) : rank + spare + swap + 1]
        worths = [(v, _alone(piece, moment, reading.pasts[v], v, tone, known)) for v in near]
        ways = [
            (worth + more, (*way, v)) for worth, way in ways for v, more in worths if v not in way
        ]
        if len(ways) > WAYS:
            ways = sorted(ways, key=lambda entry: -entry[0])[:WAYS]
    return ways


def _alone(piece: Piece, moment: Moment, past: Past, voice: int, tone: int, known: _Known) -> int:
    key = (voice, past, tone)
    worth = known.alone.get(key)
    if worth is None:
        at = moment.near[voice], moment.wide[voice], moment.key
        worth = _sum(piece.figures, piece.texture.alone(past, voice, tone, at))
        if piece.against:
            worth -= piece.against(voice, tone)
        known.alone[key] = worth
    return worth


def _sum(figures: Sequence[int], features: Features) -> int:
    return sum([figures[place] for place in features])


def _beside(
    piece: Piece, moment: Moment, reading: Reading, free: list[int], way: Way, known: _Known
) -> int:
    """What speaks for the voices beside each other, and for those that stay silent."""
    new = [-1] * piece.texture.count
    for tone, voice in zip(moment.tones, way, strict=True):
        new[voice] = tone
    pasts, total = reading.pasts, 0
    lasts = [past[0] for past in pasts]
    for upper, lower in piece.texture.couples:
        if new[upper] < 0 and new[lower] < 0:
            continue
        key = (upper, lower, lasts[upper], lasts[lower], new[upper], new[lower])
        worth = known.pair.get(key)
        if worth is None:
            worth = known.pair[key] = _pair(piece, moment.now, key)
        total += worth
    total += piece.figures[resting(piece.texture, moment.now, pasts, new)]
    sounding = len(new) - len(free) + len(way)
    for voice in free:
        if new[voice] < 0:
            total += _silence(piece, moment.now, voice, pasts[voice], sounding, known)
    return total


def _pair(piece: Piece, now: int, key: tuple[int, int, int, int, int, int]) -> int:
    upper, lower, old_up, old_low, new_up, new_low = key
    features = pair(piece.texture, now, (upper, lower), (old_up, old_low), (new_up, new_low))
    return _sum(piece.figures, features)


def _silence(piece: Piece, now: int, voice: int, past: Past, sounding: int, known: _Known) -> int:
    key = (voice, past[0], sounding)
    worth = known.silence.get(key)
    if worth is None:
        features = silence(piece.texture, now, voice, past, sounding)
        worth = known.silence[key] = _sum(piece.figures, features)
    return worth
