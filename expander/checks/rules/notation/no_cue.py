"""Entries after a long rest without a cue, in parts."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music
from expander.model.finding import Severity

NEAR = 3
"""Bars before the entry in which the cue should stand."""


def detect(music: Music) -> Iterator[Hit]:
    """In a single player's part: entries after eight bars of rest and more without cue notes."""
    if music.full:
        return
    rest = int(figure("no-cue", "rest"))
    for stand in music.stands:
        before = -1
        for chord in stand.chords:
            empty = chord.bar - before - 1
            cued = stand.cued & frozenset(range(chord.bar - NEAR, chord.bar + 1))
            if empty >= rest and not cued:
                yield Hit(
                    stand,
                    chord.bar,
                    chord.at,
                    f"an entry after {empty} bars of rest without a cue.",
                    pitch=str(chord.top.written) if chord.heads else "",
                    figure=f"{rest} bars",
                )
            before = chord.bar


CHECK = Check(
    id="no-cue",
    title="No cue before an entry",
    finds="In a part: an entry after eight bars of rest or more with no cue notes before it.",
    why="Counting goes wrong; a cue tells the player where the music is.",
    example="A trombone part with 40 bars of rest and then a fortissimo entry.",
    instead="Put the most prominent line of the bars before in small notes over the rests.",
    severity=Severity.NOTE,
    source="Librarians' guidelines for parts; eight bars are common practice.",
    detect=detect,
)
