"""What an ensemble file may hold, explained: its JSON Schema, and every mistake at once.

The values are those of `entries.py`, field by field.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag, ValidationError

from expander.catalogue.loader import instrument_ids
from expander.catalogue.yamlfile import Places
from expander.errors import ExpanderError

Name = Annotated[str, Field(min_length=1, max_length=80)]


class _Group(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class PlayerEntry(_Group):
    """One player, or one string section reading one part."""

    name: str = Field(
        default="",
        description="What rules call them, such as 'flute 1'. Left out: the instrument's name.",
    )
    plays: list[Name] | Name = Field(
        description="The instrument, or all they change between, the first in hand at the start: "
        "ids of 'expander list instruments' or usual names.",
    )
    size: int = Field(
        default=1, ge=1, le=60, description="How many people read the part; more than 1 can divide."
    )
    label: str = Field(
        default="", description="The name in the score, where the usual one does not suit."
    )
    short: str = Field(default="", description="The abbreviation, likewise.")
    optional: bool = Field(
        default=False, description="true: left out of the score when nothing is given to them."
    )
    keyless: bool = Field(
        default=False, description="true: the part is written without key signature."
    )


class StaveEntry(_Group):
    """Two or three like players on one staff."""

    players: list[Name] = Field(min_length=1, max_length=3)
    label: str = Field(
        default="", description="The name in the score, where the usual one does not suit."
    )
    short: str = Field(default="", description="The abbreviation, likewise.")


class BracketEntry(_Group):
    """A bracket over neighbouring staves."""

    over: list[Name] | Name = Field(description="Players or groups, from the top one down.")
    barlines: bool = Field(
        default=True, description="Whether barlines run through between the staves."
    )


def _tagged(kind: str, wide: str, short: str) -> Any:  # noqa: ANN401 - pydantic's own type
    def which(value: object) -> str:
        return wide if isinstance(value, dict) or hasattr(value, kind) else short

    return Discriminator(which)


PlayerLine = Annotated[
    Annotated[PlayerEntry, Tag("a player")] | Annotated[str, Tag("an instrument")],
    _tagged("plays", "a player", "an instrument"),
]
StaveLine = Annotated[
    Annotated[StaveEntry, Tag("a staff")] | Annotated[list[Name], Tag("a list of players")],
    _tagged("players", "a staff", "a list of players"),
]
BracketLine = Annotated[
    Annotated[BracketEntry, Tag("a bracket")] | Annotated[str, Tag("a group")],
    _tagged("over", "a bracket", "a group"),
]


class EnsembleFile(_Group):
    """A line-up: who plays, in score order from the top."""

    title: str = Field(min_length=1, description="The line-up's name for people.")
    description: str = Field(default="", description="What it is for.")
    players: list[PlayerLine] = Field(
        min_length=1, description="In score order. A bare name is one player of that instrument."
    )
    staves: list[StaveLine] = Field(
        default=[], description="Who share a staff; everybody else has one of their own."
    )
    groups: dict[str, list[Name]] = Field(
        default={},
        description="Names of your own for several players. Sections, families and 'tutti' "
        "exist already; a name given here takes the place of one of those.",
    )
    brackets: list[BracketLine] | None = Field(
        default=None, description="Left out: one bracket for each family with two staves or more."
    )
    inner_brackets: list[BracketLine] | None = Field(
        default=None,
        alias="inner brackets",
        description="The thinner brackets inside. Left out: one for like instruments on "
        "neighbouring staves.",
    )
    tempo_above: list[Name] | None = Field(
        default=None,
        alias="tempo above",
        description="Over whose staves tempo and rehearsal marks stand. Left out: the top staff "
        "and, in an orchestra, the first violins.",
    )


def ensemble_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of an ensemble file."""
    schema = EnsembleFile.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Ensemble file"
    names = {"anyOf": [{"enum": list(instrument_ids())}, {"type": "string", "minLength": 1}]}
    plays = schema["$defs"]["PlayerEntry"]["properties"]["plays"]
    plays["anyOf"] = [names, {"type": "array", "items": names, "minItems": 1}]
    return schema


KNOWN_KEYS = tuple(
    sorted(
        {
            field.alias or name
            for model in (EnsembleFile, PlayerEntry, StaveEntry, BracketEntry)
            for name, field in model.model_fields.items()
        }
    )
)

# pydantic's kind of mistake, and what to say; {given} is what stands in the file.
_SAID: dict[str, str] = {
    "missing": "'{last}' is missing.",
    "string_type": "{given} where text was expected.",
    "list_type": "{given} where a list was expected.",
    "dict_type": "{given} where names with values ('name: value') were expected.",
    "model_type": "{given} where names with values ('name: value') were expected.",
    "int_type": "{given} where a whole number was expected.",
    "int_parsing": "{given} where a whole number was expected.",
    "int_from_float": "{given} where a whole number was expected.",
    "bool_type": "{given} where true or false was expected.",
    "bool_parsing": "{given} where true or false was expected.",
    "greater_than_equal": "{given} is too small; the least is {ge}.",
    "less_than_equal": "{given} is too large; the most is {le}.",
    "too_short": "the list is empty or too short.",
    "too_long": "more than {max_length} were given.",
    "string_too_short": "a name is empty.",
    "string_too_long": "a name is longer than {max_length} letters.",
}


def mistakes_in(data: object, where: Places) -> list[ExpanderError]:
    """All that is wrong with a file's data, with places, said for a musician."""
    try:
        EnsembleFile.model_validate({} if data is None else data)
    except ValidationError as error:
        return [_mistake(dict(one), where, sorted(KNOWN_KEYS)) for one in error.errors()]
    return []


def _mistake(one: dict[str, Any], where: Places, known: list[str]) -> ExpanderError:
    path, last = one["loc"], str(one["loc"][-1]) if one["loc"] else ""
    if one["type"] == "extra_forbidden":
        near = get_close_matches(last, known, 1)
        hint = f"Did you mean '{near[0]}'?" if near else f"Known are: {', '.join(known)}."
        return ExpanderError(f"'{last}' is not known here.", at=where.key_spot(path), hint=hint)
    words = {"last": last, "given": _shown(one["input"]), **one.get("ctx", {})}
    said = _SAID.get(one["type"], "{given}: " + str(one["msg"]))
    named = f"'{last}': " if last and not last.isdigit() and one["type"] != "missing" else ""
    return ExpanderError(named + said.format_map(words), at=where.spot(path))


def _shown(value: object) -> str:
    kinds: tuple[tuple[type, str], ...] = ((dict, "a group"), (list, "a list"))
    for kind, name in kinds:
        if isinstance(value, kind):
            return name
    return "nothing" if value is None else f"'{value}'"
