"""A mini-notation for music, so that a test case is a row of text.

    sketch('''Tune: @treble k-1 t3/4 | !p F4:q( G4 A4) | Bb4:h r:q || R''')

One line is one stave; bars are divided by `|`. `*:` at the start of a line means every stave
(keys, times and barlines go to all, marks to the top one), `+:` another stave of the part above.
A line that begins with `//` is a remark; one that ends in a backslash goes on in the next.

    Name (-1 -2 0):    a part; diatonic steps, semitones, octaves from written to sounding
    C4:q  Bb3:h.       pitch and value: b w h q e s t x = breve whole half quarter eighth 16th 32nd
                       64th, with dots; the value may be left out where it repeats. C4:3/2 is a
                       length in quarters without notated value
    C4+E4+G4:h         a chord            r:q    a rest
    R                  a whole-bar rest   _      no music in the layer;  _:q a gap that long
    C4~:q C4           a tie; C4~? and ?~C4 are ties that nothing answers
    3( C4:e D4 E4 )    a triplet, the closing sign apart; 5:4( ; 3?( ... ?) has no tuplet marks
    ^D5  ^/D5:s        a grace note (an eighth if nothing is said), with a slash
    C4:q(  D4:q)       a slur starts, ends; (2 )2 the second at once
    C4:q;.;>           articulations: . > ^ - !  and by name ;fermata ;trill-mark ;tremolo3
    C4\\fingering1:q     marks on one head; \\string2 \\harmonic[natural] \\glissando( \\glissando)
    C4*  C4**          accidental shown, shown in brackets;  C4*natural a wrong one
    C4%diamond  C4@2   notehead;  head on another staff
    x:q  xF4=P1-I2:q   unpitched, on the middle line or where said, with its sound
    ,C4:q              a cue note
    //                 next layer of the bar
    @bass k-2 k3:minor t6/8 tcut tr(0,0,1)    clef, key, time, transposition from here
    !p !sfz !< !> !.   dynamics; a hairpin opens, closes, ends
    "pizz." [A] <q=96> <pedal:start>          words, rehearsal mark, metronome, other directions
    {Dm7} {G7(b9)/B}   a chord symbol
    'Hel- '-lo 'word_ '2:word                 syllables after their note, extender, verse 2
    || |. |: :| volta1+ volta1-               barlines, repeats, endings (+ start, - stop)
    #12  #X1!          the bar's printed number; uncounted
    !p&3/2 "solo"&above                       at that quarter of the bar; placement

Marks stand before the note they begin with. A first bar shorter than its time is a pickup,
numbered 0. A bar is as long as its longest stave; R is as long as its bar. The time is 4/4 until
said otherwise. In a `sketch` pitches and keys are sounding, in a `document` as written.

`to_text` prints the canonical form: every value spelled out, marks in the order clef, key, time,
transposition, chord symbol, directions. Not covered: beams, stems, credits, sounds, layout,
quarter tones, nested tuplets.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from difflib import unified_diff

from msgspec.structs import replace

from expander.model.pitch import Pitch, Sounding, Written
from expander.model.score import Document, Event, Note, Score, Sketch
from tests.mini_printing import written_out
from tests.mini_reading import read

ALL = ("accidentals", "placement", "sound")


def sketch(text: str) -> Sketch:
    """A sketch: pitches sounding, its notes numbered from 0 as the ledger wants them."""
    return numbered(read(text, Sounding))


def document(text: str) -> Document:
    """A score as it stands on paper."""
    return read(text, Written)


def to_text(score: Score, show: Collection[str] = ALL) -> str:
    """A score in canonical form; `show` names the optional things to print (see `ALL`)."""
    return "\n".join(written_out(score, show))


def rows(score: Score, show: Collection[str] = ALL) -> dict[str, str]:
    """Each part's text by the part's name; its staves one under the other."""
    found = {}
    for part in score.parts:
        lines = written_out(replace(score, parts=(part,)), show)
        found[part.name] = "\n".join(lines)
    return found


def canonical(text: str, show: Collection[str] = ALL) -> str:
    """A document's text in canonical form, for comparing."""
    return to_text(document(text), show)


def difference(expected: str, actual: str) -> str:
    """A unified diff of two texts, bar by bar; empty where they are equal."""
    lines = [_bar_lines(text) for text in (expected, actual)]
    return "\n".join(unified_diff(*lines, "expected", "actual", lineterm="", n=1))


def _bar_lines(text: str) -> list[str]:
    """One bar a line, each with the name of its stave."""
    found = []
    for line in text.splitlines():
        name, _, body = line.partition(": ")
        bars = re.split(r" (?=(?::\||\|:|\|\||\|\.|\|)(?: |$))", body)
        found += [f"{name}, bar {number}: {bar}" for number, bar in enumerate(bars, 1)]
    return found


def numbered(score: Score[Sounding]) -> Score[Sounding]:
    """Notes numbered part by part, layer by layer; a tied chain has one number."""
    count = 0
    chains: dict[tuple[int, int, Pitch], int] = {}
    bars_of: list[list[list[tuple[Event, ...]]]] = []
    for p, part in enumerate(score.parts):
        bars_of.append([[] for _ in part.bars])
        for la in range(len(part.layers)):
            for index, bar in enumerate(part.bars):
                events = []
                for event in bar.layers[la]:
                    notes: list[Note] = []
                    for note in event.notes:
                        key = (p, la, note.pitch)
                        if not (note.tie_stop and key in chains):
                            chains[key] = count
                            count += 1
                        notes.append(replace(note, origin=chains[key]))
                    events.append(replace(event, notes=tuple(notes)))
                bars_of[p][index].append(tuple(events))
    parts = tuple(
        replace(
            part,
            bars=tuple(
                replace(bar, layers=tuple(layers))
                for bar, layers in zip(part.bars, bars_of[p], strict=True)
            ),
        )
        for p, part in enumerate(score.parts)
    )
    return replace(score, parts=parts)
