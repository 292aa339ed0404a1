"""Notes to be given out and the voices they are given to, reduced to what decides."""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct

Stops = Callable[[tuple[int, ...]], bool]
"""Whether one hand can stop such heights (semitones, the lowest first) at once."""


class Tone(Struct, frozen=True):
    """A note to give out, ties merged: `onset` and `end` in ticks, `layer` from 0 at the top."""

    onset: int
    end: int
    semitone: int
    layer: int = 0


class Voice(Struct, frozen=True):
    """What a voice can sound, in semitones; None: no limit.

    Voices with the same `player` (not negative) are one player's: they start and end together,
    and are what the player's hand `stops`, where that is known.
    """

    low: int | None = None
    high: int | None = None
    comfortable_low: int | None = None
    comfortable_high: int | None = None
    player: int = -1
    stops: Stops | None = None

    def strain(self, semitone: int) -> tuple[int, int]:
        """How many semitones a pitch lies out of range, and out of comfort."""
        return (
            _outside(semitone, self.low, self.high),
            _outside(semitone, self.comfortable_low, self.comfortable_high),
        )


def _outside(semitone: int, low: int | None, high: int | None) -> int:
    if low is not None and semitone < low:
        return low - semitone
    return semitone - high if high is not None and semitone > high else 0
