"""More notes at once than the players can sound."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.struck import Grip, grips, names
from expander.model.finding import Severity

WINDS = ("woodwind", "brass")
EVERY = 3
"""So many places are told one by one; where there are more, the part is for several players."""


def detect(music: Music) -> Iterator[Hit]:
    """Notes struck together beyond one for each player of a wind part."""
    for stand in music.stands:
        if stand.family in WINDS:
            found = [grip for grip in grips(stand, 2) if _count(grip) > stand.players]
            yield from (_hit(stand, grip) for grip in found[:EVERY])
            if len(found) > EVERY:
                yield _many(stand, found)


def _count(grip: Grip) -> int:
    return len({head.height for head in grip.heads})


def _hit(stand: Stand, grip: Grip) -> Hit:
    players = f"{stand.players} players" if stand.players > 1 else "one player"
    return Hit(
        stand,
        grip.first.bar,
        grip.first.at,
        f"{names(grip)} at once, and the part is for {players}.",
        pitch=str(grip.heads[-1].written),
        figure=players,
        severity=Severity.ERROR if stand.numbers else Severity.WARNING,
    )


def _many(stand: Stand, found: list[Grip]) -> Hit:
    most = max(_count(grip) for grip in found)
    return Hit(
        stand,
        found[EVERY].first.bar,
        found[EVERY].first.at,
        f"{len(found) - EVERY} more places with up to {most} notes at once; if several players "
        "read this stave, say so in its name.",
        figure="one note a player",
        severity=Severity.WARNING,
    )


CHECK = Check(
    id="several-notes",
    title="More notes than players",
    finds="More notes at once than the wind players of a part can sound.",
    why="A wind player has one note at a time.",
    example="A chord of three notes in 'Horns 1. 2.'.",
    instead="Name all players in the part's name, or give the notes to others.",
    severity=Severity.ERROR,
    source="One note a player (common practice).",
    detect=detect,
    levels="An error where the name counts its players, else a warning.",
)
