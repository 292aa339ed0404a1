"""Small values that a score is made of: marks, values, syllables, clefs, keys, metres."""

from __future__ import annotations

from msgspec import Struct

Attributes = tuple[tuple[str, str], ...]


class Mark(Struct, frozen=True):
    """One element of the document, carried.

    `group` is the element it stands in (`articulations`, `ornaments`, `technical`,
    `notations`, `direction-type`, `note`, `measure` ...), `name` its own tag, `text` its text,
    `inner` its children as serialized XML ("" for none). Spanning marks have `type` (start,
    stop, continue ...) and `number` among their attributes.
    """

    group: str
    name: str
    attributes: Attributes = ()
    text: str = ""
    inner: str = ""

    def get(self, attribute: str, default: str = "") -> str:
        """The value of an attribute, or `default`."""
        for key, value in self.attributes:
            if key == attribute:
                return value
        return default

    def having(self, **values: str | None) -> Mark:
        """A copy with attributes set (None removes); underscores stand for hyphens."""
        named = {k.replace("_", "-"): v for k, v in values.items()}
        kept = [(k, named.pop(k) if k in named else v) for k, v in self.attributes]
        added = [*kept, *named.items()]
        settled = tuple((k, v) for k, v in added if v is not None)
        return Mark(self.group, self.name, settled, self.text, self.inner)


class Value(Struct, frozen=True):
    """A notated value: `type` as MusicXML names it (`quarter`, `eighth`, `16th` ...).

    `actual`/`normal` are the tuplet ratio (3 in the time of 2); 1/1 outside tuplets.
    `normal_type` is the unit of the ratio where the document gives one.
    """

    type: str
    dots: int = 0
    actual: int = 1
    normal: int = 1
    normal_type: str = ""


class Lyric(Struct, frozen=True):
    """One verse's syllable under a note: `text` with `syllabic` (single, begin, middle, end).

    `verse` is the lyric number; `mark` carries the whole element.
    """

    verse: str
    syllabic: str
    text: str
    mark: Mark


class Clef(Struct, frozen=True):
    """A clef: sign and line as MusicXML has them, `octave` -1 for the tenor's treble 8vb."""

    sign: str
    line: int = 0
    octave: int = 0


class Key(Struct, frozen=True):
    """A key signature: `fifths` sharps (negative: flats); `mode` as in the document or "".

    Signatures outside the circle of fifths keep their alterations in `own` as serialized XML.
    """

    fifths: int = 0
    mode: str = ""
    own: str = ""


class Time(Struct, frozen=True):
    """A time signature: pairs of (beats, beat type) as written, so 3+2/8 is (("3+2", "8"),).

    `symbol` is common, cut ... or "". No pairs: senza misura.
    """

    beats: tuple[tuple[str, str], ...] = (("4", "4"),)
    symbol: str = ""
