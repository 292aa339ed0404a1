"""The sum of the parts is the score: every note of a staff is somebody's, and nobody has more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from expander.model.finding import Finding, Severity
from expander.model.pitch import Drum, Sounding, Written
from expander.model.score import Bar, Document, Part
from expander.sounding import heard_pitches

Heard = tuple[int, int, int, str]
"""A note as it is heard: tick of the piece, length in ticks, staff place or pitch, and name."""


class Account(Struct, frozen=True):
    """Notes of the score, and notes of all parts together: more where several play one note.

    A chord of three is three notes; tied notes are counted one by one. Cues do not count.
    """

    score: int
    parts: int
    missing: tuple[tuple[int, Heard], ...]
    added: tuple[tuple[int, Heard], ...]


def account(score: Document, parts: Sequence[tuple[Sequence[int], Document]]) -> Account:
    """Hold files of parts, with the indices of the score's parts they hold, against the score."""
    wanted = {index: list(heard(part, score.bars)) for index, part in enumerate(score.parts)}
    given: dict[int, list[Heard]] = {index: [] for index in wanted}
    for indices, document in parts:
        for index, part in zip(indices, document.parts, strict=True):
            given[index] += heard(part, document.bars)
    return Account(
        score=sum(len(notes) for notes in wanted.values()),
        parts=sum(len(notes) for notes in given.values()),
        missing=tuple(_beyond(wanted, given)),
        added=tuple(_beyond(given, wanted)),
    )


def heard(part: Part[Written], bars: Sequence[Bar]) -> Iterator[Heard]:
    """The notes of a part as they are heard, cues left out."""
    known: dict[Sounding | Drum, tuple[int, str]] = {}
    for index, event, pitch in heard_pitches(part):
        if event.cue:
            continue
        named = known.get(pitch)
        if named is None:
            named = known[pitch] = (_place(pitch), str(pitch))
        yield bars[index].start + event.at, event.duration, named[0], named[1]


def _place(pitch: object) -> int:
    return int(getattr(pitch, "semitone", 0))


def _beyond(
    these: Mapping[int, Sequence[Heard]], those: Mapping[int, Sequence[Heard]]
) -> Iterator[tuple[int, Heard]]:
    """What stands among the first and not among the second."""
    for index, notes in these.items():
        if set(notes) == set(those[index]):
            continue
        known = {_key(note) for note in those[index]}
        for note in sorted({n for n in notes if _key(n) not in known}):
            yield index, note


def _key(note: Heard) -> tuple[object, ...]:
    at, length, semitone, name = note
    return (at, length, semitone or name)


def findings(books: Account, score: Document) -> list[Finding]:
    """What the account found wrong; nothing where the parts are the score."""
    return [
        _told(score, index, note, said)
        for rows, said in ((books.missing, "is in no part"), (books.added, "is not in the score"))
        for index, note in rows
    ]


def _told(score: Document, index: int, note: Heard, said: str) -> Finding:
    place = max(i for i, bar in enumerate(score.bars) if bar.start <= note[0])
    return Finding(
        check="parts-and-score",
        severity=Severity.ERROR,
        message=f"{note[3]} (sounding) {said}.",
        part=score.parts[index].name,
        bar=score.bars[place].number,
        pitch=note[3],
        index=place,
    )
