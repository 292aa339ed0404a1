"""Harp chords for more fingers or wider hands than there are."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limit
from expander.checks.check import Check, Hit
from expander.checks.hands import fits_two_hands, in_order
from expander.checks.music import Music, Stand
from expander.checks.struck import Grip, grips, names
from expander.checks.switching import cited
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Chords with more than four notes a hand, or wider than a tenth a hand."""
    for stand in music.stands:
        if stand.instrument and stand.instrument.id == "harp":
            for grip in grips(stand, 2):
                yield from _hit(stand, grip)


def _hit(stand: Stand, grip: Grip) -> Iterator[Hit]:
    assert stand.instrument is not None
    most = limit("harp", "notes a hand", stand.instrument)
    span = limit("harp", "span of a hand", stand.instrument)
    heads = in_order(grip)
    if most is None or span is None or grip.has("glissando"):
        return
    count, wide = int(most.value), float(span.value)
    if fits_two_hands(heads, count, wide):
        return
    many = len(heads) > 2 * count
    if not many and grip.has("arpeggiate"):
        return
    yield Hit(
        stand,
        grip.first.bar,
        grip.first.at,
        f"{names(grip)}: "
        + (
            f"{len(heads)} notes for two hands of {count} fingers."
            if many
            else f"no division between two hands gives at most {count} notes and a tenth to each."
        ),
        figure=f"{count} notes and {wide:.0f} letter steps a hand",
        severity=Severity.ERROR,
        source=cited(most),
    )


CHECK = Check(
    id="harp-hands",
    title="Harp chord beyond two hands",
    finds="More than four notes for a hand, or a hand wider than a tenth.",
    why="Harpists play with four fingers of each hand; the little finger is not used.",
    example="A chord of nine notes.",
    instead="Drop doubled notes, or roll the chord over more time.",
    severity=Severity.ERROR,
    source="harpinsideout.com; M. Zager, p. 120 (published); the tenth is common practice.",
    detect=detect,
)
