"""More percussion at once than hands or players."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity
from expander.model.instrument import Ensemble

UNPITCHED = "unpitched percussion"


def detect(music: Music) -> Iterator[Hit]:
    """Strokes at once beyond a player's hands, and parts at once beyond the players."""
    for stand in music.stands:
        if stand.family == UNPITCHED:
            yield from _hands(stand)
    if music.ensemble:
        yield from _players(music, music.ensemble)


def _hands(stand: Stand) -> Iterator[Hit]:
    """Too many sounds struck together on one stave."""
    assert stand.instrument is not None
    hands = max(stand.instrument.at_once, int(figure("percussion-players", "hands")))
    most = hands * stand.players
    main = (chord for chord in stand.chords if chord.event.grace is None and chord.struck)
    for _, group in groupby(main, key=lambda chord: chord.start):
        chords = tuple(group)
        count = len({drum for chord in chords for drum in chord.drums})
        if count > most:
            yield Hit(
                stand,
                chords[0].bar,
                chords[0].at,
                f"{count} instruments are struck at once; {stand.players} "
                f"player{'s have' if stand.players > 1 else ' has'} {most} hands or feet for them.",
                figure=f"{most} at once",
            )


def _players(music: Music, line_up: Ensemble) -> Iterator[Hit]:
    """The first bar of each stretch in which more percussion parts play than players are there."""
    players = sum(p.size for p in line_up.players if p.instrument.family.endswith("percussion"))
    stands = [s for s in music.stands if s.family.endswith("percussion")]
    if not players or len(stands) <= players:
        return
    busy: dict[int, list[Chord]] = {}
    for stand in stands:
        for bar, chords in groupby(stand.chords, key=lambda chord: chord.bar):
            busy.setdefault(bar, []).append(next(chords))
    before = -2
    for bar in sorted(busy):
        if len(busy[bar]) > players:
            if bar > before + 1:
                yield Hit(None, bar, 0, f"{len(busy[bar])} percussion parts play in this bar; the "
                          f"line-up has {players} players.", figure=f"{players} players",
                          severity=Severity.WARNING)  # fmt: skip
            before = bar


CHECK = Check(
    id="percussion-players",
    title="More percussion than players",
    finds="More instruments struck at once than hands (error); more parts than players (warning).",
    why="Two hands, and for the drum set two feet; nobody else stands there.",
    example="Three cymbals of different kinds on one beat for one player.",
    instead="Spread the strokes over several players or let one of them go.",
    severity=Severity.ERROR,
    source="Common practice, no source; the line-up for the players.",
    detect=detect,
)
