"""Pitches, values, syllables and marks as XML."""

from __future__ import annotations

from expander.errors import CannotWrite
from expander.model.pitch import LETTERS, Alter, Drum, Written
from expander.model.score import Lyric, Mark, Value
from expander.musicxml.grammar import allows
from expander.musicxml.text import element, escaped, leaf, mark_text


def pitch_text(pitch: Written | Drum) -> str:
    """A pitch or a place on the staff as XML."""
    letter = LETTERS[pitch.step]
    if isinstance(pitch, Drum):
        if pitch.octave < 0:
            return "<unpitched/>"
        place = f"<display-step>{letter}</display-step>"
        place += f"<display-octave>{pitch.octave}</display-octave>"
        return f"<unpitched>{place}</unpitched>"
    if not 0 <= pitch.octave <= 9:
        raise CannotWrite(
            f"a note is to be written as {pitch}, outside MusicXML's octaves 0 to 9.",
            hint="Give the line to another instrument or move it by octaves.",
        )
    alter = f"<alter>{decimal(pitch.alter)}</alter>" if pitch.alter else ""
    return f"<pitch><step>{letter}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


def decimal(number: Alter) -> str:
    """A number as XML has it: whole where it is whole."""
    value = float(number)
    return str(int(value)) if value == int(value) else repr(value)


def value_texts(value: Value, carried: tuple[Mark, ...]) -> tuple[str, str]:
    """A notated value's type with dots, and its ratio."""
    size = next((m for m in carried if m.name == "type"), None)
    kind = element("type", size.attributes if size else (), value.type) if value.type else ""
    kind += "<dot/>" * value.dots
    if value.actual == value.normal == 1:
        return kind, ""
    ratio = (
        f"<actual-notes>{value.actual}</actual-notes><normal-notes>{value.normal}</normal-notes>"
    )
    unit = leaf("normal-type", value.normal_type)
    dots = "<normal-dot/>" * sum(m.name == "normal-dot" for m in carried) if unit else ""
    return kind, f"<time-modification>{ratio}{unit}{dots}</time-modification>"


def lyric_text(lyric: Lyric) -> str:
    """A syllable as the document had it, or built where it is new."""
    mark = lyric.mark
    if mark.inner:
        return element("lyric", mark.attributes, inner=mark.inner)
    attributes = mark.attributes or ((("number", lyric.verse),) if lyric.verse else ())
    inner = leaf("syllabic", lyric.syllabic) + f"<text>{escaped(lyric.text)}</text>"
    return element("lyric", attributes, inner=inner)


def checked_mark_text(mark: Mark) -> str:
    """A mark as XML. Raises CannotWrite where MusicXML has no such element in its group."""
    if not allows(mark.group, mark.name):
        raise CannotWrite(
            f"<{mark.name}> has no place in MusicXML's {mark.group}.",
            hint="This is a fault of the program, please report it.",
        )
    if mark.name == "dynamics" and not mark.inner and mark.text:
        return element("dynamics", mark.attributes, inner=level_text(mark.text))
    return mark_text(mark)


def level_text(level: str) -> str:
    """A dynamic level as an element."""
    if allows("dynamics", level) and level != "other-dynamics":
        return f"<{level}/>"
    return f"<other-dynamics>{escaped(level)}</other-dynamics>"
