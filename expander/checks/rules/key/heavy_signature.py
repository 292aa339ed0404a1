"""Key signatures with more accidentals than an enharmonic one."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.model.finding import Severity

MOST = 6


def detect(music: Music) -> Iterator[Hit]:
    """Signatures of seven and more in transposing parts, once where they begin."""
    for stand in music.stands:
        before: int | None = 0
        for bar, hand in enumerate(stand.hands):
            fifths = hand.fifths
            if fifths is not None and abs(fifths) > MOST and fifths != before:
                other = fifths - 12 if fifths > 0 else fifths + 12
                kind = "flats" if other < 0 else "sharps"
                yield Hit(
                    stand,
                    bar,
                    0,
                    f"the signature has {abs(fifths)} accidentals; {abs(other)} {kind} would say "
                    "the same.",
                    figure=f"{abs(other)} {kind}",
                )
            before = fifths


CHECK = Check(
    id="heavy-signature",
    title="Signature with seven accidentals",
    finds="A key signature of seven or more where the enharmonic key has fewer.",
    why="It costs rehearsal time and reads badly in a transposing part.",
    example="A clarinet in B flat with seven sharps in a piece in B major.",
    instead="Write the part in the enharmonic key.",
    severity=Severity.NOTE,
    source="Common practice: no more than six where the enharmonic key has fewer.",
    detect=detect,
)
