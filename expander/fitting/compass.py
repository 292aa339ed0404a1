"""An instrument's ranges, and what it costs to play a phrase in them.

Costs are common practice, no source: they order the possibilities and mean nothing else. Being out
of range outweighs all others together. How strong an instrument is in each register comes from
outside, as a function.
"""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct

from expander.fitting.phrases import Phrase
from expander.model.dynamics import LEVELS
from expander.model.instrument import Instrument
from expander.model.pitch import SEMITONES, Written

OUT_OF_RANGE = 1e9
UNCOMFORTABLE = 0.5  # per semitone outside the comfortable register and quarter note
STRAINED = 100.0  # per note that is moved above it: more than folding it, but for a slur
WEAK = 2.0  # per note that is moved below it
WRONG_STRENGTH = 1.0
"""A quarter note at no strength under a loud dynamic, or at double strength under a soft one."""

LOUD = frozenset(LEVELS[LEVELS.index("f") : LEVELS.index("n")])
SOFT = frozenset(LEVELS[: LEVELS.index("mp")])

Strength = Callable[[Instrument, Written], float]
"""How strong an instrument is at a written pitch, 1 being its usual strength."""


class Compass(Struct, frozen=True):
    """An instrument's ranges as sounding semitones.

    `unsuited` has what each semitone from `low` up costs for a quarter note, by its loudness there
    under the dynamic asked for; empty where that does not matter.
    """

    low: float
    high: float
    soft_low: float
    soft_high: float
    unsuited: tuple[float, ...] = ()

    def cost(self, phrase: Phrase, shift: int, grid: int) -> float:
        """What it costs to play a phrase `shift` octaves up, apart from the move itself."""
        move = 12 * shift
        total = self._loudness(phrase, move, grid) if self.unsuited else 0.0
        if phrase.low + move >= self.soft_low and phrase.high + move <= self.soft_high:
            return total  # nothing outside the comfortable register, so nothing out of range
        low, high, soft_low, soft_high = self.low, self.high, self.soft_low, self.soft_high
        for height, weight in zip(phrase.heights, phrase.weights, strict=True):
            moved = height + move
            inside = low <= moved <= high
            total += 0.0 if inside else OUT_OF_RANGE
            strained, weak = (0.0, 0.0) if inside and not shift else (STRAINED, WEAK)
            if moved < soft_low:
                total += weak + UNCOMFORTABLE * (soft_low - moved) * weight / grid
            elif moved > soft_high:
                total += strained + UNCOMFORTABLE * (moved - soft_high) * weight / grid
        return total

    def _loudness(self, phrase: Phrase, move: int, grid: int) -> float:
        """What the strength in this register costs against the dynamic; out of range nothing."""
        places = [int(height + move - self.low) for height in phrase.heights]
        return sum(
            self.unsuited[place] * weight / grid
            for place, weight in zip(places, phrase.weights, strict=True)
            if 0 <= place < len(self.unsuited)
        )

    def holds(self, phrase: Phrase, shift: int) -> bool:
        """True where the whole phrase lies inside the range."""
        return phrase.low + 12 * shift >= self.low and phrase.high + 12 * shift <= self.high


def compass(
    instrument: Instrument, dynamic: str = "", strength: Strength | None = None
) -> Compass | None:
    """The professional and comfortable ranges of an instrument, None where it has no pitch.

    With `strength`, what its registers cost under `dynamic` too.
    """
    if instrument.professional is None or instrument.comfortable is None:
        return None
    low, high = instrument.sounding(instrument.professional)
    soft_low, soft_high = instrument.sounding(instrument.comfortable)
    return Compass(
        float(low.semitone),
        float(high.semitone),
        float(soft_low.semitone),
        float(soft_high.semitone),
        _unsuited(instrument, dynamic, strength) if strength else (),
    )


def _unsuited(instrument: Instrument, dynamic: str, strength: Strength) -> tuple[float, ...]:
    """A register weak under a loud dynamic or strong under a soft one, semitone by semitone."""
    way = 1 if dynamic in LOUD else -1 if dynamic in SOFT else 0
    if not way or instrument.professional is None:
        return ()
    low, high = instrument.professional.low, instrument.professional.high
    keys = range(int(low.semitone), int(high.semitone) + 1)
    lacks = [way * (1 - strength(instrument, _written(key))) for key in keys]
    return tuple(WRONG_STRENGTH * max(0.0, lack) for lack in lacks) if any(lacks) else ()


def _written(key: int) -> Written:
    octave, place = divmod(key, 12)
    step = max(i for i, s in enumerate(SEMITONES) if s <= place)
    return Written(step, place - SEMITONES[step], octave - 1)
