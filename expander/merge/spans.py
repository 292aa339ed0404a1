"""Marks with two ends, as pairs: slurs, hairpins, pedals, octave lines, glissandi, trill lines.

They are taken out of the bars, merged as pairs by where they begin and end, and put back with
numbers of their own, so that an end from one version never pairs with a beginning from another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.merge.facts import grace_places
from expander.merge.grid import Layer
from expander.merge.same import Sign, pitch_sign
from expander.model.pitch import Written
from expander.model.score import Direction, Event, Mark, Note, Part, PartBar
from expander.model.spans import BEGINNING, ENDING, SPANNING, alternates

_ON_NOTES = frozenset(
    {"slur", "glissando", "slide", "wavy-line", "tremolo", "hammer-on", "pull-off"}
)


_LAST = 1000
"""After all other directions of a tick."""


class Place(Struct, frozen=True, order=True):
    """Where an end stands: bar, tick, grace note (counted back from its note), staff.

    `layer` is the slot (-1 for directions); `head` the pitch where it is one head's.
    """

    bar: int
    at: int
    grace: int
    staff: int
    layer: int = -1
    head: Sign = ()


class End(Struct, frozen=True):
    """One end: its mark, and the direction it stood in (emptied of other marks).

    `after` is how many other directions of its tick it stood after: any number for a beginning
    that stood after all of them.
    """

    place: Place
    mark: Mark
    shell: Direction | None = None
    after: int = 0


class Span(Struct, frozen=True):
    """A mark with both ends, and what continues it between them."""

    first: End
    last: End
    middles: tuple[End, ...] = ()

    @property
    def name(self) -> str:
        """Its MusicXML name."""
        return self.first.mark.name

    @property
    def kind(self) -> str:
        """What it is beyond its name: crescendo or diminuendo, up or down."""
        kind = self.first.mark.get("type")
        return "" if kind == "start" else kind

    def key(self, bars: Sequence[int | None], lengths: Sequence[int]) -> Sign | None:
        """What tells it from others, in rows; None where an end's bar is in no row."""
        ends = [_row_place(end.place, bars, lengths) for end in (self.first, self.last)]
        return None if None in ends else (self.name, self.kind, *ends)


def _row_place(place: Place, bars: Sequence[int | None], lengths: Sequence[int]) -> Sign | None:
    row = bars[place.bar]
    if row is None:
        return None
    if place.layer < 0 and place.at and place.at >= lengths[place.bar]:
        return (row + 1, 0, 0, place.staff, ())  # the bar's end is the next one's beginning
    return (row, place.at, place.grace, place.staff, place.head)


class Stripped(Struct, frozen=True):
    """A part without its spans, the spans, and ends that found no partner."""

    part: Part[Written]
    spans: tuple[Span, ...]
    loose: tuple[End, ...]


def is_end(mark: Mark) -> bool:
    """True for one end of a span, or its continuation."""
    if mark.name in SPANNING:
        return True
    if mark.name == "tremolo":
        return alternates(mark)
    return mark.name in _ON_NOTES


def strip(part: Part[Written]) -> Stripped:
    """Take the spans out of a part."""
    pairing = _Pairing()
    bars = []
    for index, bar in enumerate(part.bars):
        found = list(_ends_in(part, index, bar))
        pairing.follow(found)
        bars.append(_without(bar) if found else bar)
    return Stripped(
        replace(part, bars=tuple(bars)),
        tuple(pairing.spans),
        (*pairing.loose, *pairing.open),
    )


def _ends_in(part: Part[Written], index: int, bar: PartBar[Written]) -> Iterator[End]:
    """Every end in a bar, in no order."""
    for slot, layer in enumerate(bar.layers):
        if _has_ends(layer):
            yield from _ends_on(layer, index, slot, part.layers[slot].staff)
    if bar.directions:
        yield from _ends_in_directions(index, bar.directions)


def _ends_in_directions(index: int, directions: Sequence[Direction]) -> Iterator[End]:
    every = Counter(d.at for d in directions if _bare_direction(d) is not None)
    others: Counter[int] = Counter()
    for direction in directions:
        for mark in direction.marks:
            if is_end(mark):
                place = Place(index, direction.at, 0, max(direction.staff, 1))
                shell = replace(direction, marks=(), sound=None, carried=())
                after = others[direction.at]
                last = after == every[direction.at] and mark.get("type") not in ENDING
                yield End(place, mark, shell, _LAST if last else after)
        others[direction.at] += _bare_direction(direction) is not None


def _has_ends(layer: Layer) -> bool:
    for event in layer:
        if event.marks and any([is_end(m) for m in event.marks]):
            return True
        for note in event.notes:
            if note.marks and any([is_end(m) for m in note.marks]):
                return True
    return False


def _ends_on(layer: Layer, index: int, slot: int, staff: int) -> Iterator[End]:
    for event, grace in zip(layer, grace_places(layer), strict=True):
        here = Place(index, event.at, grace, staff, slot)
        yield from (End(here, m) for m in event.marks if is_end(m))
        for note in event.notes:
            head = pitch_sign(note.pitch, {})
            yield from (End(replace(here, head=head), m) for m in note.marks if is_end(m))


class _Pairing:
    """Pairs ends as they come along; those of one number, nearest by layer and staff."""

    def __init__(self) -> None:
        self.spans: list[Span] = []
        self.open: list[End] = []
        self.loose: list[End] = []
        self.middles: dict[int, list[End]] = {}

    def follow(self, ends: list[End]) -> None:
        """All ends of a bar, in order of time; what ends before what begins."""
        ends.sort(key=lambda e: (e.place.at, -e.place.grace, e.mark.get("type") in BEGINNING))
        for end in ends:
            kind = end.mark.get("type")
            if kind in BEGINNING:
                self._begin(end)
            elif kind in ENDING:
                self._finish(end)
            else:
                self._continue(end)

    def _begin(self, end: End) -> None:
        before = self._partner(end, exact=True)
        if before is not None:
            self.open.remove(before)
            self.loose.append(before)
        self.open.append(end)

    def _finish(self, end: End) -> None:
        first = self._partner(end)
        if first is None:
            self.loose.append(end)
            return
        self.open.remove(first)
        self.spans.append(Span(first, end, tuple(self.middles.pop(id(first), ()))))

    def _continue(self, end: End) -> None:
        first = self._partner(end)
        if first is None:
            self.loose.append(end)
        else:
            self.middles.setdefault(id(first), []).append(end)

    def _partner(self, end: End, *, exact: bool = False) -> End | None:
        """The open beginning that an end belongs to; with `exact` of the same layer only."""
        name, number = end.mark.name, end.mark.get("number", "1")
        same = [e for e in self.open if e.mark.name == name and e.mark.get("number", "1") == number]
        if exact:
            same = [e for e in same if _layer(e) == _layer(end)]
        same.sort(key=lambda e: (_layer(e) == _layer(end), e.place.staff == end.place.staff))
        return same[-1] if same else None


def _layer(end: End) -> tuple[int, int]:
    return end.place.layer, end.place.staff


# Taking out and putting back ---------------------------------------------------------------------


def _without(bar: PartBar[Written]) -> PartBar[Written]:
    layers = tuple([_bare(la) if _has_ends(la) else la for la in bar.layers])
    directions = [d for d in map(_bare_direction, bar.directions) if d is not None]
    return replace(bar, layers=layers, directions=tuple(directions))


def _bare(layer: Layer) -> Layer:
    return tuple([_bare_event(event) for event in layer])


def _bare_event(event: Event[Written]) -> Event[Written]:
    marks = tuple([m for m in event.marks if not is_end(m)])
    notes = tuple([_bare_note(n) for n in event.notes])
    if len(marks) == len(event.marks) and all(map(lambda a, b: a is b, notes, event.notes)):
        return event
    return replace(event, marks=marks, notes=notes)


def _bare_note(note: Note[Written]) -> Note[Written]:
    if not any([is_end(m) for m in note.marks]):
        return note
    return replace(note, marks=tuple([m for m in note.marks if not is_end(m)]))


def _bare_direction(direction: Direction) -> Direction | None:
    marks = tuple([m for m in direction.marks if not is_end(m)])
    if len(marks) == len(direction.marks):
        return direction
    return replace(direction, marks=marks) if marks or direction.sound else None


Bars = list[PartBar[Written]]


class PutBack:
    """Puts spans back into the bars of one merged part. Places are in rows of the merged score."""

    def __init__(self, bars: Bars, staves: Sequence[int], lengths: Sequence[int]) -> None:
        self.bars = bars
        self.staves = staves
        self.lengths = lengths
        self.on_events: dict[tuple[int, int, int], list[tuple[Sign, Mark]]] = {}
        self.directions: dict[int, list[tuple[int, Direction]]] = {}

    def put(self, spans: Iterable[Span]) -> list[Span]:
        """All spans, numbered afresh in order of time; those without a place come back."""
        lost: list[Span] = []
        busy: dict[str, list[tuple[Sign, int]]] = {}
        for span in sorted(spans, key=_start):
            ends = (span.first, *span.middles, span.last)
            spots = [self._spot(end) for end in ends]
            if spots[0] is None or spots[-1] is None:
                lost.append(span)
                continue
            number = _free_number(busy.setdefault(span.name, []), span)
            for end, spot in zip(ends, spots, strict=True):
                if spot is not None:
                    self._place(end, spot, number)
        self._write()
        return lost

    def _spot(self, end: End) -> tuple[int, int, int] | None:
        """Row, layer and index of the event it stands on; (row, -1, 0) for a direction."""
        place = end.place
        if not 0 <= place.bar < len(self.bars):
            return None
        if place.layer < 0:
            return (place.bar, -1, 0)
        layers = self.bars[place.bar].layers
        own = [place.layer] if place.layer < len(layers) else []
        others = [i for i, s in enumerate(self.staves) if s == place.staff and i not in own]
        for slot in (*own, *others):
            index = _event_at(layers[slot], place)
            if index is not None:
                return (place.bar, slot, index)
        return None

    def _place(self, end: End, spot: tuple[int, int, int], number: int) -> None:
        mark = end.mark
        if mark.get("number") or number > 1 or mark.name == "slur":
            mark = mark.having(number=str(number)) if mark.name != "tremolo" else mark
        if end.shell is None:
            self.on_events.setdefault(spot, []).append((end.place.head, mark))
            return
        at = min(end.place.at, self.lengths[end.place.bar])
        made = replace(end.shell, at=at, marks=(mark,))
        self.directions.setdefault(spot[0], []).append((end.after, made))

    def _write(self) -> None:
        by_bar: dict[int, dict[tuple[int, int], list[tuple[Sign, Mark]]]] = {}
        for (row, slot, index), marks in self.on_events.items():
            by_bar.setdefault(row, {})[slot, index] = marks
        for row, events in by_bar.items():
            bar = self.bars[row]
            layers = [list(layer) for layer in bar.layers]
            for (slot, index), marks in events.items():
                layers[slot][index] = _marked(layers[slot][index], marks)
            self.bars[row] = replace(bar, layers=tuple([tuple(la) for la in layers]))
        for row, directions in self.directions.items():
            bar = self.bars[row]
            self.bars[row] = replace(bar, directions=_in_order(bar.directions, directions))


def _in_order(
    others: Sequence[Direction], ends: Sequence[tuple[int, Direction]]
) -> tuple[Direction, ...]:
    """All by tick, the ends where they stood among the others; what ends before what begins."""
    placed: list[tuple[tuple[int, int, int], Direction]] = []
    count: Counter[int] = Counter()
    for direction in others:
        placed.append(((direction.at, count[direction.at], 2), direction))
        count[direction.at] += 1
    for after, direction in ends:
        begins = direction.marks[0].get("type") not in ENDING
        placed.append(((direction.at, min(after, count[direction.at]), int(begins)), direction))
    return tuple([direction for _, direction in sorted(placed, key=lambda pair: pair[0])])


def _start(span: Span) -> tuple[object, ...]:
    first, last = span.first.place, span.last.place
    return (
        first.bar,
        first.at,
        -first.grace,
        first.staff,
        first.layer,
        last.bar,
        last.at,
        repr(first.head),
    )


def _finish_key(place: Place) -> tuple[int, int, int]:
    return place.bar, place.at, -place.grace


def _free_number(busy: list[tuple[Sign, int]], span: Span) -> int:
    """The lowest number that is free while the span lasts; an end frees it for a beginning."""
    begins, ends = _finish_key(span.first.place), _finish_key(span.last.place)
    busy[:] = [(until, number) for until, number in busy if until > begins]
    taken = {number for _, number in busy}
    number = next(n for n in range(1, len(taken) + 2) if n not in taken)
    busy.append((ends, number))
    return number


def _event_at(layer: Layer, place: Place) -> int | None:
    for index, (event, grace) in enumerate(zip(layer, grace_places(layer), strict=True)):
        if event.notes and (event.at, grace) == (place.at, place.grace):
            heads = [pitch_sign(n.pitch, {}) for n in event.notes]
            return index if not place.head or place.head in heads else None
    return None


def _marked(event: Event[Written], marks: Sequence[tuple[Sign, Mark]]) -> Event[Written]:
    own = tuple([m for head, m in marks if not head])
    heads = [(head, m) for head, m in marks if head]
    notes = event.notes
    if heads:
        notes = tuple([_head_marked(n, heads) for n in notes])
    return replace(event, marks=(*event.marks, *own), notes=notes)


def _head_marked(note: Note[Written], marks: Sequence[tuple[Sign, Mark]]) -> Note[Written]:
    own = tuple([m for head, m in marks if head == pitch_sign(note.pitch, {})])
    return replace(note, marks=(*note.marks, *own)) if own else note


def moved(span: Span, bars: Sequence[int | None]) -> Span | None:
    """The span with its bars as rows; None where one of its ends is in none."""
    first, last = _moved(span.first, bars), _moved(span.last, bars)
    if first is None or last is None:
        return None
    middles = [m for m in (_moved(end, bars) for end in span.middles) if m is not None]
    return Span(first, last, tuple(middles))


def _moved(end: End, bars: Sequence[int | None]) -> End | None:
    row = bars[end.place.bar]
    return None if row is None else replace(end, place=replace(end.place, bar=row))
