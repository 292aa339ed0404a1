"""Where each voice is at home, moment by moment, seen from the notes alone.

Where as many notes sound as there are voices, the highest is taken for the first voice and so
on. A voice's register at a moment is the average of these pitches, nearer moments counting more,
looked at from both sides; far from any full chord it tends to the average of the whole.

Conventions
    Registers are in quarters of a semitone (middle C is 240), in whole numbers, so that they
    come out the same everywhere. Windows are in ticks.
"""

from __future__ import annotations

from collections.abc import Sequence

Row = tuple[int, ...]

_ONE = 1 << 20
_PRIOR = _ONE // 5


def registers(
    times: Sequence[int], chords: Sequence[Sequence[int]], count: int, window: int
) -> list[Row]:
    """The register of each of `count` voices at each moment.

    `times` are the moments, `chords` the semitones that sound at each, from the highest down.
    """
    full = [tuple(chord) if len(chord) == count else () for chord in chords]
    mean = _overall([row for row in full if row], chords, count)
    before = _faded(times, full, count, window)
    after = _faded([-t for t in reversed(times)], full[::-1], count, window)[::-1]
    found = []
    for (sums, weight), (sums_after, weight_after) in zip(before, after, strict=True):
        total = weight + weight_after + _PRIOR
        found.append(
            tuple(
                (4 * (a + b) + _PRIOR * m) // total
                for a, b, m in zip(sums, sums_after, mean, strict=True)
            )
        )
    return found


def _overall(full: list[Row], chords: Sequence[Sequence[int]], count: int) -> Row:
    """The average of the whole; without any full chord, the pitches shared out evenly."""
    if full:
        return tuple(4 * sum(column) // len(full) for column in zip(*full, strict=True))
    pitches = sorted((p for chord in chords for p in chord), reverse=True)
    size = len(pitches)
    if not size:
        return (0,) * count
    return tuple(4 * pitches[(2 * v + 1) * size // (2 * count)] for v in range(count))


def _faded(times: Sequence[int], full: list[Row], count: int, window: int) -> list[tuple[Row, int]]:
    """Running sums in which what was heard fades with time."""
    sums, weight, last = [0] * count, 0, times[0] if times else 0
    found = []
    for time, row in zip(times, full, strict=True):
        passed = window + time - last
        sums = [s * window // passed for s in sums]
        weight = weight * window // passed
        last = time
        if row:
            sums = [s + p * _ONE for s, p in zip(sums, row, strict=True)]
            weight += _ONE
        found.append((tuple(sums), weight))
    return found
