"""Marks that have two ends: over a staff hairpins, dashes, brackets, octave lines, pedals.

A pedal line may be broken off and taken up again (`discontinue`, `resume`; MusicXML 4.0,
pedal-type): each stretch has its two ends, and a lift may follow the last of them.
"""

from __future__ import annotations

from expander.model.marks import Mark

SPANNING = frozenset({"wedge", "dashes", "bracket", "octave-shift", "pedal"})
"""The MusicXML names of such directions."""

BEGINNING = frozenset({"start", "crescendo", "diminuendo", "up", "down", "sostenuto", "resume"})
ENDING = frozenset({"stop", "discontinue"})

Span = tuple[str, str]
"""What both ends have in common: the name of the mark and its number."""


def span_of(mark: Mark) -> Span:
    """The span that a mark belongs to, among those of one part."""
    return mark.name, mark.get("number", "1")


def begins(mark: Mark) -> bool:
    """True for a beginning."""
    return mark.get("type") in BEGINNING


def ends(mark: Mark) -> bool:
    """True for an end."""
    return mark.get("type") in ENDING


def breaks_off(mark: Mark) -> bool:
    """True for an end after which the pedal is still to be lifted, or its line to go on."""
    return mark.get("type") == "discontinue"


def alternates(mark: Mark) -> bool:
    """True for one end of a tremolo between two notes."""
    return mark.name == "tremolo" and mark.get("type") in ("start", "stop")
