"""Too few players: which notes are given up, whole, the least needed first.

A note is judged at the moments at which there are too many, by what it is to the chord that
sounds then (`need.py`), on average over their length: a chord's top note that lies under a tune
for most of its time counts as an inner note.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from expander.voicing.moments import Moments
from expander.voicing.need import needs_of
from expander.voicing.tones import Tone

Roots = Sequence[tuple[int, int | None]]
"""Chord roots in order of time: (tick from the start of the piece, pitch class or None)."""


def given_up(
    tones: Sequence[Tone], moments: Moments, room: int, roots: Roots = ()
) -> tuple[int, ...]:
    """Indices of notes to leave out so that never more than `room` sound together.

    `moments` are those of the notes, with no places taken yet but those that are closed.
    """
    if all(moments.needed(m) <= room for m in range(len(moments.times))):
        return ()
    need = _needs(tones, moments, room, roots)
    order = sorted(range(len(tones)), key=lambda i: (-need[i], tones[i].onset, tones[i].layer, i))
    return tuple(sorted(i for i in order if not moments.take(i, room)))


def _needs(tones: Sequence[Tone], moments: Moments, room: int, roots: Roots) -> list[float]:
    """The average need of each note over the crowded moments (notes without one come first)."""
    total = [0] * len(tones)
    length = [0] * len(tones)
    ticks = [tick for tick, _ in roots]
    for index, sounding in enumerate(moments.sounding):
        if moments.needed(index) <= room:
            continue
        now = moments.times[index]
        until = moments.times[index + 1] if index + 1 < len(moments.times) else None
        place = bisect_right(ticks, now)
        root = roots[place - 1][1] if place else None
        for tone, need in zip(
            sounding, needs_of([tones[t].semitone for t in sounding], root), strict=True
        ):
            end = tones[tone].end if until is None else min(until, tones[tone].end)
            total[tone] += need * (end - now)
            length[tone] += end - now
    return [t / n if n else float("inf") for t, n in zip(total, length, strict=True)]
