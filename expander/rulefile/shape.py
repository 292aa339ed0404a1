"""The shape of a rule file: one set of models that checks it, explains it and gives its schema.

The models see words only (see `positions.py`) and turn them into numbers, yes/no and ids. What
needs more than one place of the file to decide is in `agreement.py`.
"""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    StringConstraints,
    Tag,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from expander.rulefile.techniques import find_technique, spellings

# The letters of MusicXML 4.0's `dynamics` type, soft to loud, then the sudden ones.
Dynamic = Literal[
    "n", "pppppp", "ppppp", "pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff",
    "fffff", "ffffff", "fp", "pf", "sf", "sfp", "sfpp", "sfz", "sfzp", "sffz", "fz", "rf", "rfz",
]  # fmt: skip

# What an editor's YAML may take a name for.
_WRITTEN: dict[str, Any] = {"type": ["string", "number", "boolean"], "minLength": 1}
_DASH = re.compile(r"\s*[-–]\s*")

_REPEAT_NEEDS_BARS: dict[str, Any] = {
    "repeat": {"anyOf": [{"required": ["bars"]}, {"properties": {"repeat": {"const": False}}}]}
}

Name = Annotated[str, StringConstraints(min_length=1), WithJsonSchema({**_WRITTEN})]


def _bars(text: str) -> str:
    """Checks `5`, `1-8`, `57-end`; the words stay as they are."""
    first, last = split_bars(text)
    if not first or not last or first == "end" or _DASH.search(last):
        raise PydanticCustomError("bars", "not bars")
    if first.isdecimal() and last.isdecimal() and int(last) < int(first):
        raise PydanticCustomError("bars_backward", "bars run backward")
    return text


def split_bars(text: str) -> tuple[str, str]:
    """The first and last bar label of `5` (the same twice), `1-8` or `57-end`."""
    first, *rest = _DASH.split(text.strip(), maxsplit=1)
    return first, rest[0] if rest else first


def _listed(value: object) -> object:
    return [value] if isinstance(value, str) else value


def _technique(text: str) -> str:
    found = find_technique(text)
    if found is None:
        raise PydanticCustomError("technique", "unknown technique")
    return found.id


def _mute(text: str) -> str:
    found = find_technique(text)
    if found is None or not found.is_mute:
        raise PydanticCustomError("mute", "unknown mute")
    return found.id


def _slashes(wanted: bool) -> bool:
    if not wanted:
        raise PydanticCustomError("no_slashes", "no slashes")
    return wanted


def _one_or_more(kind: dict[str, Any], example: list[Any]) -> dict[str, Any]:
    several = {"type": "array", "items": kind, "minItems": 1, "uniqueItems": True}
    return {"anyOf": [kind, several], "examples": example}


def _technique_schema(schema: dict[str, Any]) -> None:
    schema["enum"] = [*spellings(mutes=False), *spellings(mutes=True)]


def _mute_schema(schema: dict[str, Any]) -> None:
    schema["enum"] = list(spellings(mutes=True))


Bars = Annotated[str, AfterValidator(_bars), WithJsonSchema({"type": ["string", "integer"]})]
Players = Annotated[
    list[Name],
    BeforeValidator(_listed),
    Field(min_length=1),
    WithJsonSchema(_one_or_more({**_WRITTEN}, ["flutes", ["flute 1", "clarinet 1"]])),
]
Staves = Annotated[
    list[Annotated[int, Field(ge=1)]],
    BeforeValidator(_listed),
    Field(min_length=1),
    WithJsonSchema(_one_or_more({"type": "integer", "minimum": 1}, [1, [2, 3]])),
]
Octave = Annotated[int, Field(ge=-4, le=4)]
Voices = Annotated[int, Field(ge=2, le=12)]
Layer = Annotated[int, Field(ge=1)]
Notes = Annotated[
    Literal["all", "highest", "lowest", "1", "2", "3", "4", "5", "6", "7", "8", "9"],
    WithJsonSchema({"enum": ["all", "highest", "lowest", *range(1, 10)]}),
]
Tensions = Literal["usual", "named"]
Slashes = Annotated[
    bool, AfterValidator(_slashes), WithJsonSchema({"type": "boolean", "const": True})
]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=False)


class BarsPassage(_Shape):
    """Bars by the numbers printed in the sketch."""

    model_config = ConfigDict(title="Bars")
    bars: Bars = Field(
        description='First and last bar, as printed; "end" is the last bar of the sketch.',
        examples=["1-8", "57-end", 5],
    )


class MarkPassage(_Shape):
    """From a rehearsal mark to the next one."""

    model_config = ConfigDict(title="One rehearsal mark")
    mark: Name = Field(
        description="A rehearsal mark of the sketch; the passage runs to the next mark.",
        examples=["A", "12"],
    )


class MarksPassage(_Shape):
    """From one rehearsal mark up to another."""

    model_config = ConfigDict(
        title="Between rehearsal marks", json_schema_extra={"minProperties": 1}
    )
    from_: Name | None = Field(
        None,
        alias="from",
        description="The mark it begins at; left out: the beginning.",
        examples=["B"],
    )
    to: Name | None = Field(
        None,
        description="The mark it runs up to, without its bar; left out: the end.",
        examples=["D"],
    )


class SketchStrand(_Shape):
    """Music taken from the sketch."""

    model_config = ConfigDict(
        title="Taken from the sketch", json_schema_extra={"dependentSchemas": _REPEAT_NEEDS_BARS}
    )
    staff: Staves = Field(
        description="The stave of the sketch, counted from 1 at the top; or several.",
    )
    layer: Layer | None = Field(
        None,
        description="The voice on that stave, counted from 1; left out: all of them.",
        examples=[1, 2],
    )
    notes: Notes = Field(
        "all",
        description="All notes of each chord, only the highest or lowest, or the one so many "
        "notes from the top.",
        examples=["lowest", 2],
    )
    bars: Bars | None = Field(
        None, description="Only these bars, as printed in the sketch.", examples=["9-10", "57-end"]
    )
    repeat: bool = Field(
        False,
        description="A figure to go on with: the bars are repeated to the end of the section.",
        examples=[True],
    )


class ChordStrand(_Shape):
    """Chords built from the chord symbols of the sketch."""

    model_config = ConfigDict(title="Built from chord symbols")
    chords: Literal["symbols"] = Field(
        description="Where the chords come from: the chord symbols of the sketch.",
        examples=["symbols"],
    )
    voicing: Name | None = Field(
        None, description="How they are laid out.", examples=["close", "drop 2", "spread"]
    )
    voices: Voices | None = Field(None, description="How many notes.", examples=[4])
    tensions: Tensions | None = Field(
        None,
        description="usual: ninths and thirteenths that suit the chord are welcome; named, or left "
        "out: only those the symbol names.",
        examples=["usual"],
    )
    rhythm: Name | None = Field(
        None,
        description="The strand whose rhythm they take; left out: sustained.",
        examples=["tune"],
    )


class BlockStrand(_Shape):
    """Chords that move with a tune, each below its note."""

    model_config = ConfigDict(title="Built under a strand")
    under: Name = Field(description="The strand on top.", examples=["tune"])
    voicing: Name | None = Field(
        None, description="How the chords are laid out.", examples=["drop 2", "close"]
    )
    voices: Voices | None = Field(
        None, description="How many notes, the top one included.", examples=[4, 5]
    )
    tensions: Tensions | None = Field(
        None,
        description="usual: ninths and thirteenths that suit the chord are welcome; named, or left "
        "out: only those the symbol names.",
        examples=["usual"],
    )
    approach: Name | None = Field(
        None,
        description="How notes of the tune outside the chord are harmonized.",
        examples=["diminished", "chromatic"],
    )


class SlashStrand(_Shape):
    """Time for the rhythm section to play, with the band's accents shown above it."""

    model_config = ConfigDict(title="Slashes")
    slashes: Slashes = Field(
        description="A slash for every beat, to play time on by the chord symbols above.",
        examples=[True],
    )
    kicks: Name | None = Field(
        None,
        description="The strand whose rhythm stands above in small notes; left out: none.",
        examples=["tune", "brass"],
    )
    bars: Bars | None = Field(
        None, description="Only these bars, as printed in the sketch.", examples=["9-16", "57-end"]
    )


class PlanEntry(_Shape):
    """Who plays what, in which colour."""

    model_config = ConfigDict(title="Plan entry")
    play: Name = Field(description="A strand's name.", examples=["tune"])
    by: Players = Field(
        description="A player, section, family or group of the ensemble; a list plays together.",
    )
    octave: Octave = Field(0, description="Octaves up; with a minus, down.", examples=[1, -1])
    spacing: Literal["unison", "octaves"] = Field(
        "unison",
        description="unison: all at the same pitch; octaves: each in their own octave.",
        examples=["octaves"],
    )
    dynamic: Dynamic | None = Field(
        None, description="How loud; left out: as in the sketch.", examples=["pp", "mf"]
    )
    as_: Annotated[str, AfterValidator(_technique)] | None = Field(
        None,
        alias="as",
        description="How it is played.",
        examples=["pizzicato", "harmonics"],
        json_schema_extra=_technique_schema,
    )
    mute: Annotated[str, AfterValidator(_mute)] | None = Field(
        None,
        description="Which mute; left out: none.",
        examples=["cup", "sordino"],
        json_schema_extra=_mute_schema,
    )
    words: bool | None = Field(
        None, description="Whether the words go with it; left out: singers only.", examples=[True]
    )
    fit: Literal["octave", "hand over", "keep"] | None = Field(
        None,
        description="A phrase out of range: octave moves it, or the notes that need it, by "
        "octaves; hand over gives it to the next player of the group; keep leaves it and reports "
        "it.",
        examples=["hand over"],
    )


PASSAGES: dict[str, type[_Shape]] = {
    "passage in bars": BarsPassage,
    "passage at a mark": MarkPassage,
    "passage between marks": MarksPassage,
}
STRANDS: dict[str, type[_Shape]] = {
    "strand from the sketch": SketchStrand,
    "strand of chords": ChordStrand,
    "strand in blocks": BlockStrand,
    "strand of slashes": SlashStrand,
}

_PASSAGE_SIGNS = (
    ("bars", "passage in bars"),
    ("mark", "passage at a mark"),
    ("from", "passage between marks"),
    ("to", "passage between marks"),
)
_STRAND_SIGNS = (
    ("staff", "strand from the sketch"),
    ("chords", "strand of chords"),
    ("under", "strand in blocks"),
    ("slashes", "strand of slashes"),
)


def _passage_kind(value: object) -> str | None:
    return _kind(value, _PASSAGE_SIGNS)


def _strand_kind(value: object) -> str | None:
    return _kind(value, _STRAND_SIGNS)


def _kind(value: object, signs: tuple[tuple[str, str], ...]) -> str | None:
    """The kind that the first telling key stands for."""
    keys = value if isinstance(value, dict) else {}
    return next((kind for key, kind in signs if key in keys), None)


PassageShape = Annotated[
    Annotated[BarsPassage, Tag("passage in bars")]
    | Annotated[MarkPassage, Tag("passage at a mark")]
    | Annotated[MarksPassage, Tag("passage between marks")],
    Discriminator(_passage_kind),
]
StrandShape = Annotated[
    Annotated[SketchStrand, Tag("strand from the sketch")]
    | Annotated[ChordStrand, Tag("strand of chords")]
    | Annotated[BlockStrand, Tag("strand in blocks")]
    | Annotated[SlashStrand, Tag("strand of slashes")],
    Discriminator(_strand_kind),
]


class RuleFile(_Shape):
    """What material a short score holds, and who plays it in which colour."""

    model_config = ConfigDict(title="Rule file")
    ensemble: Name | None = Field(
        None,
        description="A shipped ensemble by name, or the path of an ensemble file.",
        examples=["string-quartet", "jazz-orchestra"],
    )
    pitch: Literal["transposed", "concert"] = Field(
        "transposed",
        description="transposed: as each player reads it; concert: as it sounds.",
        examples=["transposed", "concert"],
    )
    form: dict[str, PassageShape] | None = Field(
        None,
        description="The sections by name; left out: the rehearsal marks of the sketch.",
        examples=[{"intro": {"bars": "1-8"}, "verse": {"mark": "A"}}],
        json_schema_extra={"propertyNames": {"not": {"const": "all"}}},
    )
    strands: dict[str, StrandShape] | None = Field(
        None,
        description="Names for what the sketch holds.",
        examples=[{"tune": {"staff": 1, "layer": 1}, "bass": {"staff": 2, "notes": "lowest"}}],
    )
    plan: dict[str, list[PlanEntry] | None] | None = Field(
        None,
        description='Who plays what, section by section; "all" is for the whole piece, and a '
        "section takes its players away from it.",
        examples=[{"all": [{"play": "tune", "by": "voice"}]}],
    )
    arranger: Name | None = Field(
        None, description="The arranger's name for the title page.", examples=["A. Lind"]
    )
    version: Name | None = Field(
        None, description="A version line for the title page.", examples=["2", "first proofs"]
    )
    keyless: Players | None = Field(None, description="Players whose parts carry no key signature.")
