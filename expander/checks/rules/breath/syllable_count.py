"""Notes and syllables that do not come out even."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Music, Stand, Voice, lines
from expander.checks.phrasing import joints
from expander.model.finding import Severity
from expander.model.pitch import Written
from expander.model.score import Event


def detect(music: Music) -> Iterator[Hit]:
    """Within phrases: unslurred notes without syllable, and new syllables under a slur."""
    for stand, voice in lines(s for s in music.stands if s.sung and _uses_slurs(s)):
        if any(chord.event.lyrics for chord in voice.chords):
            yield from _uneven(music, stand, voice)


def _uses_slurs(stand: Stand) -> bool:
    """Without slurs at all the edition shows melismas another way."""
    return "slur" in stand.contents.marks and any(chord.has("slur") for chord in stand.chords)


def _uneven(music: Music, stand: Stand, voice: Voice) -> Iterator[Hit]:
    slurred = drawn = True
    for joint in joints(music, voice):
        chord = joint.chord
        fresh = chord.struck and not chord.event.grace
        if chord.event.lyrics:
            drawn = _extended(chord.event)
        elif fresh and not slurred and not drawn and not _beamed_on(chord):
            yield _hit(stand, chord, "a note without syllable, slur or extender")
        slurred = joint.slurred or joint.tied
        drawn = drawn and joint.silence <= 0


def _extended(event: Event[Written]) -> bool:
    """True where a line or a hyphen leads on from the syllable."""
    return any(
        lyric.syllabic in ("begin", "middle") or "<extend" in lyric.mark.inner
        for lyric in event.lyrics
    )


def _beamed_on(chord: Chord) -> bool:
    """True inside a beam, which joins the notes of one syllable in older vocal engraving."""
    return any(beam.text in ("continue", "end") for beam in chord.event.beams)


def _hit(stand: Stand, chord: Chord, what: str) -> Hit:
    pitch = str(chord.top.written) if chord.heads else ""
    return Hit(stand, chord.bar, chord.at, f"{what}.", pitch=pitch, figure="a syllable a note")


CHECK = Check(
    id="syllable-count",
    title="More notes than syllables",
    finds="A note inside a phrase with neither syllable nor slur, hyphen or extender line.",
    why="The singer does not know whether the syllable before goes on or one is missing.",
    example="Four quarters over three syllables, none of them slurred.",
    instead="Slur the notes of one syllable, add the extender, or the missing syllable.",
    severity=Severity.NOTE,
    source="Common practice, no source.",
    detect=detect,
)
