"""Notes of the sketch that nobody plays."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.model.finding import LostNote, Severity


def detect(music: Music) -> Iterator[Hit]:
    """Each sketch note of the ledger that was given to nobody."""
    if music.ledger is None:
        return
    index = {bar.number: i for i, bar in reversed(list(enumerate(music.score.bars)))}
    for note in music.ledger.unplaced:
        yield _hit(note, index.get(note.bar, 0))


def _hit(note: LostNote, bar: int) -> Hit:
    where = f"bar {note.bar} beat {note.beat:g}, sketch staff {note.staff}, layer {note.layer + 1}"
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
