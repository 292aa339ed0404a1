"""Which key music is in, moment by moment, from the notes alone.

The pitch classes round a moment, longer and nearer notes counting more, are compared with what
is usual in each major and minor key.

Conventions
    A key is twice the pitch class of its tonic, one more for minor. Windows are in ticks. Whole
    numbers throughout, so that keys come out the same everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence

from expander.voicing.tones import Tone

_PROFILES = (
    (438, -295, 71, -295, 316, 194, -295, 316, -295, 71, -418, 194),
    (430, -274, 78, 313, -274, 196, -274, 313, 78, -391, -391, 196),
)
"""How usual each degree is, in major and minor: David Temperley, The Cognition of Basic Musical
Structures (2001), the key profiles (memory), shifted and scaled so that both weigh the same."""

_ONE = 1 << 20
_LONGEST = 4


def keys(
    times: Sequence[int], groups: Sequence[Sequence[Tone]], beat: int, window: int
) -> list[int]:
    """The key at each of `times`, at which the notes of `groups` begin."""
    weights = [_weights(group, beat) for group in groups]
    before = _faded(times, weights, window)
    after = _faded([-t for t in reversed(times)], weights[::-1], window)[::-1]
    return [
        _best([a + b for a, b in zip(*both, strict=True)])
        for both in zip(before, after, strict=True)
    ]


def _weights(group: Sequence[Tone], beat: int) -> list[int]:
    row = [0] * 12
    for tone in group:
        row[tone.semitone % 12] += min(tone.end - tone.onset, _LONGEST * beat) * _ONE // beat
    return row


def _faded(times: Sequence[int], weights: Sequence[Sequence[int]], window: int) -> list[list[int]]:
    """Running sums in which what was heard fades with time."""
    sums, last = [0] * 12, times[0] if times else 0
    found = []
    for time, row in zip(times, weights, strict=True):
        passed = window + time - last
        sums = [s * window // passed + w for s, w in zip(sums, row, strict=True)]
        last = time
        found.append(sums)
    return found


def _best(sums: list[int]) -> int:
    marks = [
        sum([a * b for a, b in zip(profile, sums[tonic:] + sums[:tonic], strict=True)])
        for tonic in range(12)
        for profile in _PROFILES
    ]
    return marks.index(max(marks))
