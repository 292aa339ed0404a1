"""What speaks for a note belonging to a voice, where nothing but the notes is known.

Each thing looked at is a table of figures with a plain name (`figures.py`); the figures were
found from scores whose parts are known (see tests/bench/voices.md). The higher the sum, the
better. Looked at here: leaps, rests and lengths; figures that go on (the same length, the same
turn, a note of two, three or four notes ago); the register of the voice now, over a longer time
and of its own last notes; from which degree of the key to which a voice moves. What is looked at
between voices is in `beside.py`.

Conventions
    Times in ticks, `beat` to a quarter note; pitches in sounding semitones; registers in quarters
    of a semitone; keys as in `keys.py`. Voices count from 0 at the top; `kind` is 0 top, 1 upper
    inner, 2 lower inner, 3 bottom. -1 stands for no note.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from expander.voicing.figures import START
from expander.voicing.tones import Tone

# Where each table begins.
_NEAR_REGISTER = START["near register"]
_WIDE_REGISTER = START["wide register"]
_HEIGHT = START["height"]
_LENGTH_OF_A_KIND = START["length of a kind"]
_FIRST_ENTRY = START["first entry"]
_REST = START["rest"]
_DEGREES = START["degrees"]
_OWN_REGISTER = START["own register"]
_OWN_REGISTER_OF_A_KIND = START["own register of a kind"]
_LEAP = START["leap"]
_LENGTH = START["length"]
_STEP_AND_LENGTH = START["step and length"]
_EQUAL_LENGTHS = START["equal lengths"]
_MOVE_ON_THE_BEAT = START["move on the beat"]
_MOVE = START["move"]
_TO_AND_FRO = START["to and fro"]
_PACE = START["pace"]
_TWO_MOVES = START["two moves"]
_FIGURE = START["figure"]
_AFTER_A_LEAP = START["after a leap"]
_AFTER_A_STEP = START["after a step"]

Past = tuple[int, int, int, int, int, int]
"""A voice's last four notes (latest first), how many equal lengths in a row, its own register."""

SILENT: Past = (-1, -1, -1, -1, 0, 0)
"""A voice that has not sounded yet."""

Features = list[int]
"""Places in the row of figures."""

_RESTS = (3, 6, 11, 21, 41, 81, 161, 321)  # tenths of a quarter
_RATIOS = ((2, 1), (1, 2), (3, 1), (1, 3), (4, 1), (1, 4))
_LENGTHS = (1, 2, 4, 6, 8, 16, 24)  # eighths of a quarter
_ROWS = (0, 0, 1, 2, 3, 3, 4, 4, 5)
REST_CLASS = (0, 1, 1, 1, 2, 2, 3, 3, 3, 3)
_MOVE_CLASS = (0, 1, 1, 2, 2, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5)
_STEPS = (0, 0, 0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6, 6)
_MOVES = (0, 1, 1, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 11, 11, 12)


def _interval(semitones: int) -> int:
    """0 to 12 as they are, then up to a tenth, up to a twelfth, more."""
    size = abs(semitones)
    if size <= 12:
        return size
    return 13 if size <= 15 else 14 if size <= 19 else 15


def step_of(move: int) -> int:
    """Seven classes of moves: down by more than a third, a third, a second; level; the same up."""
    return _STEPS[max(-7, min(7, move)) + 7]


def _move(move: int) -> int:
    """Thirteen classes of moves, semitones apart up to a major third."""
    return _MOVES[max(-8, min(8, move)) + 8]


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
        self.off = [int(t.onset % beat != 0) for t in tones]
        self.beat = beat
        self.count = count
        self.couples = list(combinations(range(count), 2))
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

    def alone(self, past: Past, voice: int, tone: int, at: tuple[int, int, int]) -> Features:
        """What speaks for a note in a voice by itself.

        `at` has the registers of the voice, near and wide, and the key.
        """
        near, wide, key = at
        kind, pitch = self.kinds[voice], self.pitches[tone]
        found = [
            _NEAR_REGISTER + kind * 19 + _offset(4 * pitch - near),
            _WIDE_REGISTER + kind * 19 + _offset(4 * pitch - wide),
            _HEIGHT + kind * 14 + max(0, min(13, (pitch - 34) // 4)),
            _LENGTH_OF_A_KIND + kind * 8 + self._length(tone),
        ]
        last, second = past[0], past[1]
        if last < 0:
            found.append(_FIRST_ENTRY + kind)
            return found
        rest = self.rest(self.onsets[tone] - self.ends[last])
        gap = REST_CLASS[rest]
        found += self._joined(past, kind, tone, gap)
        found.append(_REST + rest * 4 + kind)
        if gap <= 1:
            found.append(_DEGREES + kind * 288 + self._degrees(last, tone, key))
        if second >= 0:
            found += self._figures(past, kind, tone, gap)
        return found

    def _length(self, tone: int) -> int:
        """0 to 7 for longer and longer notes."""
        length = 8 * self.lengths[tone]
        return sum(length > eighths * self.beat for eighths in _LENGTHS)

    def _degrees(self, last: int, tone: int, key: int) -> int:
        tonic, minor = divmod(key, 2)
        old, new = (self.pitches[last] - tonic) % 12, (self.pitches[tone] - tonic) % 12
        return (minor * 12 + old) * 12 + new

    def _joined(self, past: Past, kind: int, tone: int, gap: int) -> Features:
        """What speaks for the note by the one before it."""
        last, pitch = past[0], self.pitches[tone]
        ratio = _ratio(self.lengths[last], self.lengths[tone])
        move, same = pitch - self.pitches[last], ratio == 0
        size, away = _interval(move), _offset(4 * pitch - past[5])
        found = [
            _OWN_REGISTER + gap * 19 + away,
            _OWN_REGISTER_OF_A_KIND + (kind * 4 + gap) * 19 + away,
            _LEAP + gap * 16 + size,
            _LENGTH + (gap > 0) * 9 + ratio,
            _STEP_AND_LENGTH + (min(size, 3) * 2 + same) * 4 + gap,
            _EQUAL_LENGTHS + (_ROWS[past[4]] * 2 + (gap == 0)) * 2 + same,
            _MOVE_ON_THE_BEAT + (self.off[tone] * 6 + _MOVE_CLASS[size]) * 2 + self.off[last],
        ]
        if gap == 0:
            found.append(_MOVE + kind * 27 + max(-13, min(13, move)) + 13)
        return found

    def _figures(self, past: Past, kind: int, tone: int, gap: int) -> Features:
        """What speaks for the note by the two to four notes before it."""
        last, second, third, fourth = past[:4]
        pitches, lengths, onsets = self.pitches, self.lengths, self.onsets
        pitch, length = pitches[tone], lengths[tone]
        before, now = pitches[last] - pitches[second], pitch - pitches[last]
        back, alike, same = (
            pitch == pitches[second],
            length == lengths[second],
            length == lengths[last],
        )
        pace = onsets[tone] - onsets[last] == onsets[last] - onsets[second]
        found = [
            _TO_AND_FRO + (back * 2 + alike) * 4 + (before == 0) * 2 + (gap > 0),
            _PACE + (pace * 4 + gap) * 2 + same,
            self._turn(before, now),
        ]
        if gap == 0:
            found.append(_TWO_MOVES + (kind * 7 + step_of(before)) * 13 + _move(now))
        if third >= 0:
            three = pitches[third] == pitch and lengths[third] == length
            four = fourth >= 0 and pitches[fourth] == pitch and lengths[fourth] == length
            swing = back and alike and before != 0
            even = same and lengths[second] == lengths[last]
            found.append(_FIGURE + three * 8 + four * 4 + swing * 2 + even)
        return found

    def _turn(self, before: int, now: int) -> int:
        turn = 0 if now == 0 else 1 if before * now < 0 else 2
        size, move = abs(before), _interval(now)
        if size >= 3:
            return _AFTER_A_LEAP + (min(size // 3, 4) * 3 + turn) * 5 + min(move // 3, 4)
        return _AFTER_A_STEP + (size * 3 + turn) * 7 + min(move // 2, 6)
