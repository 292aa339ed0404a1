"""A jobs file: many sketches paired with rules and line-ups. All mistakes at once, or the jobs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from expander.errors import BadRules, ExpanderError, Spot
from expander.model.jobs import JobEntry
from expander.rulefile.nearest import listed, meant, nearest
from expander.rulefile.positions import Item, read_tree

LARGEST = 2_000_000
"""Bytes. A season's jobs have some tens of thousands."""


def _as_list(value: object) -> object:
    return [value] if isinstance(value, str) else value


Word = Annotated[str, Field(min_length=1)]
Words = Annotated[list[Word], Field(min_length=1), BeforeValidator(_as_list)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    ensemble: Words | None = Field(None, description="Line-ups: names, or ensemble files.")
    rules: Words | None = Field(None, description="Rule files.")
    pitch: Literal["transposed", "concert"] | None = Field(None, description="How scores show.")
    parts: bool | None = Field(None, description="Whether a part is made for each player.")
    desks: bool | None = Field(None, description="Whether strings get a part for each desk.")


class EntryShape(_Shape):
    """One sketch or several, with what they are expanded by."""

    sketch: Words = Field(description="Short scores (MusicXML files).")
    name: Word | None = Field(None, description="The folder's name; left out: the sketch's.")


class JobsShape(_Shape):
    """A jobs file; what stands beside the jobs holds for all that do not say otherwise."""

    jobs: list[EntryShape] = Field(min_length=1, description="The jobs, each with a sketch.")


def load_jobs(path: Path) -> tuple[JobEntry, ...]:
    """The entries of a UTF-8 YAML jobs file.

    Raises BadRules with every mistake in it, in order of place.
    """
    return parse_jobs(_text(path), str(path))


def parse_jobs(text: str, name: str) -> tuple[JobEntry, ...]:
    """The entries of a YAML text; `name` is what messages call the file. See `load_jobs`."""
    root, mistakes = read_tree(text, name)
    if root is None or not isinstance(root.value, dict):
        fault = "The file holds no jobs; expected 'jobs:' and a list, each entry with 'sketch:'."
        raise BadRules([*mistakes, ExpanderError(fault, at=Spot(name, 1, 1))])
    try:
        shape = JobsShape.model_validate(root.plain())
    except ValidationError as error:
        told = [_told(e, root, name) for e in error.errors(include_url=False)]
        raise BadRules(_in_order([*mistakes, *told])) from None
    if mistakes:
        raise BadRules(_in_order(mistakes))
    places = [item.place for item in root.entries()["jobs"].items()]
    return tuple(
        _entry(shape, one, Spot(name, *place))
        for one, place in zip(shape.jobs, places, strict=True)
    )


def jobs_schema() -> dict[str, Any]:
    """The JSON Schema of a jobs file, for editors."""
    return JobsShape.model_json_schema()


def _entry(shape: JobsShape, one: EntryShape, at: Spot) -> JobEntry:
    def chosen(own: list[str] | None, common: list[str] | None) -> tuple[str, ...]:
        return tuple(own or common or ())

    return JobEntry(
        sketches=tuple(one.sketch),
        ensembles=chosen(one.ensemble, shape.ensemble),
        rules=chosen(one.rules, shape.rules),
        name=one.name or "",
        pitch=one.pitch or shape.pitch or "",
        parts=shape.parts if one.parts is None else one.parts,
        desks=bool(shape.desks if one.desks is None else one.desks),
        at=at,
    )


def _text(path: Path) -> str:
    name = str(path)
    try:
        data = path.read_bytes()
    except OSError as error:
        fault = f'The jobs file "{name}" cannot be read: {error.strerror or "no reason given"}.'
        raise BadRules([ExpanderError(fault, at=Spot(name))]) from None
    if len(data) > LARGEST:
        fault = f"The file is larger than {LARGEST // 1_000_000} MB; expected a jobs file."
        raise BadRules([ExpanderError(fault, at=Spot(name))])
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        fault = f"The file is not UTF-8 text (byte {data[error.start]:#04x} here)."
        spot = Spot(name, line)
        raise BadRules([ExpanderError(fault, at=spot, hint="Save it as UTF-8.")]) from None


# What is wrong, said for a musician --------------------------------------------------------------

_OTHER_WORDS = {
    **dict.fromkeys(("sketches", "score", "scores", "song", "songs", "file", "files"), "sketch"),
    **dict.fromkeys(("ensembles", "line-up", "lineup", "line-ups", "for"), "ensemble"),
    **dict.fromkeys(("rule", "rule file", "plan"), "rules"),
    **dict.fromkeys(("job",), "jobs"),
}
"""Words a musician may well write for a key (common practice, no source)."""


def _told(error: ErrorDetails, root: Item, file: str) -> ExpanderError:
    item, parent, missing = _followed(error["loc"], root)
    name = next((str(s) for s in reversed(error["loc"]) if isinstance(s, str)), "")
    if error["type"] == "extra_forbidden":
        place = parent.keys.get(name, item.place)
        fault, hint = _unknown(name, error["loc"])
        return ExpanderError(fault, at=Spot(file, *place), hint=hint)
    say = _SAID.get(error["type"], _otherwise)
    fault, hint = say(name, "nothing" if missing else _shown(item), error.get("ctx", {}))
    return ExpanderError(fault, at=Spot(file, *item.place), hint=hint)


def _followed(loc: tuple[str | int, ...], root: Item) -> tuple[Item, Item, bool]:
    """The value a path leads to as far as it goes, what holds it, and whether it is missing."""
    item = parent = root
    missing = False
    for step in loc:
        inner = item.child(step)
        if inner is None and isinstance(item.value, str):
            break
        parent, missing = item, inner is None
        item = inner or item
    return item, parent, missing


def _unknown(name: str, loc: tuple[str | int, ...]) -> tuple[str, str]:
    model = EntryShape if len(loc) > 1 else JobsShape
    keys = list(model.model_fields)
    fault = f'"{name}" is not known here; expected {listed(keys)}.'
    word = _OTHER_WORDS.get(name.casefold(), "")
    near = word if word in keys else nearest(name, keys)
    return fault, f'Did you mean "{near}"?' if near else ""


def _shown(item: Item) -> str:
    kinds = ((dict, "a group of names"), (list, "a list"), (str, f'"{item.text}"'))
    return next((said for kind, said in kinds if isinstance(item.value, kind)), "nothing")


Said = tuple[str, str]
Say = Callable[[str, str, Mapping[str, Any]], Said]


def _missing(name: str, _: str, __: Mapping[str, Any]) -> Said:
    return f'"{name}" is missing here.', "Each job needs a sketch: a MusicXML file."


def _not_yes_or_no(name: str, shown: str, _: Mapping[str, Any]) -> Said:
    return f"{name}: {shown} is neither true nor false.", "Write true or false."


def _not_one_of(name: str, shown: str, context: Mapping[str, Any]) -> Said:
    choices = [word.strip("'") for word in context["expected"].replace(" or ", ", ").split(", ")]
    fault = f"{name}: {shown} is not known; expected {listed(choices)}."
    return fault, meant(shown.strip('"'), choices)


def _not_words(name: str, shown: str, _: Mapping[str, Any]) -> Said:
    fault = f"{name}: {shown} stands where a name or a list of names was expected."
    return fault, "Write a name, or several in square brackets: [septet, big-band]."


def _not_jobs(name: str, shown: str, _: Mapping[str, Any]) -> Said:
    fault = f'{name}: {shown} stands where entries were expected, each with "-".'
    return fault, "Write for example: - {sketch: song.musicxml, ensemble: septet}"


def _empty(name: str, _: str, __: Mapping[str, Any]) -> Said:
    return f"{name}: the list or name is empty.", ""


def _list(name: str, shown: str, context: Mapping[str, Any]) -> Said:
    return (_not_jobs if name == "jobs" else _not_words)(name, shown, context)


def _otherwise(name: str, shown: str, _: Mapping[str, Any]) -> Said:
    return f"{name}: {shown} is not understood.", ""


_SAID: Mapping[str, Say] = {
    "missing": _missing,
    "bool_parsing": _not_yes_or_no,
    "bool_type": _not_yes_or_no,
    "literal_error": _not_one_of,
    "string_type": _not_words,
    "list_type": _list,
    "model_type": _not_jobs,
    "dict_type": _not_jobs,
    "too_short": _empty,
    "string_too_short": _empty,
}


def _in_order(mistakes: list[ExpanderError]) -> list[ExpanderError]:
    once = {mistake.message: mistake for mistake in mistakes}
    return sorted(once.values(), key=lambda m: (m.at.line, m.at.column) if m.at else (0, 0))
