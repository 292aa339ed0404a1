"""Following one part from bar to bar: what holds for the player at each note."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from msgspec.structs import replace

from expander.catalogue.loader import instruments
from expander.catalogue.naming import by_name, plain
from expander.checks.contents import Contents
from expander.checks.figures import figures, folded
from expander.checks.heads import AtMoves, drums_of
from expander.checks.music import Chord, Hand, InHand, Words
from expander.checks.saying import said_by
from expander.checks.tempo import Clock, Moments
from expander.checks.transposing import taken
from expander.model.dynamics import level_after
from expander.model.instrument import Instrument
from expander.model.pitch import Transposition, Written
from expander.model.score import (
    Change,
    Clef,
    Direction,
    Document,
    Event,
    Key,
    Mark,
    PartBar,
)

_CHANGED_TO = r'<instrument-change\s+id="([^"]+)"'


class Told:
    """What all parts of a score are told from: its clock, each part's contents, notes' heads."""

    def __init__(self, score: Document, clock: Clock) -> None:
        self.score = score
        self.moments = Moments(clock)
        self.contents = [Contents(part) for part in score.parts]
        self.heads = AtMoves()


class Follower:
    """Walks through a part once; afterwards holds what was said on the way."""

    def __init__(
        self,
        told: Told,
        contents: Contents,
        one: Instrument | None,
        key: str,
        move: Transposition,
    ) -> None:
        self.score = told.score
        self.part = part = contents.part
        self.key = key
        self.told = told
        self.staves = range(1, part.staves + 1)
        hand = Hand(one, move.interval)
        self.hands = dict.fromkeys(self.staves, hand)
        self.by_sound = {s.id: s for s in part.sounds}
        self.words: list[Words] = []
        self.changes: list[InHand] = []
        self.at_bars: list[Hand] = []
        self.cued: set[int] = set()
        self.cued_bars = _bars_with_cues(contents)
        self.steady: dict[int, list[tuple[int, Hand]]] = {}
        self.waiting: Instrument | None = None
        self.stated: Transposition | None = None

    def walk(self) -> list[list[Chord]]:
        """The chords of every layer, in order."""
        found: list[list[Chord]] = [[] for _ in self.part.layers]
        homes = [min(layer.staff, self.part.staves) for layer in self.part.layers]
        for index, bar in enumerate(self.part.bars):
            times = self._times(index, bar)
            self.at_bars.append(times[1][0][1])
            for place, events in enumerate(bar.layers):
                if events and (events[0].notes or len(events) > 1):
                    staff = homes[place]
                    found[place] += self._chords(index, events, staff, times[staff])
        return found

    # --------------------------------------------------------------- what holds

    def _times(self, index: int, bar: PartBar[Written]) -> dict[int, list[tuple[int, Hand]]]:
        """For each staff the hands of a bar with the tick from which each holds."""
        if not bar.changes and not bar.directions and self.steady:
            return self.steady
        times = {staff: [(0, self.hands[staff])] for staff in self.staves}
        if not bar.changes and not bar.directions:
            self.steady = times
            return times
        for at, _, item in sorted(_items(bar), key=lambda one: one[:2]):
            if isinstance(item, Change):
                self._change(index, item)
            else:
                self._say(index, item)
            for staff in self.staves:
                if self.hands[staff] is not times[staff][-1][1]:
                    times[staff].append((at, self.hands[staff]))
        for staff in self.staves:
            times[staff] = _settled(times[staff])
        return times

    def _on(self, staff: int) -> Iterable[int]:
        return (min(staff, self.part.staves),) if staff else self.staves

    def _set(self, staves: Iterable[int], **values: object) -> None:
        self.steady = {}
        for staff in staves:
            self.hands[staff] = replace(self.hands[staff], **values)

    def _change(self, index: int, change: Change) -> None:
        what = change.what
        if isinstance(what, Clef):
            self._set(self._on(change.staff), clef=what)
        elif isinstance(what, Key):
            self._set(self._on(change.staff), fifths=None if what.own else what.fifths)
        elif isinstance(what, Transposition):
            self.stated = what
            if index or change.at or self.changes:
                self._transpose(index, change.at, what)

    def _transpose(self, index: int, at: int, what: Transposition) -> None:
        one = self.waiting or self.hands[1].instrument
        said = self.waiting is not None
        if one and one.transposition != what:
            one = next((o for o in _relatives(one) if o.transposition == what), one)
        move = taken(one, what, self.key, self.score.header.concert_pitch)
        if one and one is not self.hands[1].instrument:
            self._take(index, at, one, said)
        self._set(self.staves, move=move.interval)

    def _take(self, index: int, at: int, one: Instrument, said: bool) -> None:
        start = self.score.bars[index].start + at
        if self.changes and self.changes[-1].start == start:
            said = said or self.changes[-1].said
            self.changes.pop()
        self.changes.append(InHand(start, index, at, one, said))
        self._set(self.staves, instrument=one)
        self.waiting = None

    # -------------------------------------------------------------- what is said

    def _say(self, index: int, direction: Direction) -> None:
        level = level_after(direction)
        if level:
            self._set(self.staves, dynamic=level)
        for mark in direction.marks:
            if mark.name in ("words", "rehearsal") and mark.text:
                self._word(index, direction, mark)
        if direction.sound and direction.sound.inner:
            self._sound(index, direction.at, direction.sound)

    def _word(self, index: int, direction: Direction, mark: Mark) -> None:
        at, text = direction.at, folded(mark.text)
        start = self.score.bars[index].start + at
        if mark.name != "words":
            return
        self.words.append(Words(index, at, start, direction.staff or 1, mark.text, text, direction))
        for state, value in said_by(text):
            self._set(self._on(direction.staff), **{state: value})
        if index not in self.cued_bars:
            self._maybe_instrument(index, at, text)

    def _maybe_instrument(self, index: int, at: int, text: str) -> None:
        now = self.hands[1].instrument
        if now is None or now.family not in ("woodwind", "brass"):
            return
        beginnings = tuple(figures()["announced"]["begins"])
        name = next((text[len(b) :] for b in beginnings if text.startswith(b)), text)
        named = [o for o in by_name().get(plain(name), ()) if o.kin and o.kin == now.kin]
        if not named or now in named:
            return
        one = self._likely(named)
        if name is not text:
            self.waiting = one
            return
        self._take(index, at, one, True)
        if not self.score.header.concert_pitch:
            self._set(self.staves, move=one.transposition.interval)

    def _sound(self, index: int, at: int, sound: Mark) -> None:
        found = re.search(_CHANGED_TO, sound.inner)
        told = self.by_sound.get(found[1]) if found else None
        if told is None:
            return
        named = by_name().get(plain(told.name), ())
        one = _of_sound(told.sound) or (self._likely(named) if named else None)
        if one and one is not self.hands[1].instrument:
            self._take(index, at, one, True)
            if not self.score.header.concert_pitch:
                self._set(self.staves, move=one.transposition.interval)

    def _likely(self, named: Sequence[Instrument]) -> Instrument:
        """Of several instruments of one name the one in the key that the file says now."""
        return next((one for one in named if one.transposition == self.stated), named[0])

    # ------------------------------------------------------------------- chords

    def _chords(
        self, index: int, events: tuple[Event[Written], ...], staff: int,
        times: list[tuple[int, Hand]],
    ) -> list[Chord]:  # fmt: skip
        start, moments = self.score.bars[index].start, self.told.moments
        place, last = 0, len(times) - 1
        hand = times[0][1]
        heads_of = self.told.heads[hand.move.chromatic].of
        found: list[Chord] = []
        for event in events:
            notes = event.notes
            if not notes:
                continue
            if (event.cue or event.attributes or notes[0].attributes) and _unheard(event):
                self.cued.add(index)
                continue
            while place < last and times[place + 1][0] <= event.at:
                place += 1
                hand = times[place][1]
                heads_of = self.told.heads[hand.move.chromatic].of
            heads = heads_of(event)
            drums = drums_of(notes) if len(heads) < len(notes) else ()
            begin = start + event.at
            end = begin + event.duration
            found.append(
                Chord(index, event.at, begin, end, heads, drums, event, hand, staff,
                      moments[begin], moments[end])
            )  # fmt: skip
        return found


def _bars_with_cues(contents: Contents) -> frozenset[int]:
    """Bars with cue notes, whose words may name the instrument that is heard."""
    if not contents.cued:
        return frozenset()
    return frozenset(
        index
        for index, bar in enumerate(contents.part.bars)
        if any(event.cue for layer in bar.layers for event in layer)
    )


def _items(bar: PartBar[Written]) -> Iterator[tuple[int, int, Change | Direction]]:
    """Changes and directions with their ticks; at one tick words that name come first."""
    yield from ((d.at, 0, d) for d in bar.directions)
    yield from ((c.at, 1, c) for c in bar.changes)


def _settled(times: list[tuple[int, Hand]]) -> list[tuple[int, Hand]]:
    """One hand for each tick, the last said there."""
    return list(dict(times).items())


def _relatives(one: Instrument) -> Iterator[Instrument]:
    """The same instrument in its other keys, then its kin."""
    yield from (o for o in instruments() if o.name == one.name)
    yield from (o for o in instruments() if one.kin and o.kin == one.kin)


def _of_sound(sound: str) -> Instrument | None:
    return next((o for o in instruments() if sound and o.sound == sound), None)


def _unheard(event: Event[Written]) -> bool:
    """True for cue notes, and for notes that are not printed."""
    return (
        event.cue
        or ("print-object", "no") in event.attributes
        or all(("print-object", "no") in note.attributes for note in event.notes)
    )
