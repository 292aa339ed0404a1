"""More players than notes: who doubles whom.

Common practice, no source: nobody sits out; players keep their order from high to low; the top
line is doubled first, then the bass, then inner notes, no note a third time before all have been
doubled; but comfort comes first, and a note that lies better for the spare player before both.
Octave doublings are not made here.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from expander.voicing.cost import costs, doubling
from expander.voicing.moments import Moments
from expander.voicing.tones import Tone, Voice


def copies(tones: Sequence[Tone], moments: Moments, desks: Sequence[Voice]) -> tuple[int, ...]:
    """How many players each note gets, at least one; `desks` from the highest down.

    Players are busy for as long as a note lasts: what is held is never cut for a doubling.
    `moments` are those of the notes, with no places taken yet.
    """
    wanted = _wanted(tones, desks, moments)
    given = [1] * len(tones)
    if max(wanted, default=1) == 1:
        return tuple(given)
    moments.take_all()
    order = sorted(range(len(tones)), key=lambda i: (tones[i].onset, tones[i].layer, i))
    for count in range(2, max(wanted, default=1) + 1):
        for tone in order:
            if wanted[tone] >= count and moments.take(tone, len(desks)):
                given[tone] = count
    return tuple(given)


def _wanted(tones: Sequence[Tone], desks: Sequence[Voice], moments: Moments) -> list[int]:
    """What the chord at which a note begins would give it."""
    wanted = [1] * len(tones)
    known: dict[tuple[int, ...], tuple[int, ...]] = {}
    for time, sounding in zip(moments.times, moments.sounding, strict=True):
        if len(sounding) >= len(desks):
            continue
        pitches = tuple([tones[t].semitone for t in sounding])
        if pitches not in known:
            known[pitches] = shares(pitches, desks)
        for tone, share in zip(sounding, known[pitches], strict=True):
            if tones[tone].onset == time:
                wanted[tone] = share
    return wanted


def shares(pitches: Sequence[int], desks: Sequence[Voice]) -> tuple[int, ...]:
    """How many of the desks, in order, play each note of one chord; every desk plays.

    The cheapest way over all: `best[d]` is the best way for the first d desks to have covered
    the notes so far, each by one desk or more.
    """
    table, price_of = [_lies(pitch, (*desks,)) for pitch in pitches], doubling()
    best: dict[int, tuple[int, tuple[int, ...]]] = {0: (0, ())}
    for note, row in enumerate(table):
        grown: dict[int, tuple[int, tuple[int, ...]]] = {}
        last = note == len(pitches) - 1
        name = "top" if note == 0 else "bass" if last else "inner"
        for done, (total, counts) in best.items():
            price = total
            for upto in range(done + 1, len(desks) - (len(pitches) - note - 1) + 1):
                again = upto - done - 1
                more = price_of[name] + price_of["further"] * (again - 1) if again else 0
                price += row[upto - 1] + more
                if upto not in grown or price < grown[upto][0]:
                    grown[upto] = (price, (*counts, again + 1))
        best = grown
    return best[len(desks)][1]


@lru_cache(maxsize=4096)
def _lies(pitch: int, desks: tuple[Voice, ...]) -> tuple[int, ...]:
    """How badly a note lies for each desk."""
    distance, cost = doubling()["distance"], costs()
    away = [abs(2 * pitch - middle(desk)) for desk in desks]
    mean = sum(away) // len(away)
    return tuple(
        [distance * (a - mean) // 2 + cost.fit(d, pitch) for a, d in zip(away, desks, strict=True)]
    )


def middle(desk: Voice) -> int:
    """Twice the middle of what lies comfortably (middle C without any limit)."""
    low = desk.low if desk.comfortable_low is None else desk.comfortable_low
    high = desk.high if desk.comfortable_high is None else desk.comfortable_high
    if low is None and high is None:
        return 120
    if low is None or high is None:
        return 2 * (low if low is not None else high or 60)
    return low + high
