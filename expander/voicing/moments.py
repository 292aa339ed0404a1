"""What sounds together: the moments at which notes begin, and room for more in between.

Conventions
    A moment is a tick at which some note begins; a note lasts over a run of moments. Notes are
    named by their place in the list given.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from expander.voicing.tones import Tone


class Moments:
    """The moments of some notes: when they are, which notes sound, how many places are taken."""

    def __init__(self, tones: Sequence[Tone]) -> None:
        self.times = sorted({t.onset for t in tones})
        places = {time: place for place, time in enumerate(self.times)}
        self.spans = [range(places[t.onset], self._index(t.end)) for t in tones]
        self.sounding: list[list[int]] = [[] for _ in self.times]
        order = sorted(range(len(tones)), key=lambda i: (tones[i].layer, -tones[i].semitone, i))
        for tone in order:
            for moment in self.spans[tone]:
                self.sounding[moment].append(tone)
        self.taken = [0] * len(self.times)
        self.closed = [0] * len(self.times)

    def _index(self, time: int) -> int:
        """The first moment at or after a tick."""
        return bisect_left(self.times, time)

    def take_all(self) -> None:
        """Take a place for every note."""
        self.taken = [len(sounding) for sounding in self.sounding]

    def close(self, moment: int, places: int) -> None:
        """Take places away that nobody can use at a moment."""
        self.taken[moment] += places
        self.closed[moment] += places

    def needed(self, moment: int) -> int:
        """How many places there must be for all notes of a moment to find one."""
        return len(self.sounding[moment]) + self.closed[moment]

    @property
    def most(self) -> int:
        """The most notes that sound together."""
        return max(map(len, self.sounding), default=0)

    def take(self, tone: int, room: int) -> bool:
        """Take a place for a note for as long as it lasts, if fewer than `room` are taken."""
        span = self.spans[tone]
        if any([self.taken[m] >= room for m in span]):
            return False
        for moment in span:
            self.taken[moment] += 1
        return True


def most_at_once(tones: Sequence[Tone]) -> int:
    """The most notes that sound together; each lasts some time."""
    ends = sorted([tone.end for tone in tones])
    most = over = 0
    for number, onset in enumerate(sorted([tone.onset for tone in tones]), start=1):
        while ends[over] <= onset:
            over += 1
        most = max(most, number - over)
    return most
