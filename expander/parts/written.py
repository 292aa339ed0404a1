"""Written pitch whatever the score shows: a score at concert pitch is transposed for its players.

A part says how it transposes by its name and sounds ("Clarinet in A"), or by MusicXML's
`for-part`. Scores that do not say that they are at concert pitch are taken for it where no part
transposes, some instrument should, and all have the same keys.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.recognise import recognise
from expander.model.instrument import Instrument
from expander.model.pitch import CONCERT, LETTERS, Sounding, Transposition, Written
from expander.model.score import (
    Change,
    Clef,
    Document,
    Harmony,
    Key,
    Mark,
    Part,
    PartBar,
    Sketch,
)
from expander.notate import clefs
from expander.notate.accidentals import with_accidentals
from expander.notate.spelling import (
    Spelling,
    spelling,
    written_harmony,
    written_key,
    written_voice,
)
from expander.parts.readers import recognised

_CHANGED = re.compile(r'<instrument-change id="([^"]*)"')
_NUMBER = re.compile(r"<(diatonic|chromatic|octave-change)>\s*(-?\d+)")
_ALTERS = {"♭": -1, "♯": 1, "b": -1, "#": 1}
_HIGH_BRASS = 1.5
"""Semitones around which keys of trumpets lie: from A (-3) up to F (+5), as players know them."""


class Hand(Struct, frozen=True):
    """What a player has in hand from a bar on, and how it transposes."""

    bar: int
    instrument: Instrument | None
    transposition: Transposition


def at_concert_pitch(score: Document) -> bool:
    """Whether the score shows what is heard, said or evident."""
    if score.header.concert_pitch:
        return True
    moves = (c.what for p in score.parts for b in p.bars for c in b.changes)
    if any(isinstance(m, Transposition) and m.diatonic for m in moves):
        return False
    told = [(part, recognised(part)) for part in score.parts]
    movable = [p for p, r in told if r and r.instrument.transposition.diatonic]
    keys = {_keys(part) for part, r in told if not (r and not r.instrument.pitched)}
    return bool(movable) and len(keys) == 1 and keys != {()} and len(score.parts) > 1


def _keys(part: Part[Written]) -> tuple[tuple[int, int], ...]:
    return tuple(
        dict.fromkeys(
            (index, change.what.fifths)
            for index, bar in enumerate(part.bars)
            for change in bar.changes
            if isinstance(change.what, Key)
        )
    )


def hands(part: Part[Written]) -> tuple[Hand, ...]:
    """The instruments a player takes up, by bar; the first from the beginning."""
    told = recognised(part)
    first = told.instrument if told else None
    move = _for_part(part) or (_transposition(first, told.key) if first and told else CONCERT)
    found = [Hand(0, first, move)]
    sounds = {sound.id: sound for sound in part.sounds}
    for index, bar in enumerate(part.bars):
        for name in _changes_to(bar):
            sound = sounds.get(name)
            new = recognise(sound.name, "", sound.sound) if sound else None
            if new and new.instrument is not found[-1].instrument:
                move = _transposition(new.instrument, new.key)
                found = [h for h in found if h.bar < index]
                found.append(Hand(index, new.instrument, move))
    return tuple(found)


def _changes_to(bar: PartBar[Written]) -> Iterator[str]:
    for direction in bar.directions:
        if direction.sound is not None:
            yield from _CHANGED.findall(direction.sound.inner)


def _for_part(part: Part[Written]) -> Transposition | None:
    """What the score says of the transposition that the part should have."""
    for change in part.bars[0].changes if part.bars else ():
        if isinstance(change.what, Mark) and change.what.name == "for-part":
            said = {name: int(value) for name, value in _NUMBER.findall(change.what.inner)}
            return Transposition(
                said.get("diatonic", 0), said.get("chromatic", 0), said.get("octave-change", 0)
            )
    return None


def _transposition(one: Instrument, key: str) -> Transposition:
    """The instrument's own transposition, or that of the key its part is called by."""
    own = one.transposition
    if not key or key == one.key or one.family != "brass":
        return own
    step = LETTERS.find(key[0])
    alter = _ALTERS.get(key[1:2], 0)
    if step < 0:
        return own
    centre = _HIGH_BRASS if own.interval.chromatic > -7 else float(own.interval.chromatic)
    around = [Sounding(step, alter, octave) for octave in (2, 3, 4, 5)]
    home = Sounding(0, 0, 4)
    best = min(around, key=lambda p: abs(float(p.semitone - home.semitone) - centre))
    octave, steps = (best.octave - 4), step
    chromatic = int(best.semitone - home.semitone)
    if octave < 0:
        steps, octave = step - 7, octave + 1
    return Transposition(steps, chromatic - 12 * octave, octave)


# From concert pitch ------------------------------------------------------------------------------


def as_written(
    part: Part[Written], heard: Part[Sounding], sketch: Sketch, way: Sequence[Hand]
) -> Part[Written]:
    """A part of a score at concert pitch as its player reads it.

    `heard` is the same part at sounding pitch in `sketch`. Parts that need no transposing but
    their octave come back as they are.
    """
    if not any(hand.transposition.diatonic for hand in way):
        return part
    work = _Transposer(part, heard, sketch, way)
    return replace(part, bars=tuple(work.bar(index) for index in range(len(part.bars))))


class _Transposer:
    """Transposes bar by bar, key and instrument in mind."""

    def __init__(
        self, part: Part[Written], heard: Part[Sounding], sketch: Sketch, way: Sequence[Hand]
    ) -> None:
        self.part, self.heard, self.way = part, heard, way
        self.keys = _concert_keys(heard)
        self.keyless = _keyless(part, sketch)
        self.clefs = self._chosen_clefs()
        self.before: Spelling | None = None

    def hand(self, index: int) -> Hand:
        """What is in hand in a bar."""
        return [h for h in self.way if h.bar <= index][-1]

    def spelled(self, index: int) -> Spelling:
        """How a bar is read."""
        move, fifths = self.hand(index).transposition, _key_at(self.keys, index).fifths
        return spelling(move, fifths, keyless=self.keyless)

    def bar(self, index: int) -> PartBar[Written]:
        """One bar as written."""
        spelled, heard = self.spelled(index), self.heard.bars[index]
        layers = tuple(written_voice(layer, spelled.interval) for layer in heard.layers)
        inside = tuple(
            (c.at, written_key(c.what, self._under(index, c.what)).fifths)
            for c in heard.changes
            if isinstance(c.what, Key) and c.at
        )
        changes = tuple(self._changes(index, spelled))
        self.before = spelled
        return replace(
            self.part.bars[index],
            layers=with_accidentals(layers, spelled.shown, inside),
            changes=changes,
            harmonies=tuple(_symbol(h, spelled) for h in heard.harmonies),
        )

    def _under(self, index: int, key: Key) -> Spelling:
        return spelling(self.hand(index).transposition, key.fifths, keyless=self.keyless)

    def _changes(self, index: int, spelled: Spelling) -> Iterator[Change]:
        heard = self.heard.bars[index].changes
        rekeyed = any(isinstance(c.what, Key) and c.at == 0 for c in heard)
        if rekeyed or self.before is None or self.before.shown != spelled.shown:
            yield Change(0, written_key(_key_at(self.keys, index), spelled))
        for change in heard:
            if isinstance(change.what, Key) and change.at:
                under = self._under(index, change.what)
                yield replace(change, what=written_key(change.what, under))
            elif not isinstance(change.what, Key | Transposition | Clef):
                yield change
        if index == 0 or self.clefs[index] != self.clefs[index - 1]:
            yield Change(0, self.clefs[index])
        move = self.hand(index).transposition
        if index == 0 or move != self.hand(index - 1).transposition:
            yield Change(0, move)

    def _chosen_clefs(self) -> list[Clef]:
        """Clefs by the instrument's habits, anew for each instrument in hand."""
        edges = [hand.bar for hand in self.way if hand.bar < len(self.part.bars)]
        chosen: list[Clef] = []
        for start, stop in zip(edges, [*edges[1:], len(self.part.bars)], strict=True):
            one = self.hand(start).instrument
            habits = one.clefs[0] if one else ()
            rows = [self._heights(index) for index in range(start, stop)]
            chosen += clefs.choose(rows, habits) if habits else [Clef("G", 2)] * len(rows)
        return chosen

    def _heights(self, index: int) -> tuple[int, ...]:
        interval = self.spelled(index).interval
        sounding = [event for layer in self.heard.bars[index].layers for event in layer]
        return clefs.heights(written_voice(sounding, interval))


def _symbol(harmony: Harmony[Sounding], spelled: Spelling) -> Harmony[Written]:
    return written_harmony(harmony, spelled.interval)


def _concert_keys(heard: Part[Sounding]) -> list[tuple[int, int, Key]]:
    return [
        (index, change.at, change.what)
        for index, bar in enumerate(heard.bars)
        for change in bar.changes
        if isinstance(change.what, Key) and change.staff <= 1
    ]


def _key_at(keys: Sequence[tuple[int, int, Key]], index: int) -> Key:
    before = [key for bar, at, key in keys if (bar, at) <= (index, 0)]
    return before[-1] if before else Key()


def _keyless(part: Part[Written], sketch: Sketch) -> bool:
    """Whether the part goes without signature while others have one."""
    own = {fifths for _, fifths in _keys(part)}
    others = {
        c.what.fifths
        for p in sketch.parts
        for b in p.bars
        for c in b.changes
        if isinstance(c.what, Key)
    }
    return own <= {0} and bool(others - {0})
