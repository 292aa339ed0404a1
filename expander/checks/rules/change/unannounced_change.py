"""Changes of instrument that nobody tells the player of."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figures
from expander.checks.music import InHand, Music, Stand
from expander.model.finding import Severity
from expander.model.pitch import Transposition


def detect(music: Music) -> Iterator[Hit]:
    """Changes without words at the entry, without warning before, and silent crooks."""
    for stand in music.stands:
        if stand.instrument is None:
            continue
        for change in (c for c in stand.changes[1:] if c.start):
            yield from _unsaid(stand, change)
        yield from _silent_crooks(music, stand)


def _unsaid(stand: Stand, change: InHand) -> Iterator[Hit]:
    name = change.instrument.name
    if not change.said:
        message = f"the transposition becomes that of the {name.lower()}, and no words say so."
        yield Hit(stand, change.bar, change.at, message, figure=name)
    elif not _warned(stand, change):
        message = f"{name} is taken here; no words after the last note before warn the player."
        yield Hit(stand, change.bar, change.at, message, figure=f"to {name}",
                  severity=Severity.NOTE)  # fmt: skip


def _warned(stand: Stand, change: InHand) -> bool:
    beginnings = tuple(figures()["announced"]["begins"])
    earlier = [c.start for c in stand.changes if c.start < change.start]
    since = earlier[-1] if earlier else 0
    return any(
        since <= w.start <= change.start and w.plain.startswith(beginnings) for w in stand.words
    )


def _silent_crooks(music: Music, stand: Stand) -> Iterator[Hit]:
    """Changes of transposition of the same instrument without any words."""
    known = {change.start for change in stand.changes}
    last = 0
    now = stand.move
    for index, bar in enumerate(stand.part.bars):
        for change in bar.changes:
            what = change.what
            if not isinstance(what, Transposition) or what == now:
                continue
            tick = music.score.bars[index].start + change.at
            said = any(last <= w.start <= tick for w in stand.words)
            if tick and tick not in known and not said:
                yield Hit(stand, index, change.at, "the transposition changes, and no words say "
                          "which instrument or key is meant.", figure="words")  # fmt: skip
            last, now = tick, what


CHECK = Check(
    id="unannounced-change",
    title="Change of instrument not announced",
    finds="A change of instrument or key without words at the entry, or without warning (note).",
    why="The player reads on with the wrong instrument in hand, or finds out too late.",
    example="A clarinet part whose transposition changes from B flat to A without a word.",
    instead="Write 'to Clarinet in A' after the last note and 'Clarinet in A' at the entry.",
    severity=Severity.WARNING,
    source="Common practice, no source.",
    detect=detect,
)
