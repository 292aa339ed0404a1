"""What mutation found, made small: the command it broke, and a score that broke it."""

from __future__ import annotations

from tests.musicxml import broken as b

GRACE = b.pitch().replace("<note>", "<note><grace/>").replace("<duration>4</duration>", "")
UNTYPED = (
    "<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration>"
    "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
    "</time-modification></note>"
)
HARMONY = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
SUNG = "<lyric><syllabic>single</syllabic><text>sea</text></lyric></note>"
BACKUP = "<backup><duration>4</duration></backup>"
REST = "<note><rest/><duration>4</duration></note>"

SPECIMENS = {
    "a line of grace notes only": ("expand", b.notes(GRACE)),
    "a key of a thousand million sharps": (
        "expand",
        b.notes(b.NOTE, opening=b.OPENING.replace("<fifths>0", "<fifths>999999999")),
    ),
    "a tuplet of no note type": ("expand", b.notes(UNTYPED)),
    "a transposition whose steps and semitones do not agree": (
        "expand",
        b.notes(
            b.NOTE,
            opening=b.OPENING.replace(
                "</attributes>",
                "<transpose><diatonic>0</diatonic><chromatic>-9</chromatic></transpose></attributes>",
            ),
        ),
    ),
    "chords held in a metre of half beats": (
        "expand",
        b.notes(
            HARMONY + b.NOTE,
            opening=b.OPENING.replace("<beat-type>4<", "<beat-type>0.5<"),
        ),
    ),
    "chords held in a bar of a thousand million beats": (
        "expand",
        b.notes(HARMONY + b.NOTE, opening=b.OPENING.replace("<beats>4<", "<beats>999999999<")),
    ),
    "chords between which no note values fit": (
        "expand",
        b.notes(
            HARMONY,
            b.NOTE.replace("<duration>4<", "<duration>1<").replace("<type>whole</type>", ""),
            HARMONY.replace("C<", "F<"),
            b.NOTE.replace("<duration>4<", "<duration>119<").replace("<type>whole</type>", ""),
            opening=b.OPENING.replace("<divisions>1<", "<divisions>30<"),
        ),
    ),
    "rests that slide": (
        "expand",
        b.notes(
            "<note><rest/><duration>4</duration><notations>"
            '<glissando type="start" number="1"/></notations></note>'
        ),
    ),
    "an accidental whose ornament nobody knows": (
        "expand",
        b.notes(
            b.NOTE.replace(
                "</note>",
                "<notations><ornaments><swirl/><accidental-mark>sharp</accidental-mark>"
                "</ornaments></notations></note>",
            )
        ),
    ),
    "two sung voices, one of them a grace note": (
        "expand",
        b.notes(
            b.NOTE.replace("</note>", SUNG),
            BACKUP,
            GRACE.replace("<type>", "<voice>2</voice><type>").replace("</note>", SUNG),
        ),
    ),
    "a part of grace notes only": ("parts", b.notes(GRACE)),
    "a score of silence to reduce": ("reduce", b.notes(REST)),
}
