"""Faults to plant, one row or more for each check.

`part` is the row of the orchestra (`checks_music.py`), `bars` are alternatives of text in the
mini-notation for one bar or several (`|` between them). `head` and `opening` replace those of the
row; `also` has text for the same bars of other parts. `finds` is the part in which the finding
must stand where that is another one ("" for the score). `only` keeps just these parts, for checks
of small scores and of single parts. `at` fixes the bar.
"""

from __future__ import annotations

from msgspec import Struct


class Fault(Struct, frozen=True):
    """A fault of one kind and where it shows."""

    check: str
    part: str
    bars: tuple[str, ...] = ()
    head: str = ""
    opening: str = ""
    finds: str | None = None
    only: tuple[str, ...] = ()
    also: tuple[tuple[str, str], ...] = ()
    at: int | None = None


def _bars(*texts: str) -> tuple[str, ...]:
    return texts


FAULTS: tuple[Fault, ...] = (
    # Range
    Fault("above-range", "Flute 1", _bars("E7:w", "A6:h E7:h", "F7:q G6 G6 G6")),
    Fault("above-range", "Violins 1", _bars("C8:w", "A5:h D8:h")),
    Fault("above-range", "Trumpet in Bb 1", _bars("F6:w", "D5:h G6:h")),
    Fault("below-range", "Violins 2", _bars("F#3:w", "G3:h E3:h", "C5:q D3 C5 C5")),
    Fault("below-range", "Oboe", _bars("A3:w", "C5:h G3:h")),
    Fault("below-range", "Clarinet in Bb", _bars("D3:w", "D5:h C3:h")),
    Fault("outside-comfort", "Violins 1", _bars(" | ".join(["C7:w"] * 9))),
    # Transposition, key, clef
    Fault("wrong-transposition", "Clarinet in Bb", head="Clarinet in A (-1 -2 0)", at=0),
    Fault("wrong-transposition", "Clarinet in Bb", head="Clarinet in Bb", at=0),
    Fault("wrong-transposition", "Oboe", head="Oboe (-4 -7 0)", at=0),
    Fault("wrong-transposition", "Trumpet in Bb 1", head="Trumpet in Bb 1 (-2 -3 0)", at=0),
    Fault("wrong-octave", "Double Bass", head="Double Bass (0 0 -2)", at=0),
    Fault("wrong-key-signature", "Clarinet in Bb", opening="@treble k0 <q=100>", at=0),
    Fault("wrong-key-signature", "Oboe", opening="@treble k3 <q=100>", at=0),
    Fault("wrong-key-signature", "Violoncello", opening="@bass k-2 <q=100>", at=0),
    Fault("heavy-signature", "Viola", opening="@alto k7 <q=100>", at=0),
    Fault("two-keys", "Flute 2", head="Clarinet in A (-2 -3 0)", opening="k3 <q=100>",
          finds="Clarinet in Bb", at=0),
    Fault("unusual-clef", "Flute 1", opening="@bass k0 <q=100>", at=0),
    Fault("unusual-clef", "Viola", _bars("@bass C4:w")),
    Fault("missing-accidental", "Oboe", _bars("F#5*:h G5:q F5:q", "Bb4*:h B4:h")),
    Fault("needless-accidental", "Oboe", _bars("F5*:h G5:h", "D5:h C5*:h")),
    Fault("double-accidental", "Clarinet in Bb", _bars("F##5:w", "C##5:h D5:h")),
    # Winds and voices
    Fault("no-breath", "Flute 1", _bars(
        "C6~:w | ~C6~:w | ~C6~:w | ~C6~:w | ~C6:w", "C6:w( | D6:w | C6:w | B5:w | C6:w)")),
    Fault("no-breath", "Trombone", _bars(
        "!f F3~:w | ~F3~:w | ~F3~:w | ~F3~:w | ~F3:w", "!f F3:w( | E3:w | F3:w | E3:w | F3:w)")),
    Fault("no-breath", "Soprano", _bars("B4~:w 'long | ~B4~:w | ~B4~:w | ~B4~:w | ~B4~:w | ~B4:w")),
    Fault("long-without-rest", "Oboe", _bars(" | ".join(["C5:w"] * 27)), at=0),
    Fault("high-for-long", "Trumpet in Bb 1", _bars(" | ".join(["A5:w"] * 7))),
    Fault("wide-leap", "Soprano", _bars("C4:q 'tide F5 'turns A4:h 'home")),
    Fault("soft-low-entry", "Oboe", _bars("R | !pp C4:w", "R | !p B3:h A4:h")),
    Fault("soft-low-entry", "Bassoon", _bars("R | !pp C2:w", "R | !p D2:h C3:h")),
    Fault("trombone-shift", "Trombone", _bars("Bb2:s B2:s Bb2:s B2:s F3:q F3:h")),
    Fault("trombone-glissando", "Trombone", _bars(
        r"F2\glissando:h F3\glissando:h", r"Bb2\slide:h D3\slide:h")),
    Fault("missing-words", "Soprano", _bars("R | G4:h A4:h", "r:h G4:h")),
    Fault("broken-word", "Soprano", _bars(
        "G4:h 'wa- A4:h 'light", "G4:h 'boat A4:h '-ter G4:q | G4:w 'home")[:1]),
    Fault("syllable-count", "Soprano", _bars("G4:q( 'light A4) G4 'boat F4")),
    Fault("several-notes", "Oboe", _bars("C5+E5:w", "D5:h D5+F5:h")),
    Fault("several-notes", "Horns in F 1. 2.", _bars("C5+E5+G5:w")),
    # Changes
    Fault("mute-change", "Violins 1", _bars('G5:h "con sord." A5:h', 'G5:h r:q "con sord." A5:q')),
    Fault("mute-change", "Trumpet in Bb 1", _bars(
        'D5:h "cup mute" E5:h', 'D5:h r:q "harmon" E5:q')),
    Fault("instrument-change", "Flute 2", _bars(
        'G5:h "Piccolo" G5:h', 'G5:h "to Piccolo" r:q "Piccolo" G5:q')),
    Fault("pizzicato-change", "Viola", _bars(
        'E4:e "pizz." E4:e F4:h.', 'E4:h. "pizz." E4:e "arco" E4:e')),
    Fault("stick-change", "Vibraphone", _bars('"soft mallets" C4:h "hard mallets" C4:h')),
    Fault("timpani-retuning", "Timpani", _bars("F2:q A2 C3 E3 | F#2:w", "G2:q B2 D3 F3 | G#2:w")),
    Fault("missing-cancellation", "Violoncello", _bars('"pizz." C3:w | C3:h( D3:h)')),
    Fault("nothing-to-cancel", "Viola", _bars('"arco" E4:w', '"senza sord." E4:w')),
    Fault("unannounced-change", "Clarinet in Bb", _bars("tr(-2,-3,0) D5:w")),
    # Bowed strings
    Fault("impossible-stop", "Viola", _bars("D3+F3:w", "E4:h C3+E3:h", "E4:q E3+F3 E4:h")),
    Fault("impossible-stop", "Violoncello", _bars("D2+F2:w", "C2+E2+B3:w")),
    Fault("impossible-harmonic", "Viola", _bars(
        r"F5\harmonic[natural]:w", r"Bb5\harmonic[natural]:w")),
    Fault("too-fine-divisi", "Double Bass", _bars('"div." E2+A2+D3+G3+B3:w'),
          head="Double Basses (0 0 -1)", finds="Double Basses"),
    # Harp, keyboards, mallets, percussion
    Fault("harp-pedals", "Harp", _bars("C5+E5+C#6:w", "C5:t C#5:t D5:s E5:e E5:q E5:h")),
    Fault("harp-chromatic-run", "Harp", _bars("C5:s C#5:s D5:s D#5:s E5:q E5:h")),
    Fault("harp-hands", "Harp", _bars("C5+D5+E5+F5+G5+A5+B5+C6+D6:w", "C5+E5+G5+B5+D6+F6+A6:w")),
    Fault("keyboard-span", "Piano", _bars("C4+G5+E7:w", "C4+D5+E6+C7:w")),
    Fault("mallet-notes", "Vibraphone", _bars("C4+E4+G4+B4+D5:w", "C4:h F4+A4+C5+E5+G5:h")),
    Fault("percussion-players", "Snare Drum", _bars("xC5+xE5+xG5:w", "x:h xC5+xE5+xF5+xA5:h")),
    Fault("timpani-drums", "Timpani", _bars("F2+C3+F3:w")),
    # Chords and lines
    Fault("low-interval", "Violoncello", _bars("C2+E2:w", "D2+F2:w"), head="Celli",
          finds="Celli", only=("Flute 1", "Oboe", "Violoncello")),
    Fault("wide-gap", "Trumpet in Bb 1", _bars("!f F#6:w"), only=(
        "Horns in F 1. 2.", "Trumpet in Bb 1", "Trombone", "Double Bass"),
        also=(("Horns in F 1. 2.", "G4+C5:w"), ("Trombone", "F3:w"), ("Double Bass", "C3:w"))),
    Fault("minor-ninth", "Flute 1", _bars("F6:w"), only=("Flute 1", "Oboe", "Bassoon"),
          also=(("Oboe", "E5:w"), ("Bassoon", "C3:w"))),
    Fault("parallel-octaves", "Violins 1", _bars("G5:h C6:h | D6:w"), only=("Violins 1", "Oboe"),
          also=(("Oboe", "B4:h C5:h | D5:w"),), finds="Oboe"),
    Fault("crossing", "Flute 2", _bars("D7:w | D7:w"), only=("Flute 1", "Flute 2")),
    Fault("doubled-leading-note", "Oboe", _bars("B4:h C5:h"), only=("Flute 1", "Oboe", "Bassoon"),
          also=(("Flute 1", "B5:h C6:h"), ("Bassoon", "G2:h C3:h")), finds="Flute 1"),
    # Balance
    Fault("covered-melody", "Flute 2", _bars('"solo" !pp E4:w'), only=(
        "Flute 2", "Trombone", "Trumpet in Bb 1"), at=0),
    # Notation
    Fault("bar-not-full", "Oboe", _bars("C5:h.", "C5:q D5 E5", "C5:h D5:e")),
    Fault("bar-not-full", "Viola", _bars("E4:w E4:q", "E4:w F4:e")),
    Fault("tie-to-nowhere", "Oboe", _bars("C5~?:h D5:h", "C5:h D5~?:h | E5:w")),
    Fault("open-spanner", "Oboe", _bars("C5:h( D5:h", "!< C5:w")),
    Fault("missing-dynamic", "Oboe", _bars("C5:w"), at=0),
    Fault("no-cue", "Trombone", _bars(" | ".join([*["R"] * 9, "!mf C3:w"])), only=("Trombone",)),
    Fault("wrong-label", "Horns in F 1. 2.", _bars('"a 2" C5+E5:w', '"1." C5+E5:w')),
    Fault("rehearsal-order", "Flute 1", _bars("[B] G5:w | [A] G5:w", "[C] G5:w | [C] G5:w"),
          finds=""),
    Fault("repeat-differs", "Viola", _bars("E4:w :|")),
    # Ledger and line-up
    Fault("unknown-instrument", "Oboe", head="Line Nine", finds="Line Nine", at=0),
)  # fmt: skip
