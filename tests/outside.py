"""Independent readers of what we write: three libraries that know nothing of this package.

All readers answer in one form, so that answers can be compared: a sorted list of attacks
`(part index, onset in quarters from the start of the file, sounding MIDI key)`.

Where the readers' conventions differ, this file settles them:
- Ties: a note that continues a tie is no attack.
- Grace notes are attacks at the place of the note they lead to (after-graces: where they end).
- Cue notes count: only our model tells them from others.
- Unpitched notes are left out: each library gives them another number.
- Chord symbols are left out (music21 counts them among the notes).
- Repeats are not played out.
- A part of several staves is one part (music21 makes each staff a part).
- Pickups: partitura counts quarters from the first full bar, music21 gives a whole-bar rest in a
  pickup the length of a full bar. Onsets here are bar starts added up from the music in the bars.
- Transposition: music21 converts to sounding pitch. partitura (1.9) gives written pitch and loses
  `octave-change`, so the part's `<transpose>` elements are read here with the standard library.
- Quarter tones are rounded down to the key below.
"""

from __future__ import annotations

import math
import os
import tempfile
import warnings
import xml.etree.ElementTree as ET
from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

from expander.model.pitch import CONCERT, Drum, Transposition
from expander.model.score import Document, Part

Attack = tuple[int, Fraction, int]

_FINEST = 40320  # the common denominator that float onsets are taken back to


def our_pitches(score: Document) -> list[Attack]:
    """The attacks a document holds, from its values alone."""
    found = [
        (number, Fraction(score.bars[index].start + at, score.grid), key)
        for number, part in enumerate(score.parts)
        for index, at, key in _part_attacks(part)
    ]
    return sorted(found)


def _part_attacks(part: Part) -> Iterator[tuple[int, int, int]]:
    moves: list[tuple[tuple[int, int], Transposition]] = [((0, 0), CONCERT)]
    moves += [
        ((index, change.at), change.what)
        for index, bar in enumerate(part.bars)
        for change in bar.changes
        if isinstance(change.what, Transposition)
    ]
    places = [place for place, _ in moves]
    for index, bar in enumerate(part.bars):
        for event in (e for layer in bar.layers for e in layer):
            by = moves[bisect_right(places, (index, event.at)) - 1][1]
            for note in event.notes:
                if not note.tie_stop and not isinstance(note.pitch, Drum):
                    key = note.pitch.semitone + by.chromatic + 12 * by.octave
                    yield index, event.at, math.floor(key)


# music21 ---------------------------------------------------------------------------------------


def music21_pitches(xml: bytes) -> list[Attack]:
    """The attacks music21 reads."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parseData(xml, format="musicxml", forceSource=True)
    parts = list(score.parts)
    starts = _bar_starts(parts)
    indices = _part_indices([str(p.id) for p in parts])
    found = [
        (index, starts[number] + offset, key)
        for index, part in zip(indices, parts, strict=True)
        for number, bar in enumerate(part.toSoundingPitch().getElementsByClass("Measure"))
        for offset, key in _bar_attacks(bar)
    ]
    return sorted(found)


def _part_indices(ids: list[str]) -> list[int]:
    """The index of the document's part for each of music21's staves."""
    order: list[str] = []
    for name in ids:
        whole = name.split("-Staff")[0]
        if whole not in order:
            order.append(whole)
    return [order.index(name.split("-Staff")[0]) for name in ids]


def _bar_starts(parts: list[Any]) -> list[Fraction]:
    starts = [Fraction(0)]
    for bars in zip(*(p.getElementsByClass("Measure") for p in parts), strict=True):
        full = exact(bars[0].barDuration.quarterLength)
        ends = [end for bar in bars for end in _ends(bar)]
        starts.append(starts[-1] + max(ends, default=full))
    return starts


def _ends(bar: Any) -> Iterator[Fraction]:
    for element in bar.recurse().notesAndRests:
        whole = element.isRest and element.fullMeasure is True
        if not whole and "Harmony" not in element.classes:
            yield exact(element.getOffsetInHierarchy(bar)) + exact(element.quarterLength)


def _bar_attacks(bar: Any) -> Iterator[tuple[Fraction, int]]:
    for element in bar.recurse().notes:
        if "Harmony" in element.classes or "Unpitched" in element.classes:
            continue
        offset = exact(element.getOffsetInHierarchy(bar))
        for note in element.notes if element.isChord else (element,):
            continues = note.tie is not None and note.tie.type in ("stop", "continue")
            if not continues and hasattr(note, "pitch"):
                yield offset, math.floor(note.pitch.ps)


def exact(number: float | Fraction) -> Fraction:
    """A library's onset or length as the fraction it stands for."""
    return Fraction(number).limit_denominator(_FINEST)


# partitura -------------------------------------------------------------------------------------


def partitura_pitches(xml: bytes) -> list[Attack]:
    """The attacks partitura reads, with its written pitches moved to sounding ones."""
    import partitura

    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path = Path(folder) / "score.musicxml"
        path.write_bytes(xml)
        score = partitura.load_musicxml(str(path))
    moves = _moves(xml)
    found: list[Attack] = []
    for index, part in enumerate(score.parts):
        origin = Fraction(float(part.quarter_map(0))).limit_denominator(_FINEST)
        for note in part.notes:
            if note.tie_prev is None and type(note).__name__ != "UnpitchedNote":
                quarters = exact(float(part.quarter_map(note.start.t))) - origin
                found.append((index, quarters, _sounding(note.midi_pitch, quarters, moves[index])))
    return sorted(found)


Moves = list[tuple[Fraction, int]]
"""Where a part's transposition changes, and the semitones it then sounds from written."""


def _sounding(key: int, quarters: Fraction, moves: Moves) -> int:
    return key + moves[bisect_right([place for place, _ in moves], quarters) - 1][1]


def _moves(xml: bytes) -> list[Moves]:
    return [_part_moves(part) for part in ET.fromstring(xml).iter("part")]


def _part_moves(part: ET.Element) -> Moves:
    moves: Moves = [(Fraction(-1), 0)]
    divisions, at = 1, Fraction(0)
    for bar in part.iter("measure"):
        start = end = at
        for element in bar:
            divisions = int(element.findtext("divisions") or divisions)
            for transpose in element.findall("transpose"):
                moves.append((at, _semitones(transpose)))
            at += _step(element, divisions)
            end = max(end, at)
        at = max(end, start)
    return moves


def _semitones(transpose: ET.Element) -> int:
    octaves = int(transpose.findtext("octave-change") or 0)
    return int(transpose.findtext("chromatic") or 0) + 12 * octaves


def _step(element: ET.Element, divisions: int) -> Fraction:
    """How far an element of a bar moves the place: forwards, backwards or not at all."""
    sign = {"note": 1, "forward": 1, "backup": -1}.get(element.tag, 0)
    if element.find("chord") is not None or element.find("grace") is not None:
        return Fraction(0)
    return sign * Fraction(element.findtext("duration") or 0) / divisions


# verovio ---------------------------------------------------------------------------------------


def verovio_engraves(xml: bytes) -> list[str]:
    """The warnings and errors of engraving; an error of our own where no page comes out."""
    pages, lines = verovio_pages(xml)
    return lines if pages else [*lines, "[Error] no page was engraved"]


def verovio_pages(xml: bytes) -> tuple[int, list[str]]:
    """How many pages verovio engraves, and what it complains of on the way.

    Its messages go past Python to the process's standard error, which is turned aside meanwhile.
    """
    import verovio

    verovio.enableLog(verovio.LOG_WARNING)
    saved = os.dup(2)
    with tempfile.TemporaryFile() as aside:
        os.dup2(aside.fileno(), 2)
        try:
            pages = _engrave(verovio.toolkit(), xml)
        finally:
            os.dup2(saved, 2)
            os.close(saved)
        aside.seek(0)
        text = aside.read().decode("utf-8", "replace")
    return pages, [line for line in text.splitlines() if line.strip()]


def _engrave(toolkit: Any, xml: bytes) -> int:
    if not toolkit.loadData(xml.decode("utf-8")):
        return 0
    count = int(toolkit.getPageCount())
    return sum(1 for page in range(1, count + 1) if "<svg" in toolkit.renderToSVG(page))
