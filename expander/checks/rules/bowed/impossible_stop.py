"""Double, triple and quadruple stops that the left hand cannot play."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limit
from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.stopping import frame, open_strings, reach, spread, uses_thumb
from expander.checks.struck import Grip, grips_of, names
from expander.checks.switching import cited
from expander.model.finding import Severity
from expander.model.instrument import Instrument

WIDE = "the fingers would lie {0} semitones apart along the strings"
NO_STRINGS = "there are not enough neighbouring strings for these notes"


def detect(music: Music) -> Iterator[Hit]:
    """Chords without a fingering; a section that may divide is only asked to say so."""
    for stand, grip in grips_of((s for s in music.stands if s.family == "strings"), 2):
        if not _divided(stand, grip) and not grip.has("harmonic"):
            yield from _stop(stand, grip)


def _divided(stand: Stand, grip: Grip) -> bool:
    hand = grip.first.hand
    if hand.split in ("div",) or hand.label == "a 2":
        return True
    return stand.section and len(grip.chords) > 1 and hand.split != "non div"


def _stop(stand: Stand, grip: Grip) -> Iterator[Hit]:
    one = grip.first.hand.instrument
    if one is None or not one.strings or any(head.harmonic for head in grip.heads):
        return
    width = spread(grip.heights, open_strings(one), uses_thumb(one))
    if width is not None and width <= frame(one):
        return
    reason = NO_STRINGS if width is None else WIDE.format(width)
    impossible = width is None or width > reach(one)
    yield _hit(stand, grip, one, reason, impossible=impossible)


def _hit(stand: Stand, grip: Grip, one: Instrument, reason: str, *, impossible: bool) -> Hit:
    may_divide = stand.section and grip.first.hand.split != "non div"
    row = limit("stops", "finger offset", one)
    advice = "; mark it 'div.'" if may_divide else ""
    return Hit(
        stand,
        grip.first.bar,
        grip.first.at,
        f"{names(grip)} at once on the {one.name.lower()}: {reason}{advice}.",
        pitch=str(grip.heads[0].written) if len(grip.heads) == 1 else "",
        figure=f"{frame(one):g} semitones",
        severity=Severity.ERROR if impossible and not may_divide else Severity.WARNING,
        source=cited(row) if row else "",
    )


CHECK = Check(
    id="impossible-stop",
    title="Chord that cannot be stopped",
    finds="Notes at once that have no strings of their own (error) or are too far apart (warning).",
    why="One string gives one note, and the hand spans about a fourth along the strings.",
    example="A violin with A3 and C4 at once: both lie on the lowest string only.",
    instead="Divide the section, break the chord, or use a chord with an open string.",
    severity=Severity.ERROR,
    source="Tunings and C. Forsyth, Orchestration, pp. 316-317 (published); the frame of the hand "
    "is common practice.",
    detect=detect,
)
