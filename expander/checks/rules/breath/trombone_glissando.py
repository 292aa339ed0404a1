"""Trombone glissandi that the slide cannot make."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limits
from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Head, Music, Stand, Voice, lines, named
from expander.checks.slide import slides
from expander.model.finding import Severity

LINES = ("glissando", "slide")
SLIDES = ("tenor-trombone", "bass-trombone")


def detect(music: Music) -> Iterator[Hit]:
    """Glissandi whose ends do not lie on one partial."""
    trombones = (s for s in music.stands if s.instrument and s.instrument.id in SLIDES)
    for stand, voice in lines(s for s in trombones if _has_lines(s)):
        yield from _impossible_ones(stand, voice)


def _has_lines(stand: Stand) -> bool:
    return not (stand.contents.marks | stand.contents.marks_of_notes).isdisjoint(LINES)


def _impossible_ones(stand: Stand, voice: Voice) -> Iterator[Hit]:
    """The impossible ones among the glissandi of a voice."""
    begun: tuple[Chord, Head] | None = None
    for chord, head in ((c, h) for c in voice.chords for h in c.heads):
        if begun and _line(chord, head, "stop"):
            yield from _impossible(stand, begun[0], begun[1], head)
            begun = None
        if _line(chord, head, "start"):
            begun = (chord, head)


def _line(chord: Chord, head: Head, kind: str) -> bool:
    marks = (*head.note.marks, *chord.event.marks)
    return any(mark.name in LINES and mark.get("type") == kind for mark in marks)


def _impossible(stand: Stand, chord: Chord, one: Head, two: Head) -> Iterator[Hit]:
    if one.height == two.height or slides(one.height, two.height):
        return
    rows = [row for row in limits("trombone") if row.what == "widest glissando"]
    valve = stand.instrument is not None and stand.instrument.id == "bass-trombone"
    yield Hit(
        stand,
        chord.bar,
        chord.at,
        f"a glissando from {named(one, chord.hand)} to {named(two, chord.hand)} crosses partials: "
        "the slide cannot make it in one go.",
        pitch=str(one.written),
        figure=f"{rows[0].value:g} semitones on one partial",
        severity=Severity.WARNING if valve else Severity.ERROR,
        source=f"{'; '.join(rows[0].sources)} ({rows[0].basis})",
    )


CHECK = Check(
    id="trombone-glissando",
    title="Glissando that the slide cannot make",
    finds="A trombone glissando wider than a tritone, or whose ends lie on two partials.",
    why="Between two partials the line breaks; what is heard is a smear and a jump.",
    example="B1 to F2 on an instrument in B flat.",
    instead="Choose two notes inside one partial's span, for instance E3 to B flat 3.",
    severity=Severity.ERROR,
    source="Spans of the partials in the catalogue (published).",
    detect=detect,
    levels="The same at every level; a warning for the bass trombone, whose valves may help.",
)
