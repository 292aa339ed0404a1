"""Instruments, read from one data file each.

`instrument("oboe")` reads `instruments/oboe.yaml` and nothing else. A new instrument is a new
file in that folder. What each key of a file means is said at `model.instrument.Instrument`.
"""

from __future__ import annotations

from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

from expander.catalogue.yamlfile import load_file
from expander.errors import BadRules, BadUsage, ExpanderError
from expander.model.instrument import ClefHabit, Evidence, Instrument, Range
from expander.model.pitch import Sounding, Transposition, Written
from expander.model.score import Clef

HERE = Path(__file__).parent
FOLDER = HERE / "instruments"

CLEFS: dict[str, Clef] = {
    "treble": Clef("G", 2),
    "treble 8vb": Clef("G", 2, -1),
    "alto": Clef("C", 3),
    "tenor": Clef("C", 4),
    "bass": Clef("F", 4),
    "percussion": Clef("percussion"),
}

_FIGURES = ("professional", "comfortable", "student", "widest")


@cache
def instrument_ids() -> tuple[str, ...]:
    """The ids of all instruments, in alphabetical order."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.yaml")))


def instrument(id: str) -> Instrument:  # noqa: A002 - the word used everywhere else
    """The instrument of that id. Raises `BadUsage` with the nearest id where there is none."""
    if id not in instrument_ids():
        near = get_close_matches(id.lower(), instrument_ids(), 1)
        hint = f"Did you mean '{near[0]}'?" if near else "See 'expander list instruments'."
        raise BadUsage(f"there is no instrument '{id}' in the catalogue.", hint=hint)
    return _read(id)


@cache
def instruments() -> tuple[Instrument, ...]:
    """All instruments in orchestral score order."""
    return tuple(sorted(map(_read, instrument_ids()), key=lambda one: (one.order, one.id)))


@cache
def _read(id: str) -> Instrument:  # noqa: A002
    data, where = load_file(FOLDER / f"{id}.yaml", f"{id}.yaml")
    try:
        return _built(data)
    except (KeyError, TypeError, ValueError) as error:
        fault = f"this instrument's data cannot be used: {error!r}"
        raise BadRules([ExpanderError(fault, at=where.spot(()))]) from error


def _built(data: dict[str, Any]) -> Instrument:
    evidence = _evidence(data)
    ranges = {name: _range(data, name) for name in _FIGURES}
    drums = data.get("drums", {})
    return Instrument(
        **{key: data[key] for key in ("id", "name", "plural", "short", "family", "section")},
        order=data["order"],
        transposition=Transposition(**data["transposition"]),
        clefs=tuple(tuple(_habit(one) for one in staff) for staff in data["clefs"]),
        sound=data["sound"],
        program=data["program"],
        key=data.get("key", ""),
        professional=ranges["professional"],
        comfortable=ranges["comfortable"],
        student=ranges["student"] or ranges["comfortable"],
        widest=ranges["widest"],
        breath=data["breath"],
        at_once=data["at_once"],
        strings=tuple(Sounding.named(one) for one in data.get("strings", ())),
        mutes=tuple(data.get("mutes", ())),
        techniques=tuple(data.get("techniques", ())),
        drum_keys=tuple((name, drum["key"]) for name, drum in drums.items()),
        drum_places=tuple((name, one["place"], one["head"]) for name, one in drums.items()),
        sources=evidence[0].sources,
        basis=evidence[0].basis,
        evidence=evidence,
        notes=data.get("notes", ""),
        aliases=tuple(data.get("aliases", ())),
        kin=data.get("kin", ""),
        keyless=data.get("keyless", False),
    )


def _evidence(data: dict[str, Any]) -> tuple[Evidence, ...]:
    ranges = data.get("ranges")
    if ranges is None:
        return (Evidence("facts", data["basis"], _written_out(data["sources"])),)
    return tuple(
        Evidence(figure, ranges[figure]["basis"], _written_out(ranges[figure]["sources"]))
        for figure in _FIGURES
        if figure in ranges
    )


def _range(data: dict[str, Any], figure: str) -> Range | None:
    row = data.get("ranges", {}).get(figure)
    return Range(Written.named(row["low"]), Written.named(row["high"])) if row else None


def _habit(row: dict[str, str]) -> ClefHabit:
    low, high = row.get("low"), row.get("high")
    return ClefHabit(
        CLEFS[row["clef"]],
        Written.named(low) if low else None,
        Written.named(high) if high else None,
    )


def _written_out(keys: list[str]) -> tuple[str, ...]:
    return tuple(source(key) for key in keys)


def source(key: str) -> str:
    """A source's text: `zager-2008 p. 124` in full words. Raises KeyError for unknown keys."""
    name, _, page = key.partition(" p. ")
    text = str(_sources()[name]["text"])
    return f"{text}, p. {page}" if page else text


@cache
def _sources() -> dict[str, dict[str, str]]:
    data, _ = load_file(HERE / "sources.yaml", "sources.yaml")
    return dict(data)
