"""Divisi finer than the section has players."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.struck import Grip, grips_of, names
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Chords with more notes than players, where they are to be divided."""
    sections = (s for s in music.stands if s.section and s.family == "strings")
    for stand, grip in grips_of(sections, 3):
        if len(set(grip.heights)) > _hands(stand, grip):
            yield _hit(music, stand, grip)


def _hands(stand: Stand, grip: Grip) -> int:
    """Notes the section has hands for: one each, where it is not told to play together."""
    return stand.players if grip.first.hand.split == "div" else 4 * stand.players


def _hit(music: Music, stand: Stand, grip: Grip) -> Hit:
    count = len(set(grip.heights))
    known = music.ensemble is not None
    guess = "" if known else " (a section of ordinary size was taken; name the line-up to be sure)"
    return Hit(
        stand,
        grip.first.bar,
        grip.first.at,
        f"{count} notes ({names(grip)}) for {stand.players} players{guess}.",
        figure=f"{stand.players} players",
        severity=Severity.ERROR if known else Severity.WARNING,
    )


CHECK = Check(
    id="too-fine-divisi",
    title="Divided finer than there are players",
    finds="More notes at once in a divided section than it has players.",
    why="Some notes stay unplayed, and nobody knows which.",
    example="Six-part divisi for four double basses.",
    instead="Drop doubled notes of the chord or share them with the next section.",
    severity=Severity.ERROR,
    source="The line-up; without one, sections of a medium orchestra (Rimsky-Korsakov, memory).",
    detect=detect,
)
