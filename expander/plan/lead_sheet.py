"""A first plan for a lead sheet: a tune with chord symbols over it, and nothing else.

Who reads chord symbols plays time by them, in slashes. The others hold the chords under the tune,
spread wide with the root at the bottom, until the arranger has better ideas (common practice, no
source).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from expander.model.instrument import Ensemble, symbol_readers
from expander.model.rules import Entry, StrandRule
from expander.model.score import Sketch

TIME = "time"
CHORDS = "chords"
RHYTHM_SECTION = "rhythm section"
FEW, MANY = 2, 5
"""How many voices held chords have at least, and at most."""

SPREAD_FROM = 3


def has_symbols(sketch: Sketch) -> bool:
    """True where chord symbols stand somewhere."""
    return any(bar.harmonies for part in sketch.parts for bar in part.bars)


def time_keepers(ensemble: Ensemble) -> list[int]:
    """Who plays by chord symbols: the rhythm section with its drums, or the like."""
    return sorted({*symbol_readers(ensemble), *ensemble.groups.get(RHYTHM_SECTION, ())})


def kept_time(names: tuple[str, ...], taken: Collection[str]) -> list[tuple[StrandRule, Entry]]:
    """Slashes for the players named; the strand has a name that is not `taken`."""
    strand = _free(TIME, taken)
    return [(StrandRule(strand, slashes=True), Entry(strand, names))] if names else []


def held_chords(
    players: Sequence[int], names: tuple[str, ...], taken: Collection[str]
) -> list[tuple[StrandRule, Entry]]:
    """The chords of the symbols for the players, who go by the names; see `kept_time`."""
    if len(players) < FEW:
        return []
    strand = _free(CHORDS, taken)
    voicing = "spread" if len(players) >= SPREAD_FROM else "close"
    voices = min(len(players), MANY)
    rule = StrandRule(strand, chords="symbols", voicing=voicing, voices=voices)
    return [(rule, Entry(strand, names))]


def _free(name: str, taken: Collection[str]) -> str:
    return f"{name} by symbols" if name in taken else name
