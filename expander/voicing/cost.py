"""What it costs to go on with a line: named costs, read from `weights.json`.

Conventions
    Costs are whole numbers (hundredths), so that sums are exact and the same everywhere.
    Intervals are in semitones, lengths in ticks, of which `beat` make a quarter note.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from msgspec import Struct

from expander.model.tables import table
from expander.voicing.tones import Voice


class Costs(Struct, frozen=True):
    """Named costs of writing lines.

    `leap` is by semitones moved (0 to 12), `leap_more` for each semitone beyond. A line that
    stops and comes in again pays `rest_begins`, and `rest_doubles` for every doubling of the
    rest beyond a quarter. `length_changes` is for each halving or doubling of note length.
    `crossing` and `crossing_depth` are for a pair of lines out of order while both sound,
    `passing_neighbour` for moving past where a neighbour last was. `out_of_range` and
    `out_of_comfort` are for each semitone. `second_note` is for a further note of one player.
    """

    leap: tuple[int, ...]
    leap_more: int
    rest_begins: int
    rest_doubles: int
    length_changes: int
    first_entry: int
    layer_changes: int
    crossing: int
    crossing_depth: int
    passing_neighbour: int
    out_of_range: int
    out_of_comfort: int
    second_note: int
    left_out: int

    def leap_of(self, semitones: int) -> int:
        """Cost of a melodic step or leap; the direction does not matter."""
        size = abs(semitones)
        last = len(self.leap) - 1
        return self.leap[size] if size <= last else self.leap[last] + self.leap_more * (size - last)

    def rest_of(self, ticks: int, beat: int) -> int:
        """Cost of a rest between two notes of a line (0 ticks: none)."""
        if ticks <= 0:
            return 0
        return self.rest_begins + self.rest_doubles * (ticks // beat).bit_length()

    def lengths_of(self, before: int, after: int) -> int:
        """Cost of a change of note length: one `length_changes` for every halving or doubling."""
        longer, shorter = max(before, after), max(1, min(before, after))
        return self.length_changes * (longer // shorter).bit_length() if longer != shorter else 0

    def fit(self, voice: Voice, semitone: int) -> int:
        """Cost of a pitch in a voice: semitones out of its range, and out of its comfort."""
        out, uneasy = voice.strain(semitone)
        return self.out_of_range * out + self.out_of_comfort * uneasy


def _figures(name: str) -> Mapping[str, Any]:
    row: Mapping[str, Any] = table(__file__, "weights.json")[name]
    return row


@cache
def costs() -> Costs:
    """The costs of dealing out, from `weights.json`."""
    row = _figures("dealing")
    return Costs(**{**row, "leap": tuple(row["leap"])})


def doubling() -> Mapping[str, int]:
    """The costs of doubling, by what is doubled; "further" and "distance" beside them."""
    return _figures("doubling")
