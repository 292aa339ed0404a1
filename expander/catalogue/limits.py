"""Limits of playing and of sound: breath, changes, double stops, low intervals, balance.

Each table of `limits/` is a file whose rows name the instruments they hold for, the figure, when
it holds, and where it comes from. Figures without a published source are warning levels.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from msgspec import Struct

from expander.catalogue.loader import HERE, source
from expander.catalogue.yamlfile import load_file
from expander.model.instrument import Instrument
from expander.model.pitch import Sounding, Written

FOLDER = HERE / "limits"

_COLLECTIVE: dict[str, tuple[str, ...]] = {
    "winds": ("woodwind", "brass"),
    "woodwinds": ("woodwind",),
    "voices": ("voice",),
    "strings": ("strings",),
    "percussion": ("pitched percussion", "unpitched percussion"),
}


class Limit(Struct, frozen=True):
    """One figure. `instruments` are ids, or a collective such as "strings" or "tutti".

    `value` is a number in `unit`, a word, or pitches as text: `G3 D4 A4 E5`, `E2..Bb2` (from, to).
    `basis` is published, common practice or memory.
    """

    table: str
    what: str
    instruments: tuple[str, ...]
    value: float | str
    unit: str
    when: str
    why: str
    basis: str
    sources: tuple[str, ...]

    def holds_for(self, one: Instrument) -> bool:
        """True where the row names the instrument or a collective it belongs to."""
        if one.id in self.instruments or "tutti" in self.instruments:
            return True
        return any(one.family in _COLLECTIVE.get(name, ()) for name in self.instruments)

    def sounding(self) -> tuple[Sounding, ...]:
        """The value's pitches where they are sounding ones. Raises ValueError for other values."""
        return tuple(Sounding.named(name) for name in self._pitch_names())

    def written(self) -> tuple[Written, ...]:
        """The value's pitches where they are written ones. Raises ValueError for other values."""
        return tuple(Written.named(name) for name in self._pitch_names())

    def _pitch_names(self) -> list[str]:
        return str(self.value).replace("..", " ").split()


class LowLimit(Struct, frozen=True):
    """The lowest advised place of an interval: `lowest` is its lower note, sounding."""

    interval: str
    semitones: int
    lowest: Sounding
    basis: str
    sources: tuple[str, ...]


@cache
def limit_tables() -> tuple[str, ...]:
    """The names of the tables."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.yaml")))


@cache
def table(name: str) -> Mapping[str, Any]:
    """A table's data as its file has them. Raises KeyError for unknown tables."""
    if name not in limit_tables():
        raise KeyError(name)
    data, _ = load_file(FOLDER / f"{name}.yaml", f"{name}.yaml")
    return dict(data)


@cache
def limits(name: str) -> tuple[Limit, ...]:
    """The rows of a table."""
    return tuple(_limit(name, row) for row in table(name).get("rows", ()))


def limit(name: str, what: str, one: Instrument) -> Limit | None:
    """The first row of a table about `what` that holds for an instrument."""
    for row in limits(name):
        if row.what == what and row.holds_for(one):
            return row
    return None


def _limit(name: str, row: Mapping[str, Any]) -> Limit:
    return Limit(
        table=name,
        what=row["what"],
        instruments=tuple(row["for"]),
        value=row["value"],
        unit=row.get("unit", ""),
        when=row.get("when", ""),
        why=row.get("why", ""),
        basis=row["basis"],
        sources=_sources(row),
    )


def _sources(row: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(source(key) for key in row["sources"])


# ---------------------------------------------------------------------- breath


def breath_seconds(id: str, dynamic: str = "mf") -> float | None:  # noqa: A002
    """How long one breath lasts in the middle register, in seconds; None without breath.

    `dynamic` is a MusicXML dynamic (`pp`, `mf`, `sfz` ...); unknown ones count as mf.
    """
    row = table("breath")["seconds"].get(id)
    return float(row[_column(dynamic)]) if row else None


def breath_source(id: str, dynamic: str = "mf") -> tuple[str, tuple[str, ...]]:  # noqa: A002
    """Basis and sources of a breath figure."""
    data = table("breath")
    published = data["published"].get(id, {}).get(_column(dynamic))
    if published:
        return "published", tuple(source(key) for key in published)
    return str(data["basis"]), _sources(data)


def low_octave_factor(id: str) -> float:  # noqa: A002
    """By how much a breath is shorter in the instrument's lowest octave; 1 for most."""
    row = table("breath")["low octave"]
    return float(row["factor"]) if id in row["for"] else 1.0


def _column(dynamic: str) -> str:
    for column, dynamics in table("breath")["dynamics"].items():
        if dynamic in dynamics:
            return str(column)
    return "mf"


# --------------------------------------------------------------- low intervals


@cache
def low_interval_limits(column: str = "advised") -> Mapping[int, LowLimit]:
    """By semitones, the lowest advised place of each interval; intervals without one are absent.

    `column` is advised, store, jazz or root (see `limits/low-intervals.yaml`).
    """
    data = table("low-intervals")
    basis, sources = data["tables"][column]["basis"], _sources(data["tables"][column])
    return {
        row["semitones"]: LowLimit(
            name, row["semitones"], Sounding.named(row[column]), basis, sources
        )
        for name, row in data["intervals"].items()
        if column in row
    }


# --------------------------------------------------------------------- balance


def weight(one: Instrument, dynamic: str = "f", size: int = 1) -> float | None:
    """How loud a player or string section is; one trumpet at f is 4. None where no figure exists.

    A string section of `size` players grows with the square root of its size against a
    medium-sized one (12 first violins).
    """
    data = table("balance")
    for row in data["weights"]:
        if one.id in row["for"]:
            return size * _at(row, dynamic)
    for row in data["sections"]:
        if one.id in row["for"]:
            share = size / _medium(one.section)
            return float(_at(row, dynamic) * share**0.5)
    return None


def _medium(section: str) -> int:
    sizes: Mapping[str, int] = table("balance")["sizes"]["medium"]
    return sizes.get(section, sizes["violins 1"])


def _at(row: Mapping[str, Any], dynamic: str) -> float:
    soft, loud = float(row["p"]), float(row["f"])
    half = float(table("balance")["between"]["mf"])
    return {"p": soft, "f": loud}.get(_column(dynamic), soft + half * (loud - soft))


def register_strength(one: Instrument, pitch: Written) -> float:
    """How much stronger or weaker than its weight a woodwind is at a written pitch; 1 for others.

    Registers are counted from the bottom of the professional range.
    """
    for row in table("balance")["registers"]:
        if one.id in row["for"] and one.professional:
            return float(row[_register(int(pitch.semitone - one.professional.low.semitone))])
    return 1.0


def _register(above: int) -> str:
    tops = ((7, "lowest fifth"), (12, "first octave"), (24, "second octave"))
    for top, name in tops:
        if above <= top:
            return name
    return "third octave"


def section_sizes(orchestra: str = "medium") -> Mapping[str, int]:
    """Players in each string section of a large, full, medium or small orchestra."""
    row = table("balance")["sizes"][orchestra]
    return {name: size for name, size in row.items() if isinstance(size, int)}
