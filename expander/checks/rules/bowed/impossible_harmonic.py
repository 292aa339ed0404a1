"""Harmonics that do not exist or lie out of reach."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limit, limits
from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Head, Music, Stand, lines
from expander.checks.stopping import open_strings
from expander.checks.switching import cited
from expander.model.finding import Severity
from expander.model.instrument import Instrument

TOUCHED = {4: "touched major third", 5: "touched fourth", 7: "touched fifth"}
"""Semitones from the stopped to the touched note, and the catalogue's word for each."""

NODES = {12: 2, 7: 3, 19: 3, 5: 4, 24: 4, 4: 5, 9: 5, 16: 5, 28: 5, 3: 6, 31: 6, 34: 7, 36: 8}
"""Semitones above the open string at which a partial is touched, or sounds."""


SAFE = 6
"""The highest partial that is not remarked on in any case."""


def detect(music: Music) -> Iterator[Hit]:
    """Marked harmonics without a node under the finger."""
    for stand, voice in lines(filter(_may_have_some, music.stands)):
        for chord in voice.chords:
            if any(h.harmonic for h in chord.heads) and chord.struck:
                yield from _faults(stand, chord)


def _may_have_some(stand: Stand) -> bool:
    """True for strings with marks of harmonics, or with noteheads that may stand for them."""
    contents = stand.contents
    if stand.family != "strings":
        return False
    return contents.heads or "harmonic" in contents.marks | contents.marks_of_notes


def _faults(stand: Stand, chord: Chord) -> Iterator[Hit]:
    one = chord.hand.instrument
    if one is None or not one.strings:
        return
    base, touch = _pair(chord)
    if base and touch:
        fault = _stopped_fault(one, base, touch)
        head = base
    else:
        head = next(h for h in chord.heads if h.harmonic)
        fault = _natural_fault(one, head) if head.harmonic in ("natural", "touch") else ""
    if fault:
        row = limit("stops", "stopped note of a harmonic", one)
        yield Hit(
            stand,
            chord.bar,
            chord.at,
            f"{fault}.",
            pitch=str(head.written),
            figure="a node of the string",
            severity=Severity.WARNING if fault.startswith("the hand") else Severity.ERROR,
            source=cited(row) if row else "",
        )


def _pair(chord: Chord) -> tuple[Head | None, Head | None]:
    """The stopped and the touched head of an artificial harmonic."""
    touch = next((h for h in chord.heads if h.harmonic == "touch"), None)
    base = next((h for h in chord.heads if h.harmonic == "base"), None)
    if touch and not base:
        base = next((h for h in chord.heads if not h.harmonic and h.height < touch.height), None)
    return base, touch


def _stopped_fault(one: Instrument, base: Head, touch: Head) -> str:
    interval = touch.height - base.height
    if interval not in TOUCHED:
        return f"no node lies {interval} semitones above the stopped {base.written}"
    lowest = open_strings(one)[0]
    if base.height < lowest:
        return f"the stopped {base.written} is below the lowest string"
    if limit("stops", "stopped harmonics", one):
        return f"the hand of a {one.name.lower()} player does not span a stopped harmonic"
    row = limit("stops", "stopped note of a harmonic", one)
    top = float(row.sounding()[1].semitone) if row else 1e9
    if base.height > top and base.height not in open_strings(one):
        return f"the stopped {base.written} is too high for a harmonic above it"
    return ""


def _natural_fault(one: Instrument, head: Head) -> str:
    rows = [r for r in limits("stops") if r.what == "highest partial" and r.holds_for(one)]
    highest = int(rows[0].value) if rows else SAFE
    partials = [NODES.get(head.height - string, 0) for string in open_strings(one)]
    found = min((partial for partial in partials if partial), default=0)
    if not found:
        return f"no string has a natural harmonic at {head.written}"
    if found > max(highest, SAFE):
        return f"the hand finds partial {found} ({head.written}) only as a soloist's"
    return ""


CHECK = Check(
    id="impossible-harmonic",
    title="Harmonic that does not exist",
    finds="A natural harmonic on no partial of any string, or a stopped one without a node.",
    why="The player touches the string where it does not ring; at best a squeak comes out.",
    example="A natural harmonic on F5 in a viola part.",
    instead="Use the stopped harmonic a fourth above a note two octaves lower.",
    severity=Severity.ERROR,
    source="Partials of the string (hansenmedia.net; F. H. Martens 1919, published); the reach of "
    "sections is common practice.",
    detect=detect,
)
