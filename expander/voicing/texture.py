"""What speaks for a note belonging to a voice, where nothing but the notes is known.

Each thing looked at is a table of figures with a plain name (`polyphony.json`); the figures were
found from scores whose parts are known (see tests/bench/voices.md). The higher the sum, the
better. What is looked at: leaps, rests and lengths; figures that go on (the same length, the same
turn, a note of two, three or four notes ago); the register of the voice now, over a longer time
and of its own last notes; crossings new and old, their depth, unisons; which voices are silent
and for how long; pairs of voices that move together.

Conventions
    Times in ticks, `beat` to a quarter note; pitches in sounding semitones; registers in quarters
    of a semitone. Voices count from 0 at the top; `kind` is 0 top, 1 upper inner, 2 lower inner,
    3 bottom. -1 stands for no note.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from expander.voicing.tones import Tone

Past = tuple[int, int, int, int, int, int]
"""A voice's last four notes (latest first), how many equal lengths in a row, its own register."""

SILENT: Past = (-1, -1, -1, -1, 0, 0)
"""A voice that has not sounded yet."""

Features = list[tuple[str, int]]

SIZES: Mapping[str, int] = {
    "near register": 4 * 19, "wide register": 4 * 19, "own register": 4 * 19, "first entry": 4,
    "leap": 4 * 16, "rest": 10 * 4, "length": 2 * 9, "step and length": 4 * 2 * 4,
    "equal lengths": 6 * 2 * 2, "to and fro": 16, "pace": 2 * 4 * 2, "after a leap": 5 * 3 * 5,
    "after a step": 3 * 3 * 7, "figure": 16, "crossing depth": 2 * 4 * 4 * 2 * 10,
    "crossing": 5 * 4 * 2 * 2, "unison": 2 * 4 * 4 * 5, "distance": 4 * 4 * 2 * 9,
    "in order": 5 * 4 * 2 * 2, "past a resting voice": 4 * 6 * 5, "together": 2, "parallels": 4,
    "same direction": 2, "apart": 4, "silence": 10 * 4 * 5, "not yet heard": 4,
}  # fmt: skip
"""The tables and how many figures each has."""

_RESTS = (3, 6, 11, 21, 41, 81, 161, 321)  # tenths of a quarter
_RATIOS = ((2, 1), (1, 2), (3, 1), (1, 3), (4, 1), (1, 4))
_ROWS = (0, 0, 1, 2, 3, 3, 4, 4, 5)
_REST_CLASS = (0, 1, 1, 1, 2, 2, 3, 3, 3, 3)


@cache
def _facts() -> Mapping[str, Any]:
    text = Path(__file__).with_name("polyphony.json").read_text(encoding="utf-8")
    facts: Mapping[str, Any] = json.loads(text)
    return facts


@cache
def tables() -> Mapping[str, tuple[int, ...]]:
    """The shipped figures."""
    return {key: tuple(row) for key, row in _facts()["tables"].items()}


def strains() -> tuple[int, int]:
    """What each semitone out of range, and each out of comfort, speaks against a voice."""
    return _facts()["out of range"], _facts()["out of comfort"]


def _interval(semitones: int) -> int:
    """0 to 12 as they are, then up to a tenth, up to a twelfth, more."""
    size = abs(semitones)
    if size <= 12:
        return size
    return 13 if size <= 15 else 14 if size <= 19 else 15


def _depth(semitones: int) -> int:
    return semitones if semitones <= 7 else 8 if semitones <= 12 else 9


def _offset(quarters: int) -> int:
    """Distance from a register in steps of a whole tone, -9 to 9, counted from 0."""
    return max(-9, min(9, (quarters + 4) // 8)) + 9


def _ratio(before: int, after: int) -> int:
    """0 for equal lengths, 1 to 6 for the plain ratios, 7 longer, 8 shorter."""
    if before == after:
        return 0
    for place, (more, less) in enumerate(_RATIOS):
        if abs(after * less - before * more) * 50 <= before * more:
            return place + 1
    return 7 if after > before else 8


class Texture:
    """The notes of a piece, and what can be said of one in a voice."""

    def __init__(self, tones: Sequence[Tone], count: int, beat: int) -> None:
        self.onsets = [t.onset for t in tones]
        # The last element serves index -1: what has not sounded has ended.
        self.ends = [*(t.end for t in tones), -(10**12)]
        self.pitches = [t.semitone for t in tones]
        self.lengths = [t.end - t.onset for t in tones]
        self.beat = beat
        self.count = count
        half = count // 2
        self.kinds = [
            0 if v == 0 else 3 if v == count - 1 else 1 if v < half else 2 for v in range(count)
        ]

    def rest(self, ticks: int) -> int:
        """0 for none, then 1 to 9 for longer and longer rests."""
        if ticks <= 0:
            return 0
        for place, tenths in enumerate(_RESTS):
            if 10 * ticks <= tenths * self.beat:
                return place + 1
        return 9

    def after(self, past: Past, tone: int) -> Past:
        """A voice's past when it has taken one more note."""
        last, second, third, _, row, register = past
        pitch, length = 4 * self.pitches[tone], self.lengths[tone]
        if last < 0:
            return (tone, -1, -1, -1, 1, pitch)
        goes_on = self.lengths[last] == length and self.ends[last] == self.onsets[tone]
        row = min(row + 1, 8) if goes_on else 1
        register += (pitch - register) * length // (length + 12 * self.beat // 5)
        return (tone, last, second, third, row, register)

    def alone(self, past: Past, voice: int, tone: int, near: int, wide: int) -> Features:
        """What speaks for a note in a voice by itself; `near` and `wide` are its registers."""
        kind, pitch = self.kinds[voice], self.pitches[tone]
        found = [
            ("near register", kind * 19 + _offset(4 * pitch - near)),
            ("wide register", kind * 19 + _offset(4 * pitch - wide)),
        ]
        last, second = past[0], past[1]
        if last < 0:
            return [*found, ("first entry", kind)]
        rest = self.rest(self.onsets[tone] - self.ends[last])
        gap, ratio = _REST_CLASS[rest], _ratio(self.lengths[last], self.lengths[tone])
        move = _interval(pitch - self.pitches[last])
        same = ratio == 0
        found += [
            ("own register", gap * 19 + _offset(4 * pitch - past[5])),
            ("leap", gap * 16 + move),
            ("rest", rest * 4 + kind),
            ("length", (gap > 0) * 9 + ratio),
            ("step and length", (min(move, 3) * 2 + same) * 4 + gap),
            ("equal lengths", (_ROWS[past[4]] * 2 + (gap == 0)) * 2 + same),
        ]
        return found if second < 0 else [*found, *self._figures(past, tone, gap, same)]

    def _figures(self, past: Past, tone: int, gap: int, same: bool) -> Features:
        """What speaks for the note by the two to four notes before it."""
        last, second, third, fourth = past[:4]
        pitches, lengths, onsets = self.pitches, self.lengths, self.onsets
        pitch, length = pitches[tone], lengths[tone]
        before, now = pitches[last] - pitches[second], pitch - pitches[last]
        back, alike = pitch == pitches[second], length == lengths[second]
        pace = onsets[tone] - onsets[last] == onsets[last] - onsets[second]
        turn = 0 if now == 0 else 1 if before * now < 0 else 2
        found = [
            ("to and fro", (back * 2 + alike) * 4 + (before == 0) * 2 + (gap > 0)),
            ("pace", (pace * 4 + gap) * 2 + same),
        ]
        size, move = abs(before), _interval(now)
        if size >= 3:
            found.append(("after a leap", (min(size // 3, 4) * 3 + turn) * 5 + min(move // 3, 4)))
        else:
            found.append(("after a step", (size * 3 + turn) * 7 + min(move // 2, 6)))
        if third >= 0:
            three = pitches[third] == pitch and lengths[third] == length
            four = fourth >= 0 and pitches[fourth] == pitch and lengths[fourth] == length
            swing = back and alike and before != 0
            even = same and lengths[second] == lengths[last]
            found.append(("figure", three * 8 + four * 4 + swing * 2 + even))
        return found

    def pair(
        self, now: int, voices: tuple[int, int], before: tuple[int, int], new: tuple[int, int]
    ) -> Features:
        """What speaks for two voices beside each other when one or both take a new note.

        `voices` from above; `before` are their last notes, `new` what they take (-1: nothing).
        """
        old_up, old_low = before
        upper = new[0] if new[0] >= 0 else old_up
        lower = new[1] if new[1] >= 0 else old_low
        if upper < 0 or lower < 0:
            return []
        both = new[0] >= 0 and new[1] >= 0
        order = self._order(old_up, old_low)
        up_sounds, low_sounds = self.ends[upper] > now, self.ends[lower] > now
        depth = self.pitches[lower] - self.pitches[upper]
        if up_sounds and low_sounds:
            gap = max(self._gap(now, old_up, new[0]), self._gap(now, old_low, new[1]))
            found = self._heights(voices, depth, both, order, gap)
        else:
            resting = old_low if up_sounds else old_up
            gap = _REST_CLASS[self.rest(now - self.ends[resting])]
            past = 0 if depth < 0 else 1 if depth == 0 else min(5, 2 + depth // 3)
            found = [("past a resting voice", (gap * 6 + past) * 5 + order)]
        return found + self._partners(now, before, upper, lower, both)

    def _gap(self, now: int, old: int, new: int) -> int:
        if old < 0 or new < 0:
            return 0
        return _REST_CLASS[self.rest(now - self.ends[old])]

    def _order(self, upper: int, lower: int) -> int:
        """How two voices stood: 0 in order, 1 crossed, 2 unknown, 3 level, 4 crossed in turn."""
        if upper < 0 or lower < 0:
            return 2
        if self.pitches[upper] > self.pitches[lower]:
            return 0
        if self.pitches[upper] == self.pitches[lower]:
            return 3
        until = min(self.ends[upper], self.ends[lower])
        return 1 if until > max(self.onsets[upper], self.onsets[lower]) else 4

    def _heights(
        self, voices: tuple[int, int], depth: int, both: bool, order: int, gap: int
    ) -> Features:
        """Two voices that sound: crossed, in unison, or in order and how far apart."""
        upper, lower = self.kinds[voices[0]], self.kinds[voices[1]]
        far = voices[1] - voices[0] > 1
        state = ((order * 4 + gap) * 2 + both) * 2 + far
        if depth > 0:
            where = ((both * 4 + upper) * 4 + lower) * 2 + far
            return [("crossing depth", where * 10 + _depth(depth)), ("crossing", state)]
        if depth == 0:
            return [("unison", ((both * 4 + upper) * 4 + lower) * 5 + order)]
        where = (upper * 4 + lower) * 2 + far
        return [("distance", where * 9 + min(-depth // 3, 8)), ("in order", state)]

    def _partners(
        self, now: int, before: tuple[int, int], upper: int, lower: int, both: bool
    ) -> Features:
        """Two voices whose last notes began and ended together, and whether they go on so."""
        one, two = before
        if one < 0 or two < 0 or self.onsets[one] != self.onsets[two]:
            return []
        if self.lengths[one] != self.lengths[two]:
            return []
        if not both:
            return [("apart", _REST_CLASS[self.rest(now - self.ends[one])])]
        found = [("together", int(self.lengths[upper] == self.lengths[lower]))]
        if self.ends[one] != now:
            return found
        pitches = self.pitches
        old, new = (pitches[one] - pitches[two]) % 12, (pitches[upper] - pitches[lower]) % 12
        if old == new and old in (0, 7) and pitches[one] != pitches[upper]:
            found.append(("parallels", (old == 7) * 2 + (pitches[one] == pitches[two])))
        first, second = pitches[upper] - pitches[one], pitches[lower] - pitches[two]
        same = (first > 0) - (first < 0) == (second > 0) - (second < 0)
        return [*found, ("same direction", int(same))]

    def silence(self, now: int, voice: int, past: Past, sounding: int) -> Features:
        """What speaks for a voice being silent while `sounding` others are not."""
        if past[0] < 0:
            return [("not yet heard", self.kinds[voice])]
        rest = self.rest(now - self.ends[past[0]])
        return [("silence", (rest * 4 + self.kinds[voice]) * 5 + min(sounding, 4))]
