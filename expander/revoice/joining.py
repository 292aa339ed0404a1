"""Players who have no line of their own in a bar double one, where the music is loud enough.

Which line: by register and kind of player, tune and bass before the inner parts, those with few
players before those with many. Prices are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from expander.revoice.casting import Cast, Casting, Given
from expander.revoice.chairs import FORBIDDEN, Chair, joins_at
from expander.revoice.roles import BASS, COUNTER, DRUMS, INNER, TUNE, Voice

RESTS = 46.0
"""What it costs a player to rest; a line that suits worse is not doubled."""

LOADED = 4.0
SHARES = {TUNE: 3.0, BASS: 2.5, COUNTER: 1.5, INNER: 1.2}
"""How many players each role bears beside each other."""

AWAY = 1.0
"""More per semitone between the line and the middle of the player's register."""

BELOW = 14.0
"""More for doubling the tune an octave below."""

OCTAVE = 9
"""Semitones above a player's middle from which they would play a line an octave lower."""

GOES_ON = -14.0
CUT = 16.0
KEYS = 3
"""Lines that a keyboard without lines of its own takes: the chords under its hands."""


def joined(casting: Casting, cast: Cast, voices: Sequence[Sequence[Voice]]) -> Cast:
    """The distribution with those who double."""
    homes = casting.homes
    free = [c for c in casting.chairs if c.number in homes or _may_double(c)]
    free.sort(key=lambda c: (joins_at(c.instrument), c.number))
    before: dict[int, Given] = {}
    for bar, here in enumerate(voices):
        loads = _loads(cast, bar, casting.chairs)
        now: dict[int, Given] = {}
        for chair in free:
            if (chair.number, bar) in cast.given:
                continue
            taken = {g.voice.group.lead for n, g in now.items() if _same(casting, n, chair)}
            if chair.number in homes:
                given = _own_line(casting, homes[chair.number], here, chair.desk)
            else:
                given = _choice(casting, chair, here, before.get(chair.number), loads, taken)
            if given is None or given.voice.group.lead not in loads:
                continue
            now[chair.number] = cast.given[chair.number, bar] = given
            loads[given.voice.group.lead] = loads.get(given.voice.group.lead, 0) + 1
        before = now
    _without_moments(casting, cast, len(voices))
    return cast


def _without_moments(casting: Casting, cast: Cast, bars: int) -> None:
    """Take away doublings of a single bar in the middle of a line."""
    for chair in casting.chairs:
        for bar in range(bars):
            given = cast.given.get((chair.number, bar))
            if given is None or not given.doubling or casting.at_home(given.line, chair):
                continue
            near = [b for b in (bar - 1, bar + 1) if b in casting.lines[given.line].cells]
            around = [cast.given.get((chair.number, b)) for b in near]
            if near and not any(g and _goes_with(g, given) for g in around):
                del cast.given[chair.number, bar]


def _goes_with(one: Given, other: Given) -> bool:
    return one.line in other.voice.group.everybody or other.line in one.voice.group.everybody


def _own_line(casting: Casting, part: int, here: Sequence[Voice], desk: int) -> Given | None:
    """What the player had in the original, where it is played at all; a further desk has none."""
    for voice in here:
        for number in voice.group.everybody:
            line = casting.lines[number]
            if line.owner.part == part and line.depth == desk and not line.unpitched:
                return Given(number, voice, doubling=True)
    return None


def _may_double(chair: Chair) -> bool:
    if not chair.pitched or chair.sings or chair.instrument.family == "pitched percussion":
        return False
    return chair.desk == 0 or (chair.instrument.family == "keyboard" and chair.desk < KEYS)


def _same(casting: Casting, number: int, chair: Chair) -> bool:
    return casting.chairs[number].player == chair.player


def _loads(cast: Cast, bar: int, chairs: Sequence[Chair]) -> dict[int, int]:
    """How many players have each line's group in a bar."""
    loads: dict[int, int] = {}
    for chair in chairs:
        given = cast.given.get((chair.number, bar))
        if given:
            lead = given.voice.group.lead
            loads[lead] = loads.get(lead, 0) + 1
    return loads


def _choice(
    casting: Casting,
    chair: Chair,
    here: Sequence[Voice],
    held: Given | None,
    loads: Mapping[int, int],
    taken: set[int],
) -> Given | None:
    best: tuple[float, int, Voice] | None = None
    for voice in here:
        lead = voice.group.lead
        if voice.role == DRUMS or lead not in loads or lead in taken:
            continue
        if not _loud_enough(casting, voice, chair):
            continue
        price, line = _price(casting, chair, voice, held)
        price += LOADED * loads[lead] / SHARES.get(voice.role, 1.0)
        if best is None or (price, line) < best[:2]:
            best = (price, line, voice)
    if best is None or best[0] >= RESTS:
        return None
    return Given(best[1], best[2], doubling=True)


def _loud_enough(casting: Casting, voice: Voice, chair: Chair) -> bool:
    levels = casting.score.levels
    owners = [casting.lines[n].owner.part for n in voice.group.members]
    return max(levels[part][voice.group.bar] for part in owners) >= joins_at(chair.instrument)


def _price(casting: Casting, chair: Chair, voice: Voice, held: Given | None) -> tuple[float, int]:
    bar = voice.group.bar
    options = []
    for number in voice.group.members:
        suit = casting.suit(number, bar, chair)
        reach = casting.reach(number, bar)
        if suit >= FORBIDDEN or reach is None:
            continue
        distance = AWAY * abs(reach.mean - chair.middle)
        below = BELOW * (voice.role == TUNE and reach.mean - chair.middle > OCTAVE)
        options.append((suit + distance + below + _going_on(held, voice, number), number))
    return min(options, default=(FORBIDDEN, -1))


def _going_on(held: Given | None, voice: Voice, number: int) -> float:
    if held is None:
        return 0.0
    if held.line == number:
        return GOES_ON
    return 0.0 if held.line in voice.group.everybody else CUT
