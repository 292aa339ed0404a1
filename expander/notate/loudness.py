"""Dynamics and expression for one lane: each strand's own, restated where a player comes in.

A dynamic is restated at each entry after a bar's rest or more and where material from another
strand takes over; not where the player's other hand is in the midst of music at that level. Where
an entry of the plan sets a level, it stands for the strand's own levels and hairpins; accents (sf,
fp ...) and words stay.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.dynamics import LASTING, dynamic, dynamic_names, is_loud, level_after
from expander.model.instrument import Instrument
from expander.model.plan import Strand
from expander.model.rules import Entry
from expander.model.score import Bar, Direction, Mark
from expander.model.spans import SPANNING, Span, begins, breaks_off, ends, span_of
from expander.notate.lanes import NEVER, Lane, Piece, last_end
from expander.notate.turns import Turning, dropped_for

NO_LEVEL = ""

_ONLY_KEYBOARD = frozenset({"octave-shift", "pedal"})
_ONLY_HARP = frozenset({"harp-pedals"})


class Levels(Struct, frozen=True):
    """The dynamic level of a strand over time."""

    places: tuple[tuple[int, int], ...]
    names: tuple[str, ...]

    def at(self, bar: int, tick: int) -> str:
        """The level in force at a place, "" before the first."""
        index = bisect_right(self.places, (bar, tick))
        return self.names[index - 1] if index else NO_LEVEL

    def set_at(self, bar: int, tick: int) -> bool:
        """Whether the strand itself sets a level exactly there."""
        index = bisect_right(self.places, (bar, tick))
        return bool(index) and self.places[index - 1] == (bar, tick)


def levels(strand: Strand) -> Levels:
    """The levels that a strand's own dynamics set."""
    found = sorted(
        ((bar, direction.at), level)
        for bar, directions in strand.directions.items()
        for direction in directions
        if (level := level_after(direction))
    )
    return Levels(tuple(place for place, _ in found), tuple(level for _, level in found))


class Beside:
    """What the lanes of one player's hands have in each bar."""

    def __init__(self, lanes: Sequence[Lane]) -> None:
        self._pieces: dict[int, list[tuple[Lane, Piece]]] = {}
        for lane in lanes:
            for bar, pieces in lane.pieces.items():
                self._pieces.setdefault(bar, []).extend((lane, piece) for piece in pieces)

    def before(self, lane: Lane, piece: Piece, bar: int) -> Iterator[Piece]:
        """What begins before a piece in its bar, or with it in a lane above."""
        below = False
        for other, one in self._pieces[bar]:
            below = below or other is lane
            if other is not lane and (one.first, below) < (piece.first, True):
                yield one

    def others(self, lane: Lane, bar: int) -> Iterator[Piece]:
        """What the other lanes have in a bar."""
        for other, piece in self._pieces.get(bar, ()):
            if other is not lane:
                yield piece


class Loudness:
    """Writes the directions of lanes. Strands' levels are worked out once."""

    def __init__(self, bars: Sequence[Bar], turning: Turning) -> None:
        self._bars = bars
        self._turning = turning
        self._levels: dict[int, tuple[Strand, Levels]] = {}

    def of_hands(self, lanes: Sequence[Lane]) -> list[dict[int, list[Direction]]]:
        """The marks of each lane of one player's hands, as `directions` has them."""
        beside = Beside(lanes) if len(lanes) > 1 else None
        return [self.directions(lane, beside) for lane in lanes]

    def directions(self, lane: Lane, beside: Beside | None = None) -> dict[int, list[Direction]]:
        """The marks of a lane by bar, every span closed; `beside` knows those of the same hands."""
        found: dict[int, list[Direction]] = {}
        spans = _Spans(found)
        before: Entry | None = None
        silent_since = -(10**9)
        last_bar = None
        for bar in sorted(lane.pieces):
            here = self._bars[bar]
            if last_bar is not None and bar != last_bar + 1:
                spans.close()
            for piece in lane.pieces[bar]:
                if piece.first > here.length:
                    continue
                entry = piece.task.entry
                if before is not None and entry.play != before.play:
                    spans.close()
                own = self._own(piece, bar) if bar in piece.task.strand.directions else []
                rested = here.start + piece.first - silent_since >= here.nominal
                if rested or not _goes_on(entry, before):
                    heard = self._levels_beside(beside, lane, piece, bar) if beside else ()
                    own = self._restated(piece, bar, piece.first, own, heard)
                for direction in (_on_its_side(d, piece.instrument) for d in own):
                    found.setdefault(bar, []).append(direction)
                    spans.note(direction, bar)
                before = entry
                last = last_end(piece.events)
                silent_since = here.start + last
                spans.sounding_to(bar, last)
            last_bar = bar
        spans.close()
        return {bar: marks for bar, marks in found.items() if marks}

    def _levels_of(self, strand: Strand) -> Levels:
        known = self._levels.get(id(strand))
        if known is None:
            known = self._levels[id(strand)] = (strand, levels(strand))
        return known[1]

    def _restated(
        self, piece: Piece, bar: int, first: int, own: list[Direction], heard: Collection[str]
    ) -> list[Direction]:
        """The strand's marks with the level in force at an entry, unless it stands there.

        It is left out where it is `heard` already.
        """
        strand, given = piece.task.strand, piece.task.entry.dynamic
        early = [d for d in own if d.at <= first and d.first("dynamics")]
        if not given and (early or self._levels_of(strand).set_at(bar, first)):
            return own
        level = self._level(piece, bar, first)
        return [dynamic(level, first), *own] if level and level not in heard else own

    def _level(self, piece: Piece, bar: int, tick: int) -> str:
        return piece.task.entry.dynamic or self._levels_of(piece.task.strand).at(bar, tick)

    def _levels_beside(self, beside: Beside, lane: Lane, piece: Piece, bar: int) -> Collection[str]:
        """The levels of what the player is in the midst of with other fingers."""
        here = self._bars[bar]
        levels = {self._level(one, bar, piece.first) for one in beside.before(lane, piece, bar)}
        for one in beside.others(lane, bar - 1):
            since = here.start + piece.first - here.nominal
            if one.first < NEVER and self._bars[bar - 1].start + last_end(one.events) > since:
                levels.add(self._level(one, bar, piece.first))
        return levels

    def _own(self, piece: Piece, bar: int) -> list[Direction]:
        """The strand's directions that this player can use, in time order."""
        strand, entry = piece.task.strand, piece.task.entry
        marks = [d for d in [_for_player(d, piece) for d in strand.directions[bar]] if d]
        if entry.dynamic:
            marks = [d for d in (_without_levels(d) for d in marks) if d]
        if entry.technique or entry.mute:
            marks = [d for d in (self._without_turns(d, entry) for d in marks) if d]
        return sorted(marks, key=lambda d: d.at)

    def _without_turns(self, direction: Direction, entry: Entry) -> Direction | None:
        """A direction without words about the technique or the mute that the plan sets itself."""
        given = (bool(entry.technique), bool(entry.mute))
        marks = tuple(
            m
            for m in direction.marks
            if not any(a and b for a, b in zip(self._turning.spoken(m), given, strict=True))
        )
        return _left(direction, marks)


def _on_its_side(direction: Direction, one: Instrument) -> Direction:
    """Dynamics below the stave, for singers above it; between the staves of a keyboard they stay.

    A strand may come from another kind of stave. Common practice, no source.
    """
    side = "above" if one.family == "voice" else "below"
    if one.staves > 1 or direction.placement == side:
        return direction
    return replace(direction, placement=side) if is_loud(direction) else direction


def _goes_on(entry: Entry, before: Entry | None) -> bool:
    """Whether an entry of the plan goes on with the same music at the same level."""
    if entry is before:
        return True
    return before is not None and (entry.play, entry.dynamic) == (before.play, before.dynamic)


def _for_player(direction: Direction, piece: Piece) -> Direction | None:
    instrument = piece.instrument
    moved = piece.task.entry.octave != 0
    marks = tuple([m for m in direction.marks if _useful(m, instrument, moved=moved)])
    if not marks:
        return None
    return replace(direction, marks=marks, staff=0, voice="")


def _useful(mark: Mark, instrument: Instrument, *, moved: bool) -> bool:
    """Whether a mark says anything to a player, whose line the plan may have moved by octaves."""
    if mark.name in _ONLY_KEYBOARD:
        return instrument.family == "keyboard" and not (moved and mark.name == "octave-shift")
    if mark.name in _ONLY_HARP:
        return instrument.id == "harp"
    return mark.name != "words" or not dropped_for(mark.text, instrument)


def _without_levels(direction: Direction) -> Direction | None:
    marks = tuple(
        m
        for m in direction.marks
        if m.name != "wedge" and not (m.name == "dynamics" and _only_levels(m))
    )
    return _left(direction, marks)


def _left(direction: Direction, marks: tuple[Mark, ...]) -> Direction | None:
    if not marks:
        return None
    return direction if marks == direction.marks else replace(direction, marks=marks)


def _only_levels(mark: Mark) -> bool:
    return all(name in LASTING for name in dynamic_names(mark))


class _Spans:
    """Hairpins, dashes and other spans: each gets an end, and no end stands alone."""

    def __init__(self, found: dict[int, list[Direction]]) -> None:
        self._found = found
        self._open: dict[Span, tuple[Mark, int, int]] = {}
        self._broken: set[Span] = set()
        self._reached: tuple[int, int] = (0, 0)

    def sounding_to(self, bar: int, tick: int) -> None:
        """The lane sounds up to here."""
        self._reached = (bar, tick)

    def note(self, direction: Direction, bar: int) -> None:
        """Follow the spans of a direction that was just added to its bar."""
        for mark in direction.marks:
            if mark.name not in SPANNING:
                continue
            span = span_of(mark)
            if begins(mark):
                self._end(span, bar, direction.at, direction)
                self._open[span] = (mark, bar, direction.at)
                self._broken.discard(span)
            elif ends(mark):
                self._ended(span, mark, bar)

    def _ended(self, span: Span, mark: Mark, bar: int) -> None:
        """An end: of what is open, or of what was broken off; another is taken away."""
        if self._open.pop(span, None) is None and span not in self._broken:
            self._drop(mark, bar)
        elif breaks_off(mark):
            self._broken.add(span)
        else:
            self._broken.discard(span)

    def close(self) -> None:
        """End everything that is open where the lane last sounded."""
        for span in list(self._open):
            self._end(span, *self._reached, None)

    def _end(self, span: Span, bar: int, tick: int, before: Direction | None) -> None:
        """End a span at a place; one that has no length there is taken away."""
        if span not in self._open:
            return
        opened, since_bar, since_tick = self._open.pop(span)
        if (bar, tick) <= (since_bar, since_tick):
            self._drop(opened, since_bar)
            return
        number = opened.get("number")
        attributes = (("type", "stop"), *((("number", number),) if number else ()))
        if opened.name == "bracket":
            attributes = (*attributes, ("line-end", opened.get("line-end", "none")))
        stop = Direction(tick, (Mark("direction-type", opened.name, attributes),))
        marks = self._found.setdefault(bar, [])
        place = next((i for i, d in enumerate(marks) if d is before), len(marks))
        marks.insert(place, stop)

    def _drop(self, mark: Mark, bar: int) -> None:
        """Take a mark out of the directions of a bar."""
        marks = self._found[bar]
        for place, direction in enumerate(marks):
            if any(m is mark for m in direction.marks):
                left = tuple(m for m in direction.marks if m is not mark)
                marks[place : place + 1] = [replace(direction, marks=left)] if left else []
                return
