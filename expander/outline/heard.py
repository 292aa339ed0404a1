"""What sounds where harmonics are written: the listener's heights, not the fingers'."""

from __future__ import annotations

from expander.checks.music import Chord

TWO_OCTAVES = 24
"""A touched fourth sounds two octaves above the stopped note (the fourth partial)."""


def heights(chord: Chord) -> tuple[int, ...]:
    """Sounding heights of a chord: of an artificial harmonic the sound, once."""
    kinds = {head.harmonic for head in chord.heads}
    if "sound" in kinds:
        return tuple(h.height for h in chord.heads if h.harmonic not in ("base", "touch"))
    if "base" in kinds:
        return tuple(
            head.height + (TWO_OCTAVES if head.harmonic == "base" else 0)
            for head in chord.heads
            if head.harmonic != "touch"
        )
    return tuple(head.height for head in chord.heads)
