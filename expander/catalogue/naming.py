"""What instruments and groups are called, folded so that spelling habits do not matter."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import cache
from typing import Any

from expander.catalogue.loader import HERE, instrument, instrument_ids, instruments
from expander.catalogue.yamlfile import load_file
from expander.model.instrument import Instrument

_FLAT = re.compile(r"\b([a-h]) flat\b")
_NUMBERED = re.compile(r"^(.*\S) (\d+)$")


@cache
def words() -> Mapping[str, Any]:
    """The data of `names.yaml`."""
    data, _ = load_file(HERE / "names.yaml", "names.yaml")
    return dict(data)


def plain(text: str) -> str:
    """Lower case, without accents and punctuation, one blank between words: `B♭ Cl.` is `bb cl`."""
    if not text.isascii():
        text = text.replace("♭", "b ").replace("♯", "# ").replace("ß", "ss")
        decomposed = unicodedata.normalize("NFKD", text)
        text = "".join(c for c in decomposed if not unicodedata.combining(c))
    text = re.sub(r"['’`]", "", text.lower())
    text = " ".join(re.sub(r"[^\w#]+|_", " ", text).split())
    return _FLAT.sub(r"\1b", text)


def called(text: str) -> str:
    """How a player's or group's name is filed: lower case, one blank, `b` for flats."""
    text = " ".join(text.lower().replace("♭", "b").replace("-flat", " flat").split())
    return _FLAT.sub(r"\1b", text)


def singular(plural: str) -> str:
    """The singular of a section's name: `violins` is `violin`, `double basses` `double bass`."""
    known: Mapping[str, str] = words()["singular"]
    return known.get(plural, plural.removesuffix("s"))


def numbered(name: str) -> tuple[str, int]:
    """A name and the number at its end: `("violins", 2)`; 0 where there is none."""
    found = _NUMBERED.match(name)
    return (found[1], int(found[2])) if found else (name, 0)


def without_ordinals(name: str) -> str:
    """`first violins`, `violins i` and `1st violins` as `violins 1`."""
    first, _, rest = name.partition(" ")
    ordinal = words()["ordinals"].get(first)
    if ordinal and rest:
        return f"{rest} {ordinal}"
    stem, _, last = name.rpartition(" ")
    roman = words()["roman"].get(last)
    return f"{stem} {roman}" if stem and roman else name


def names_of(one: Instrument) -> tuple[str, ...]:
    """All an instrument is called, folded by `plain`; names with its key included."""
    bare = (one.name, one.plural, one.short, *one.aliases, one.id)
    keyed: tuple[str, ...] = ()
    if one.key:
        keyed = tuple(f"{name} in {one.key}" for name in (one.name, one.plural))
        keyed += tuple(f"{one.key} {name}" for name in (one.name, one.plural, one.short))
    return tuple(dict.fromkeys(plain(name) for name in (*bare, *keyed)))


@cache
def by_name() -> Mapping[str, tuple[Instrument, ...]]:
    """Every folded name with the instruments that bear it, in score order."""
    found: dict[str, list[Instrument]] = {}
    for one in instruments():
        for name in names_of(one):
            found.setdefault(name, []).append(one)
    return {name: tuple(ones) for name, ones in found.items()}


def instrument_named(text: str) -> Instrument | None:
    """The instrument of an id or of a name in any of the catalogue's languages; None if unclear.

    Of instruments in several keys, the one without its key in its name is the usual one: the
    clarinet and trumpet in B♭.
    """
    if text in instrument_ids():
        return instrument(text)
    found = by_name().get(plain(text), ())
    if len(found) > 1:
        found = tuple(one for one in found if one.key == "B♭") or found
    return found[0] if len(found) == 1 else None
