"""Ties that do not reach a note."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Head, Music, Stand
from expander.model.finding import Severity
from expander.model.pitch import Written
from expander.model.score import Note

Places = frozenset[tuple[int, int]]
"""Heights with the absolute ticks at which they begin or end."""


def detect(music: Music) -> Iterator[Hit]:
    """Ties whose next note is another one or a rest, and ties that come from nowhere."""
    jumps = _jumps(music)
    for stand in music.stands:
        if not stand.contents.tied:
            continue
        tied = [chord for chord in stand.chords if any(map(_is_tied, chord.event.notes))]
        begins = _beginnings(stand, frozenset([chord.end for chord in tied]))
        ends = frozenset([(c.end, h.height) for c in tied for h in c.heads if h.note.tie_start])
        for chord in tied:
            yield from _loose(stand, chord, begins, ends, jumps)


def _is_tied(note: Note[Written]) -> bool:
    return note.tie_start or note.tie_stop


def _beginnings(stand: Stand, ticks: frozenset[int]) -> Places:
    """What begins at any of these ticks."""
    chords = [chord for chord in stand.chords if chord.start in ticks]
    return frozenset([(chord.start, head.height) for chord in chords for head in chord.heads])


def _jumps(music: Music) -> frozenset[int]:
    """Ticks at which the music may jump: repeats and endings."""
    found = set()
    for stand in music.stands:
        for bar, mine in zip(music.score.bars, stand.part.bars, strict=True):
            if mine.barlines and any(line.repeat or line.ending for line in mine.barlines):
                found |= {bar.start, bar.start + bar.length}
    return frozenset(found)


def _loose(
    stand: Stand,
    chord: Chord,
    begins: Places,
    ends: Places,
    jumps: frozenset[int],
) -> Iterator[Hit]:
    for head in chord.heads:
        came, goes = (chord.start, head.height), (chord.end, head.height)
        if head.note.tie_start and chord.end not in jumps and not _rings(head):
            if goes not in begins and chord.event.grace is None:
                yield _hit(stand, chord, head, "the tie leads to no note of the same pitch")
        elif head.note.tie_stop and chord.start not in jumps and came not in ends:
            yield _hit(stand, chord, head, "the tie comes from no note of the same pitch")


def _rings(head: Head) -> bool:
    return any(m.name == "tied" and m.get("type") == "let-ring" for m in head.note.marks)


def _hit(stand: Stand, chord: Chord, head: Head, what: str) -> Hit:
    return Hit(stand, chord.bar, chord.at, f"{what}.", pitch=str(head.written), figure="two notes")


CHECK = Check(
    id="tie-to-nowhere",
    title="Tie to nowhere",
    finds="A tie that no note of the same pitch answers, or that nothing begins.",
    why="The player wonders whether a note is missing or a slur was meant.",
    example="A tied C before a rest.",
    instead="Add the note, make it a slur, or mark it 'l.v.'.",
    severity=Severity.WARNING,
    source="The rules of notation.",
    detect=detect,
)
