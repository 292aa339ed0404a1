"""Slurs, hairpins and lines without their other end."""

from __future__ import annotations

from collections.abc import Iterator
from operator import attrgetter

from msgspec import Struct

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.model.finding import Severity
from expander.model.pitch import Written
from expander.model.score import Event, Mark, PartBar
from expander.model.spans import SPANNING, Span, begins, breaks_off, ends, span_of

ON_NOTES = frozenset({"slur", "glissando", "slide", "wavy-line", "tuplet", "hammer-on", "pull-off"})
WORDS = {"wedge": "hairpin", "octave-shift": "octave line", "wavy-line": "trill line"}


class End(Struct, frozen=True):
    """One end of a spanner at a place of a part."""

    bar: int
    at: int
    mark: Mark

    @property
    def span(self) -> Span:
        """The kind of spanner and its number, by which both ends find each other."""
        return span_of(self.mark)


def detect(music: Music) -> Iterator[Hit]:
    """Beginnings without end, and ends without beginning."""
    for stand in music.stands:
        yield from _loose(stand, sorted(_ends(stand), key=attrgetter("bar", "at")))


def _ends(stand: Stand) -> Iterator[End]:
    contents = stand.contents
    singly = not contents.marks_of_notes.isdisjoint(ON_NOTES)
    if singly or not contents.marks.isdisjoint(ON_NOTES):
        yield from _in_layers(stand, singly=singly)
    for index, bar in enumerate(stand.part.bars):
        if bar.directions:
            yield from _over(index, bar)


def _in_layers(stand: Stand, *, singly: bool) -> Iterator[End]:
    """Ends on events, and on their single notes where there are any."""
    for index, bar in enumerate(stand.part.bars):
        events = [event for layer in bar.layers for event in layer if event.marks or singly]
        for event in events:
            marks = _all_marks(event) if singly else event.marks
            yield from _on(index, event.at, marks)


def _all_marks(event: Event[Written]) -> tuple[Mark, ...]:
    """The marks of an event, then those of its notes."""
    return sum([note.marks for note in event.notes if note.marks], event.marks)


def _on(index: int, at: int, marks: tuple[Mark, ...]) -> Iterator[End]:
    for mark in marks:
        if mark.name in ON_NOTES:
            yield End(index, at, mark)


def _over(index: int, bar: PartBar[Written]) -> Iterator[End]:
    for direction in bar.directions:
        for mark in direction.marks:
            if mark.name in SPANNING:
                yield End(index, direction.at, mark)


def _loose(stand: Stand, found: list[End]) -> Iterator[Hit]:
    """Ends in order of time; an end may stand before its beginning at one and the same place."""
    begun: dict[Span, list[End]] = {}
    early: dict[Span, list[End]] = {}
    broken: set[Span] = set()
    for end in found:
        span = end.span
        waiting = early.get(span, [])
        if begins(end.mark) and waiting and (waiting[-1].bar, waiting[-1].at) == (end.bar, end.at):
            waiting.pop()
        elif begins(end.mark):
            begun.setdefault(span, []).append(end)
        elif ends(end.mark) and begun.get(span):
            begun[span].pop()
            (broken.add if breaks_off(end.mark) else broken.discard)(span)
        elif ends(end.mark) and span in broken:
            broken.discard(span)
        elif ends(end.mark):
            early.setdefault(span, []).append(end)
    loose = [_hit(stand, end, "begins here and does not end") for e in begun.values() for end in e]
    loose += [_hit(stand, end, "ends here and did not begin") for e in early.values() for end in e]
    # Several of a kind at one note are one fault of the file.
    yield from {(hit.bar, hit.at, hit.message): hit for hit in loose}.values()


def _hit(stand: Stand, end: End, what: str) -> Hit:
    name = WORDS.get(end.mark.name, end.mark.name)
    return Hit(stand, end.bar, end.at, f"a {name} {what}.", figure="both ends")


CHECK = Check(
    id="open-spanner",
    title="Slur, hairpin or line with one end",
    finds="A slur, hairpin, octave line or the like that begins and does not end, or the reverse.",
    why="Software draws it to the end of the page or drops it; players ask.",
    example="A crescendo hairpin without its closing end.",
    instead="Give it its other end or take it away.",
    severity=Severity.WARNING,
    source="The MusicXML format: every start has its stop.",
    detect=detect,
)
