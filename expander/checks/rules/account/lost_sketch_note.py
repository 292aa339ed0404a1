"""Notes of the sketch that nobody plays."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.model.finding import LostNote, Severity

FEW = 3
"""So many lost notes of one layer and reason are told one by one; the ledger has all of them."""


def detect(music: Music) -> Iterator[Hit]:
    """Each sketch note of the ledger that was given to nobody."""
    if music.ledger is None:
        return
    index = {bar.number: i for i, bar in reversed(list(enumerate(music.score.bars)))}
    alike: dict[tuple[int, int, str], list[LostNote]] = {}
    for note in music.ledger.unplaced:
        alike.setdefault((note.staff, note.layer, note.reason), []).append(note)
    for notes in alike.values():
        if len(notes) > FEW:
            yield _many(notes, index.get(notes[0].bar, 0))
            continue
        yield from (_hit(note, index.get(note.bar, 0)) for note in notes)


def _many(notes: list[LostNote], bar: int) -> Hit:
    """Notes of one layer that were lost for one reason."""
    first, last = notes[0], notes[-1]
    reason = f": {first.reason}" if first.reason else ""
    return Hit(
        None,
        bar,
        None,
        f"{len(notes)} notes of the sketch (staff {first.staff}, layer {first.layer}, from bar "
        f"{first.bar} to bar {last.bar}, the first {first.pitch}) are given to nobody{reason}.",
        pitch=first.pitch,
        figure="every note of the sketch",
    )


def _hit(note: LostNote, bar: int) -> Hit:
    where = f"bar {note.bar} beat {note.beat:g}, sketch staff {note.staff}, layer {note.layer}"
    reason = f": {note.reason}" if note.reason else ""
    return Hit(
        None,
        bar,
        None,
        f"{note.pitch} of the sketch ({where}) is given to nobody{reason}.",
        pitch=note.pitch,
        figure="every note of the sketch",
    )


CHECK = Check(
    id="lost-sketch-note",
    title="Sketch note given to nobody",
    finds="A note of the sketch that no player has and no voicing replaces.",
    why="Something the composer wrote is not heard.",
    example="A second layer that no entry of the plan names.",
    instead="Give the strand to a player, or say in the rules what replaces it.",
    severity=Severity.WARNING,
    source="The ledger of the expansion.",
    detect=detect,
)
