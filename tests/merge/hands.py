"""Hands that edit scores: small changes of every kind, at places that a number chooses."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import Drum, Interval
from expander.model.score import (
    Bar,
    Change,
    Clef,
    Direction,
    Document,
    Event,
    Lyric,
    Mark,
    Part,
    PartBar,
)

STEP = Interval(1, 1)


class Edit(Struct, frozen=True):
    """One change: what is done, in which part and bar (counted round), to which note of it."""

    what: str
    part: int
    bar: int
    note: int = 0


def done(score: Document, edits: Sequence[Edit]) -> Document:
    """The score with the edits made one after the other; those that find no place do nothing."""
    for edit in edits:
        score = DEEDS[edit.what](score, edit)
    return score


def _bar_changed(
    score: Document, edit: Edit, change: Callable[[PartBar, Bar, Edit], PartBar]
) -> Document:
    part = edit.part % len(score.parts)
    at = edit.bar % len(score.bars)
    bars = list(score.parts[part].bars)
    bars[at] = change(bars[at], score.bars[at], edit)
    return _with_part(score, part, replace(score.parts[part], bars=tuple(bars)))


def _with_part(score: Document, index: int, part: Part) -> Document:
    parts = list(score.parts)
    parts[index] = part
    return replace(score, parts=tuple(parts))


def _event_changed(change: Callable[[Event], Event]) -> Callable[[Document, Edit], Document]:
    """A deed on one free note of the first layer: neither tied nor grace."""

    def deed(bar: PartBar, shared: Bar, edit: Edit) -> PartBar:
        layer = list(bar.layers[0]) if bar.layers else []
        free = [i for i, e in enumerate(layer) if e.notes and not e.grace and not _tied(e)]
        if not free:
            return bar
        index = free[edit.note % len(free)]
        layer[index] = change(layer[index])
        return replace(bar, layers=(tuple(layer), *bar.layers[1:]))

    return lambda score, edit: _bar_changed(score, edit, deed)


def _tied(event: Event) -> bool:
    return any(n.tie_start or n.tie_stop for n in event.notes)


def _higher(event: Event) -> Event:
    notes = [
        n if isinstance(n.pitch, Drum) else replace(n, pitch=n.pitch.moved(STEP), accidental=None)
        for n in event.notes
    ]
    return replace(event, notes=tuple(notes))


def _marked(name: str, group: str = "articulations") -> Callable[[Event], Event]:
    def change(event: Event) -> Event:
        if any(m.name == name for m in event.marks):
            return event
        return replace(event, marks=(*event.marks, Mark(group, name)))

    return change


def _sung(event: Event) -> Event:
    others = [lyric for lyric in event.lyrics if lyric.verse != "1"]
    mark = Mark("note", "lyric", (("number", "1"),),
                inner="<syllabic>single</syllabic><text>hey</text>")  # fmt: skip
    return replace(event, lyrics=(Lyric("1", "single", "hey", mark), *others))


def _direction(mark: Mark) -> Callable[[Document, Edit], Document]:
    def deed(bar: PartBar, shared: Bar, edit: Edit) -> PartBar:
        here = [
            d
            for d in bar.directions
            if not (d.at == 0 and any(m.name == mark.name for m in d.marks))
        ]
        return replace(bar, directions=(Direction(0, (mark,), staff=1), *here))

    return lambda score, edit: _bar_changed(score, edit, deed)


def _wiped(score: Document, edit: Edit) -> Document:
    """A bar of one part without music, where no tie or slur leads in or out of it."""

    def deed(bar: PartBar, shared: Bar, edit: Edit) -> PartBar:
        events = [e for layer in bar.layers for e in layer]
        bound = any(_tied(e) or any(m.name == "slur" for m in e.marks) for e in events)
        if bound or not any(e.notes for e in events):
            return bar
        rest = Event(0, shared.length, whole_bar=True)
        return replace(bar, layers=((rest,), *([()] * (len(bar.layers) - 1))))

    return _bar_changed(score, edit, deed)


def _slurred(score: Document, edit: Edit) -> Document:
    """A slur from the first free note of a bar to its last, of a number nobody uses."""

    def deed(bar: PartBar, shared: Bar, edit: Edit) -> PartBar:
        layer = list(bar.layers[0]) if bar.layers else []
        heard = [i for i, e in enumerate(layer) if e.notes and not e.grace]
        if len(heard) < 2 or any(m.name == "slur" for e in layer for m in e.marks):
            return bar
        for index, kind in ((heard[0], "start"), (heard[-1], "stop")):
            mark = Mark("notations", "slur", (("type", kind), ("number", "6")))
            layer[index] = replace(layer[index], marks=(*layer[index].marks, mark))
        return replace(bar, layers=(tuple(layer), *bar.layers[1:]))

    return _bar_changed(score, edit, deed)


def _clef(score: Document, edit: Edit) -> Document:
    """An alto clef from a bar on, where the part has none yet."""
    part = score.parts[edit.part % len(score.parts)]
    if any(c.what == Clef("C", 3) for bar in part.bars for c in bar.changes):
        return score

    def deed(bar: PartBar, shared: Bar, edit: Edit) -> PartBar:
        if any(isinstance(c.what, Clef) and c.at == 0 for c in bar.changes):
            return bar
        return replace(bar, changes=(Change(0, Clef("C", 3), 1), *bar.changes))

    return _bar_changed(score, edit, deed)


def _renamed(score: Document, edit: Edit) -> Document:
    index = edit.part % len(score.parts)
    return _with_part(score, index, replace(score.parts[index], name=f"Solo {index}"))


def _titled(score: Document, edit: Edit) -> Document:
    return replace(score, header=replace(score.header, work_title="Another Title"))


def bar_put_in(score: Document, at: int) -> Document:
    """The score with a bar before the bar `at`: as the one it stands after, a step higher."""
    model = score.bars[at - 1]
    bars, start = [], 0
    for bar in (*score.bars[:at], model, *score.bars[at:]):
        number = bar.number if bar.implicit else str(len(bars) + (not score.bars[0].implicit))
        bars.append(replace(bar, start=start, number=number))
        start += bar.length
    parts = []
    for part in score.parts:
        layers = tuple([_plain_layer(la) for la in part.bars[at - 1].layers])
        new = PartBar(layers)
        parts.append(replace(part, bars=(*part.bars[:at], new, *part.bars[at:])))
    return replace(score, bars=tuple(bars), parts=tuple(parts))


def _plain_layer(layer: tuple[Event, ...]) -> tuple[Event, ...]:
    events = []
    for event in layer:
        notes = [
            replace(n, tie_start=False, tie_stop=False, marks=()) for n in _higher(event).notes
        ]
        marks = tuple(m for m in event.marks if m.name == "tuplet")
        events.append(replace(event, notes=tuple(notes), marks=marks, lyrics=()))
    return tuple(events)


DEEDS: dict[str, Callable[[Document, Edit], Document]] = {
    "a note": _event_changed(_higher),
    "a dot": _event_changed(_marked("staccato")),
    "an accent": _event_changed(_marked("accent")),
    "a trill": _event_changed(_marked("trill-mark", "ornaments")),
    "a syllable": _event_changed(_sung),
    "a dynamic": _direction(Mark("direction-type", "dynamics", (), "ff", "<ff/>")),
    "words": _direction(Mark("direction-type", "words", (), "very freely")),
    "no music": _wiped,
    "a slur": _slurred,
    "a clef": _clef,
    "a name": _renamed,
    "a title": _titled,
}
IN_A_BAR = tuple(what for what in DEEDS if what not in ("a clef", "a name", "a title"))
"""Deeds that touch one bar of one part and nothing else."""


def edits(
    what: Sequence[str] = tuple(DEEDS), most: int = 6, bars: st.SearchStrategy[int] | None = None
) -> st.SearchStrategy[list[Edit]]:
    """Some edits; `bars` draws the bar."""
    one = st.builds(
        Edit,
        st.sampled_from(what),
        st.integers(0, 5),
        st.integers(0, 7) if bars is None else bars,
        st.integers(0, 5),
    )
    return st.lists(one, max_size=most)
