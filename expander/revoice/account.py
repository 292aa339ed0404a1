"""What became of every note of the original: kept, doubled by one that is kept, or left out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct

from expander.ledger import beat
from expander.model.finding import Finding, Ledger, LostNote, Severity
from expander.model.score import Document, Sketch
from expander.model.walk import notes_of
from expander.revoice.casting import Cast
from expander.revoice.lines import FullScore, Line
from expander.revoice.roles import Voice
from expander.sounding import Origin, origins

SAID = {
    "tune": "tune",
    "bass": "bass",
    "counter": "counter-line",
    "inner": "inner part",
    "figure": "rhythmic figure",
    "percussion": "drum part",
}
NOT_TAKEN = "its player was given something else by the rules"


class Accounted(Struct, frozen=True):
    """The ledger and a finding for each part's notes left out in a bar.

    In the ledger `placed` are the notes kept, `replaced` those doubled by a note that is kept.
    """

    ledger: Ledger
    findings: tuple[Finding, ...]
    kept: frozenset[int]
    doubled: frozenset[int]


def account(score: FullScore, lines: Sequence[Line], cast: Cast, written: Document) -> Accounted:
    """Follow every note of the original into the score that was written."""
    known = origins(score.sketch)
    kept, beside = heads(written)
    doubled = beside - kept
    reasons = _reasons(lines, cast)
    lost = [o for n, o in known.items() if n not in kept and n not in doubled]
    unplaced = tuple(lost_note(score.sketch, o, reasons.get(o.number, NOT_TAKEN)) for o in lost)
    ledger = Ledger(
        notes=len(known),
        placed=len(known.keys() & kept),
        replaced=len(known.keys() & doubled),
        unplaced=unplaced,
    )
    findings = _findings(score, lost, unplaced)
    return Accounted(ledger, findings, frozenset(kept), frozenset(doubled))


def heads(written: Document) -> tuple[set[int], set[int]]:
    """Numbers of notes that stand as heads of their own, and of those that heads stand for too."""
    own: set[int] = set()
    beside: set[int] = set()
    for note in notes_of(written):
        own.add(note.origin)
        beside.update(note.also)
    return own, beside


def _reasons(lines: Sequence[Line], cast: Cast) -> dict[int, str]:
    found: dict[int, str] = {}
    for bar, voice in cast.left:
        text = f"no player is left for this {SAID[voice.role]}"
        for origin in _origins(voice, bar, lines):
            found.setdefault(origin, text)
    return found


def _origins(voice: Voice, bar: int, lines: Sequence[Line]) -> Iterator[int]:
    cells = (lines[number].cells[bar] for number in voice.group.everybody)
    return (n for cell in cells for e in cell for note in e.notes for n in note.origins)


def lost_note(sketch: Sketch, origin: Origin, reason: str) -> LostNote:
    """The entry of the ledger for a note, in terms of the original's staves and bars."""
    return LostNote(
        staff=origin.staff,
        layer=origin.layer,
        bar=sketch.bars[origin.bar].number,
        beat=beat(sketch, origin.bar, origin.at),
        pitch=str(origin.pitch),
        reason=reason,
    )


def _findings(
    score: FullScore, lost: Sequence[Origin], told: Sequence[LostNote]
) -> tuple[Finding, ...]:
    """One finding for what a stave loses in a bar for one reason."""
    names = _stave_names(score)
    together: dict[tuple[int, int, str], list[LostNote]] = {}
    for origin, note in zip(lost, told, strict=True):
        together.setdefault((origin.bar, note.staff, note.reason), []).append(note)
    return tuple(
        _finding(names[staff], notes, bar, reason)
        for (bar, staff, reason), notes in sorted(together.items())
    )


def _finding(name: str, notes: Sequence[LostNote], index: int, reason: str) -> Finding:
    pitches = ", ".join(dict.fromkeys(note.pitch for note in notes))
    count = f"{len(notes)} notes ({pitches})" if len(notes) > 1 else pitches
    verb = "are" if len(notes) > 1 else "is"
    return Finding(
        check="left-out",
        severity=Severity.WARNING,
        message=f"{count} of {name} in bar {notes[0].bar} {verb} left out: {reason}.",
        part=name,
        bar=notes[0].bar,
        beat=notes[0].beat,
        pitch=notes[0].pitch,
        index=index,
    )


def _stave_names(score: FullScore) -> Mapping[int, str]:
    """The name of the part to which each stave of the score belongs."""
    names: dict[int, str] = {}
    for owner, part in zip(score.owners, score.sketch.parts, strict=True):
        for _ in range(part.staves):
            names[len(names) + 1] = owner.name
    return names
