"""How each bar of a part is read: instrument in hand, transposition and key; and what is new."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from expander.model.instrument import Instrument
from expander.model.pitch import Transposition
from expander.model.score import Change, Key
from expander.notate.engrave import Engraver, Manner
from expander.notate.spelling import Spelling, for_part, in_score, spelling, written_key
from expander.notate.system import System, time_changes


class Reading(Struct, frozen=True):
    """How a bar is read: instrument, transposition and spelling; and how it is engraved so."""

    instrument: Instrument
    transposition: Transposition
    spelling: Spelling
    manner: Manner

    def shown(self, key: Key) -> Key:
        """A concert key as it stands on the staff."""
        keyless = self.spelling.keyless
        return written_key(key, spelling(self.transposition, key.fifths, keyless=keyless))


class Reader(Struct, frozen=True):
    """Tells how parts are read, in a score at concert pitch or not.

    `keyless` are ids of instruments whose parts carry no key signature.
    """

    system: System
    engraver: Engraver
    concert: bool
    keyless: frozenset[str]

    def readings(
        self,
        in_hand: Mapping[int, Instrument],
        sounds: Mapping[str, tuple[tuple[str, str], ...]],
    ) -> list[Reading]:
        """How each bar is read; bars that are read alike have the same object.

        `in_hand` has the instrument from each bar at which it changes, the first among them;
        `sounds` what the notes of an instrument name as their playback sound.
        """
        readings: list[Reading] = []
        instrument = in_hand[0]
        known: dict[tuple[str, int, int], Reading] = {}
        keys, metres = self.system.key_of_bar, self.system.metres
        for bar, (key, metre) in enumerate(zip(keys, metres, strict=True)):
            instrument = in_hand.get(bar, instrument)
            name = (instrument.id, key.fifths, metre)
            if name not in known:
                known[name] = self._reading(instrument, key, bar, sounds.get(instrument.id, ()))
            readings.append(known[name])
        return readings

    def _reading(
        self, instrument: Instrument, key: Key, bar: int, sounds: tuple[tuple[str, str], ...]
    ) -> Reading:
        transposition = in_score(instrument, concert=self.concert)
        keyless = instrument.id in self.keyless or not instrument.pitched
        spelled = spelling(transposition, key.fifths, keyless=keyless)
        manner = self.engraver.manner(self.system.bars[bar], spelled, sounds)
        return Reading(instrument, transposition, spelled, manner)

    def keys_inside(self, bar: int, reading: Reading) -> tuple[tuple[int, int], ...]:
        """Key changes after the beginning of a bar, as (tick, fifths on the staff)."""
        if bar not in self.system.keys_in:
            return ()
        keys = self.system.keys_in[bar]
        return tuple((each.at, reading.shown(each.key).fifths) for each in keys if each.at)

    def changes(
        self, readings: Sequence[Reading], clefs: Mapping[int, Sequence[Change]], staves: int
    ) -> dict[int, tuple[Change, ...]]:
        """Key, time, clef and transposition by bar where they are new, in MusicXML's order."""
        anew = [bar for bar, (a, b) in enumerate(pairwise([None, *readings])) if a is not b]
        bars = sorted({*anew, *clefs, *self.system.keys_in})
        return {bar: (*self._changes(bar, readings, clefs.get(bar, ()), staves),) for bar in bars}

    def _changes(
        self, bar: int, readings: Sequence[Reading], clefs: Sequence[Change], staves: int
    ) -> Iterator[Change]:
        reading = readings[bar]
        before = readings[bar - 1] if bar else None
        other_key = before is None or reading.spelling.shown != before.spelling.shown
        keys = self.system.keys_in.get(bar, ())
        if other_key or any(c.at == 0 for c in keys):
            yield Change(0, reading.shown(self.system.key_of_bar[bar]))
        yield from time_changes(self.system.bars, bar)
        yield from clefs if staves > 1 else [replace(change, staff=0) for change in clefs]
        yield from self._transposed(reading, before)
        yield from [Change(c.at, reading.shown(c.key)) for c in keys if c.at]

    def _transposed(self, reading: Reading, before: Reading | None) -> Iterator[Change]:
        """How the staff sounds and, at concert pitch, how its part is transposed, where new."""
        shown = reading.transposition
        if shown != (before.transposition if before else Transposition()):
            yield Change(0, shown)
        own = reading.instrument.transposition
        if own != (before.instrument.transposition if before else shown) and self.concert:
            yield Change(0, for_part(own))
