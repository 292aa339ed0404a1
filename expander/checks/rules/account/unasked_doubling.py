"""Doublings while other notes go unplayed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from expander.checks.beats import beat_of
from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """A section that has one sketch note twice where another of the same moment is lost."""
    if music.ledger is None or not music.ledger.unplaced:
        return
    pitched = [n for n in music.ledger.unplaced if not n.pitch.startswith("unpitched")]
    lost = {(note.bar, note.beat): note.pitch for note in pitched}
    for moment, players in sorted(_moments(music, lost).items()):
        counts = Counter((origin, _section(stand)) for stand, _, origin in players)
        doubled = next((p for p in players if counts[p[2], _section(p[0])] > 1), None)
        if doubled:
            stand, chord, _ = doubled
            yield Hit(
                stand,
                chord.bar,
                chord.at,
                f"two players of a section have the same sketch note, while {lost[moment]} of that "
                "moment is given to nobody.",
                pitch=str(chord.top.written) if chord.heads else "",
                figure=lost[moment],
            )


def _section(stand: Stand) -> str:
    return stand.instrument.section if stand.instrument else ""


def _moments(
    music: Music, lost: dict[tuple[str, float], str]
) -> dict[tuple[str, float], list[tuple[Stand, Chord, int]]]:
    found: dict[tuple[str, float], list[tuple[Stand, Chord, int]]] = {}
    bars = {bar for bar, _ in lost}
    for stand in music.stands:
        for chord in stand.chords:
            number = music.score.bars[chord.bar].number
            if number not in bars:
                continue
            moment = (number, beat_of(music.score, chord.bar, chord.at))
            if moment in lost:
                here = found.setdefault(moment, [])
                here += [(stand, chord, n.origin) for n in chord.event.notes if n.origin >= 0]
    return found


CHECK = Check(
    id="unasked-doubling",
    title="Doubled while another note is lost",
    finds="Two players of a section on one sketch note where another note of the chord has nobody.",
    why="Nobody asked for the doubling, and the second player could have had the lost note.",
    example="Two trumpets on the top note of a chord whose third is missing.",
    instead="Deal the chord to the players again, or give the lost strand to one of them.",
    severity=Severity.WARNING,
    source="The ledger of the expansion.",
    detect=detect,
)
