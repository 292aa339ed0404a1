"""Parts for the rhythm section: slashes to play time on, and the band's kicks above them.

A slash is a note with a slash head on the middle line, without stem, one for each beat.
MusicXML also has `measure-style/slash`, which asks a program to draw slashes over whatever the
bar holds; heads say the same in a way every reader shows, and leave the kicks beside them
alone. They are unpitched, so that no transposition moves them and no check takes them for
notes, and silent in playback. Chord symbols are the part's business, not the strand's. Kicks are
cue-size notes above the staff with the rhythm of a given strand (common practice; the symbols as
explained at drum.town, "Reading Complex Charts").
"""

from __future__ import annotations

from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events, Strand
from expander.model.score import Bar, Event, Mark, Note, Sketch
from expander.model.values import beat_places, single_value
from expander.voicing.built import Built, metre_shift

SLASH = Mark("note", "notehead", (), "slash")
MIDDLE_LINE = Drum(6, 4)
ABOVE_STAFF = Drum(4, 5)
SILENT = (("dynamics", "0"),)
"""Played back at no strength: what a slash sounds like is up to the player."""

_KEPT = frozenset({"tuplet", "fermata"})
_BREATHS = frozenset({"breath-mark", "caesura"})


def slashes(name: str, sketch: Sketch, bars: range, kicks: Strand | None = None) -> Built:
    """A strand of slashes in `bars`, one a beat, with the rhythm of `kicks` above.

    With kicks the first layer of each bar holds them, cue-size notes above the staff, and the
    second the slashes; without, the slashes are alone. Pickup bars have no slashes. Both stand on
    treble staff places (middle line, and the space above the fifth line), which a part writes in
    its own clef.
    """
    found: dict[int, tuple[Events, ...]] = {}
    for index in bars:
        bar = sketch.bars[index]
        above = _kicks(kicks, index) if kicks else ()
        time = () if metre_shift(bar) else _time(bar, sketch.grid)
        if time or above:
            found[index] = (above, time) if kicks else (time,)
    return Built(Strand(name, found, built=True, slashes=True))


def _time(bar: Bar, grid: int) -> Events:
    head: Note[Sounding] = Note(MIDDLE_LINE, head=SLASH)
    return tuple(
        Event(at, ticks, (head,), single_value(ticks, grid), stem="none", attributes=SILENT)
        for at, ticks in beat_places(bar.time, grid, bar.length)
    )


def _kicks(kicks: Strand, index: int) -> Events:
    """The first layer's notes of a bar as cue-size notes; a bar without notes has none."""
    layers = kicks.bars.get(index, ())
    events = [e for e in layers[0] if not e.grace] if layers else []
    if not any(e.notes for e in events):
        return ()
    return tuple(_kick(event) for event in events)


def _is_accent(mark: Mark) -> bool:
    return mark.name in _KEPT or (mark.group == "articulations" and mark.name not in _BREATHS)


def _kick(event: Event[Sounding]) -> Event[Sounding]:
    """One note of a kick, or its rest: rhythm, ties and accents without pitch and words."""
    marks = tuple(m for m in event.marks if _is_accent(m))
    plain = replace(
        event, cue=True, lyrics=(), beams=(), marks=marks, attributes=SILENT, carried=()
    )
    if event.is_rest:
        return replace(plain, whole_bar=False, attributes=())
    note: Note[Sounding] = Note(
        ABOVE_STAFF,
        tie_start=any(n.tie_start for n in event.notes),
        tie_stop=any(n.tie_stop for n in event.notes),
    )
    return replace(plain, notes=(note,), stem="up")
