"""More bars at once than mallets, and hands too far apart."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limit
from expander.checks.check import Check, Hit
from expander.checks.hands import in_order
from expander.checks.music import Head, Music, Stand
from expander.checks.struck import Grip, grips, names
from expander.checks.switching import cited
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Chords on mallet instruments with too many notes or too wide for a hand."""
    for stand in music.stands:
        if stand.instrument and limit("mallets", "most notes", stand.instrument):
            for grip in grips(stand, 2):
                yield from _many(stand, grip)
                yield from _wide(stand, grip)


def _many(stand: Stand, grip: Grip) -> Iterator[Hit]:
    assert stand.instrument is not None
    row = limit("mallets", "most notes", stand.instrument)
    heads = in_order(grip)
    if row is None or len(heads) <= int(row.value) * stand.players:
        return
    yield Hit(
        stand,
        grip.first.bar,
        grip.first.at,
        f"{names(grip)}: {len(heads)} notes at once; the most on the "
        f"{stand.instrument.name.lower()} is {row.value:g}.",
        figure=f"{row.value:g} notes",
        source=cited(row),
    )


def _wide(stand: Stand, grip: Grip) -> Iterator[Hit]:
    assert stand.instrument is not None
    row = limit("mallets", "span of a hand", stand.instrument)
    heads = in_order(grip)
    if row is None or not 3 <= len(heads) <= 4 or _in_reach(heads, float(row.value)):
        return
    yield Hit(
        stand,
        grip.first.bar,
        grip.first.at,
        f"{names(grip)}: two mallets of one hand would be more than an octave apart.",
        figure=f"{row.value:g} semitones a hand",
        severity=Severity.WARNING,
        source=cited(row),
    )


def _in_reach(heads: list[Head], span: float) -> bool:
    """True where the notes divide into two hands of at most two, each within the span."""
    return any(
        all(len(hand) <= 2 and (not hand or hand[-1].height - hand[0].height <= span)
            for hand in (heads[:cut], heads[cut:]))
        for cut in range(len(heads) + 1)
    )  # fmt: skip


CHECK = Check(
    id="mallet-notes",
    title="More notes than mallets",
    finds="More notes at once than mallets (error), or a hand wider than an octave (warning).",
    why="Two mallets on glockenspiel or xylophone, four on vibraphone or marimba, and no more.",
    example="A chord of five notes for vibraphone.",
    instead="Leave out doubled notes, roll from the lowest up, or ask for a second player.",
    severity=Severity.ERROR,
    source="S. Solomon, How to Write for Percussion (published) for four; two is common practice.",
    detect=detect,
)
