"""The vocabulary of the mini-notation (see `tests/mini.py`): tables between signs and marks."""

from __future__ import annotations

import re
from fractions import Fraction

from expander.model.score import Clef, Degree, Harmony, Mark

VALUES = {
    "b": "breve",
    "w": "whole",
    "h": "half",
    "q": "quarter",
    "e": "eighth",
    "s": "16th",
    "t": "32nd",
    "x": "64th",
}
LETTERS = {name: letter for letter, name in VALUES.items()}
QUARTERS = {name: Fraction(8, 2**place) for place, name in enumerate(VALUES.values())}

CLEFS = {
    "treble": Clef("G", 2),
    "treble8": Clef("G", 2, -1),
    "treble8up": Clef("G", 2, 1),
    "bass": Clef("F", 4),
    "bass8": Clef("F", 4, -1),
    "alto": Clef("C", 3),
    "tenor": Clef("C", 4),
    "soprano": Clef("C", 1),
    "perc": Clef("percussion"),
}
CLEF_NAMES = {clef: name for name, clef in CLEFS.items()}

TIMES = {"common": (("4", "4"),), "cut": (("2", "2"),)}

BARLINES = {"|": "", "||": "light-light", "|.": "light-heavy"}
BARLINE_SIGNS = {style: sign for sign, style in BARLINES.items()}

HAIRPINS = {"<": "crescendo", ">": "diminuendo", ".": "stop"}
HAIRPIN_SIGNS = {name: sign for sign, name in HAIRPINS.items()}

ENDINGS = {"+": "start", "-": "stop", "~": "discontinue"}
ENDING_SIGNS = {name: sign for sign, name in ENDINGS.items()}

ARTICULATIONS = {
    ".": "staccato",
    ">": "accent",
    "^": "strong-accent",
    "-": "tenuto",
    "!": "staccatissimo",
}
ARTICULATION_SIGNS = {name: sign for sign, name in ARTICULATIONS.items()}

GROUPS = {
    "articulations": {*ARTICULATIONS.values(), "spiccato", "breath-mark", "detached-legato"},
    "ornaments": {"trill-mark", "mordent", "inverted-mordent", "turn", "tremolo"},
    "technical": {
        "up-bow",
        "down-bow",
        "harmonic",
        "open-string",
        "stopped",
        "open",
        "snap-pizzicato",
        "fingering",
        "string",
    },
    "notations": {"fermata", "arpeggiate", "glissando", "slide"},
}
HEAD_MARKS = {"fingering", "string", "harmonic", "glissando", "slide"}
GROUP_OF = {name: group for group, names in GROUPS.items() for name in names}

ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}

KINDS = {
    "": "major",
    "m": "minor",
    "7": "dominant",
    "maj7": "major-seventh",
    "m7": "minor-seventh",
    "m(maj7)": "major-minor",
    "m7b5": "half-diminished",
    "dim": "diminished",
    "dim7": "diminished-seventh",
    "+": "augmented",
    "+7": "augmented-seventh",
    "6": "major-sixth",
    "m6": "minor-sixth",
    "9": "dominant-ninth",
    "maj9": "major-ninth",
    "m9": "minor-ninth",
    "11": "dominant-11th",
    "m11": "minor-11th",
    "13": "dominant-13th",
    "maj13": "major-13th",
    "m13": "minor-13th",
    "sus2": "suspended-second",
    "sus4": "suspended-fourth",
    "5": "power",
}
KIND_SIGNS = {kind: sign for sign, kind in KINDS.items()}
_STEPS = "CDEFGAB"
_ALTERS = {"": 0, "#": 1, "b": -1}
_CHORD = re.compile(r"^([A-G])([#b]?)(m\(maj7\)|[^(/]*)(?:\(([^)]*)\))?(?:/([A-G])([#b]?))?$")
_DEGREE = re.compile(r"^(no)?([#b]?)(\d+)$")


def spanner(group: str, name: str, kind: str, number: str = "1") -> Mark:
    """A mark with a start and a stop: slur, tuplet, wedge ..."""
    return Mark(group, name, (("type", kind), ("number", number)))


def dynamics(name: str) -> Mark:
    """A dynamic sign such as `mf`."""
    return Mark("direction-type", "dynamics", text=name, inner=f"<{name}/>")


def words(text: str) -> Mark:
    """Words over or under the stave."""
    return Mark("direction-type", "words", text=text)


def rehearsal(text: str) -> Mark:
    """A rehearsal mark."""
    return Mark("direction-type", "rehearsal", text=text)


def metronome(value: str, dots: int, rate: str) -> Mark:
    """A metronome mark."""
    inner = f"<beat-unit>{value}</beat-unit>{'<beat-unit-dot/>' * dots}"
    inner += f"<per-minute>{rate}</per-minute>"
    return Mark("direction-type", "metronome", inner=inner)


def lyric(verse: str, syllabic: str, text: str, *, extend: bool = False) -> Mark:
    """The whole lyric element of one syllable."""
    inner = f"<syllabic>{syllabic}</syllabic><text>{text}</text>{'<extend/>' * extend}"
    return Mark("note", "lyric", (("number", verse),), inner=inner)


def chord_symbol(text: str, at: int, staff: int) -> Harmony:
    """Read a chord symbol such as `Dm7`, `G7(b9,13)/B` or `N.C.`."""
    if text == "N.C.":
        inner = "<root><root-step text=''>C</root-step></root><kind text='N.C.'>none</kind>"
        return Harmony(at, None, "none", text, staff=staff, mark=_harmony(inner))
    found = _CHORD.match(text)
    if not found or found[3] not in KINDS:
        raise ValueError(f"{{{text}}} is not a chord symbol this notation knows")
    step, alter, sign, changes, low, low_alter = found.groups()
    root = (_STEPS.index(step), _ALTERS[alter])
    bass = (_STEPS.index(low), _ALTERS[low_alter]) if low else None
    degrees = tuple(_degree(d.strip()) for d in changes.split(",")) if changes else ()
    shown = sign + (f"({changes})" if changes else "")
    mark = _harmony(_chord_xml(root, KINDS[sign], shown, bass, degrees))
    return Harmony(at, root, KINDS[sign], shown, 0, bass, degrees, staff, mark)


def _harmony(inner: str) -> Mark:
    return Mark("measure", "harmony", inner=inner)


def _degree(text: str) -> Degree:
    found = _DEGREE.match(text)
    if not found:
        raise ValueError(f"({text}) is not a change to a chord such as b9, 13 or no5")
    without, alter, number = found.groups()
    kind = "subtract" if without else "alter" if number == "5" else "add"
    return Degree(int(number), _ALTERS[alter], kind)


def _chord_xml(
    root: tuple[int, int],
    kind: str,
    shown: str,
    bass: tuple[int, int] | None,
    degrees: tuple[Degree, ...],
) -> str:
    inner = _note_xml("root", root) + f'<kind text="{shown}">{kind}</kind>'
    inner += _note_xml("bass", bass) if bass else ""
    for degree in degrees:
        inner += (
            f"<degree><degree-value>{degree.value}</degree-value>"
            f"<degree-alter>{degree.alter}</degree-alter>"
            f"<degree-type>{degree.kind}</degree-type></degree>"
        )
    return inner


def _note_xml(tag: str, note: tuple[int, int]) -> str:
    step, alter = note
    altered = f"<{tag}-alter>{alter}</{tag}-alter>" if alter else ""
    return f"<{tag}><{tag}-step>{_STEPS[step]}</{tag}-step>{altered}</{tag}>"


def chord_text(harmony: Harmony) -> str:
    """A chord symbol by its musical content, whatever text the document shows for it."""
    if harmony.root is None:
        return "N.C." if harmony.kind == "none" else f"?{harmony.kind}"
    sign = KIND_SIGNS.get(harmony.kind, f"?{harmony.kind}")
    changes = ",".join(_degree_text(d) for d in harmony.degrees)
    bass = f"/{_name(harmony.bass)}" if harmony.bass else ""
    return _name(harmony.root) + sign + (f"({changes})" if changes else "") + bass


def _degree_text(degree: Degree) -> str:
    without = "no" if degree.kind == "subtract" else ""
    return f"{without}{'b' * -degree.alter}{'#' * degree.alter}{degree.value}"


def _name(note: tuple[int, int]) -> str:
    step, alter = note
    return _STEPS[step] + "b" * -alter + "#" * alter
