"""Chords on keyboards that two hands cannot take."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.hands import fits_two_hands, in_order
from expander.checks.music import Music, Stand
from expander.checks.struck import Grip, grips, names
from expander.model.finding import Severity

ROLLED = ("arpeggiate", "glissando", "slide")
PEDALBOARD = "organ"


def detect(music: Music) -> Iterator[Hit]:
    """Chords with too many notes for ten fingers, or too wide for the hands."""
    for stand in music.stands:
        if stand.family == "keyboard" and stand.instrument and stand.instrument.id != PEDALBOARD:
            for grip in grips(stand, 2):
                yield from _hit(music, stand, grip)


def _hit(music: Music, stand: Stand, grip: Grip) -> Iterator[Hit]:
    fingers, span = int(figure("keyboard-span", "fingers")), figure("keyboard-span", music.level)
    heads = in_order(grip)
    if fits_two_hands(heads, fingers, span) or grip.has(*ROLLED):
        return
    many = len(heads) > 2 * fingers
    wide = not fits_two_hands(heads, fingers, figure("keyboard-span", "beyond"))
    yield Hit(
        stand,
        grip.first.bar,
        grip.first.at,
        f"{names(grip)}: "
        + ("more notes than ten fingers have." if many else "too wide for two hands at once."),
        figure=f"{2 * fingers} notes" if many else f"{span:.0f} letter steps a hand",
        severity=Severity.ERROR if many or wide else Severity.WARNING,
    )


CHECK = Check(
    id="keyboard-span",
    title="Chord too wide or too full for two hands",
    finds="Notes struck together that no division between two hands can reach.",
    why="The player breaks the chord or leaves notes out, not the ones you would choose.",
    example="C2, E4, C6 and E7 struck together.",
    instead="Roll the chord, move the outer notes in, or give the bass note to the pedal.",
    severity=Severity.ERROR,
    source="Common practice, no source: a tenth for professionals, a ninth and an octave below.",
    detect=detect,
    levels="The widest hand is a tenth, for amateurs a ninth, for students an octave.",
)
