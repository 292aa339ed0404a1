"""How low an interval may lie before it turns muddy.

Keys are MIDI key numbers (middle C = 60), sounding. The figures and their sources are in
`low_intervals.toml`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from msgspec import Struct

from expander.model.pitch import Sounding
from expander.model.tables import table


class Limits(Struct, frozen=True):
    """Lowest advised key of the lower note of an interval, by its size in semitones.

    `lowest` maps semitones to a key; intervals it lacks are free.
    """

    lowest: tuple[tuple[int, int], ...] = ()

    def too_low(self, keys: Sequence[int], root: int | None = None) -> tuple[tuple[int, int], ...]:
        """The pairs (lower key, semitones) below their limit, lowest first.

        `keys` sound together, in any order; `root` is the pitch class of the chord's root: where
        the lowest note is another, the root just below it is imagined and tested with it.
        """
        table = dict(self.lowest)
        found = _pairs(sorted(set(keys)), table)
        if root is None or not keys:
            return found
        low = min(keys)
        gap = (low - root) % 12
        assumed = ((low - gap, gap),) if low - gap < table.get(gap, 0) else ()
        return assumed + found


def _pairs(keys: Sequence[int], table: Mapping[int, int]) -> tuple[tuple[int, int], ...]:
    return tuple(
        (low, high - low)
        for i, low in enumerate(keys)
        for high in keys[i + 1 :]
        if low < table.get(high - low, 0)
    )


FREE = Limits()
"""No limits at all."""


@lru_cache(maxsize=1)
def low_interval_limits() -> Limits:
    """The shipped limits: the safer figure of the published charts."""
    rows: Mapping[str, Any] = table(__file__, "low_intervals.toml")["lowest"]
    return Limits(tuple((int(k), int(Sounding.named(v["at"]).semitone)) for k, v in rows.items()))
